"""What a step of the calibration resistor says about its channel, in words."""

from collections.abc import Iterator

from gaugewright.calc.uncertainty import Uncertain
from gaugewright.errors import InputError
from gaugewright.present.numbers import significant_text
from gaugewright.present.units_shown import resistance_text
from gaugewright.records import Entry
from gaugewright.records.electrical import ChannelSetting, Connection, ReadingKind, ShuntStep
from gaugewright.services.campaign.book import Book
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.chaining.causes import uncertain_of_stated
from gaugewright.services.chaining.subject import Wired, wired_of
from gaugewright.services.wiring.shunts import ExpectedStep, expected_steps

__all__ = ["verdict"]

# Completions that channels commonly have [ohm]: common practice, no source.
_COMPLETIONS = (120.0, 350.0, 1000.0)
# How far from the factor itself a whole factor still explains a step.
_FACTOR_WIDTH = 0.05


def verdict(book: Book, taken: Entry[ShuntStep]) -> str:
    """What a step on record says, in a sentence.

    It agrees with a place when the two differ by no more than both doubts together, or by no
    more than the campaign's limit "shunt reading", whichever is wider.
    """
    connection = book.entry(taken.record.connection, Connection)
    expected = expected_steps(book, connection, taken.record.shunt_resistance)
    found, share = taken.record.step.value, book.limit("shunt reading").record.value
    own = uncertain_of_stated("step", taken.record.step, "the step as read")
    fits = [one for one in expected if _agrees(one, own, share)]
    named = next((one for one in expected if one.position == taken.record.position), None)
    if named is not None and named in fits:
        return f"As expected at {named.position}: {_off(found, named)}{_same(fits, named)}."
    if fits:
        places = " or ".join(one.position for one in fits)
        if named is None:
            return f"Its place isn’t on record; it fits a resistor at {places}."
        return (
            f"Not as expected at {named.position} ({_off(found, named)}); "
            f"it fits a resistor at {places}."
        )
    near = named or min(expected, key=lambda one: abs(found - float(one.step.value)))
    other = next(_otherwise(book, connection, taken.record, near), "")
    return other or _unexplained(found, near)


def _agrees(one: ExpectedStep, own: Uncertain, share: float) -> bool:
    difference = one.step - own
    width = max(float(difference.expanded(COVERAGE)), share * abs(float(one.step.value)))
    return abs(float(difference.value)) <= width


def _off(found: float, one: ExpectedStep) -> str:
    percent = 100 * (found / float(one.step.value) - 1)
    side = "above" if percent > 0 else "below"
    return f"{significant_text(abs(percent), 2)} % {side} it"


def _same(fits: list[ExpectedStep], named: ExpectedStep) -> str:
    others = [one.position for one in fits if one is not named]
    return f"; {' and '.join(others)} can’t be told from it" if others else ""


def _otherwise(
    book: Book, connection: Entry[Connection], taken: ShuntStep, near: ExpectedStep
) -> Iterator[str]:
    """What would give this step at its place if one thing weren't as recorded, the likelier first.

    Only where it could be told from what is recorded: beyond the doubt of both.
    """
    wired = wired_of(book, connection)
    own = uncertain_of_stated("step", taken.step, "the step as read")
    for changed, words in _suspects(wired):
        try:
            steps = expected_steps(book, connection, taken.shunt_resistance, changed)
        except InputError:
            continue  # no such bridge can be
        one = next(step for step in steps if step.position == near.position)
        if _agrees(one, own, 0.0) and not _agrees(one, near.step, 0.0):
            yield f"Not as expected at {near.position}, but as {words}."
    setting = wired.setting.record
    if setting.set_gauge_factor and _is_strain(setting):
        factor = wired.pack.record.gauge_factor.value
        rescaled = near.step * (setting.set_gauge_factor / factor)
        if abs(setting.set_gauge_factor / factor - 1) > 1e-4 and _fits(rescaled, own):
            yield (
                f"Not as expected at {near.position}, but as with the gauge factor of the card, "
                f"{significant_text(factor, 4)}, set in the channel: look at what is set there."
            )


def _suspects(wired: Wired) -> Iterator[tuple[dict[str, float], str]]:
    wire = wired.lead.record.resistance.value
    if wire > 0:
        yield (
            {"lead_resistance": 0.0},
            "without any wires: the channel takes them off by itself, or senses at the gauge; "
            "correct for them nowhere else",
        )
    inside = wired.setting.record.completion_resistance
    for ohm in _COMPLETIONS:
        if inside is None or abs(ohm / inside.value - 1) > _FACTOR_WIDTH:
            words = f"with a completion of {resistance_text(ohm)}: look at what is switched in"
            yield {"completion_resistance": ohm}, words


def _is_strain(setting: ChannelSetting) -> bool:
    return setting.kind in (ReadingKind.STRAIN_LINEAR, ReadingKind.STRAIN_LINEARISED)


def _fits(one: Uncertain, own: Uncertain) -> bool:
    difference = one - own
    return abs(float(difference.value)) <= float(difference.expanded(COVERAGE))


def _unexplained(found: float, near: ExpectedStep) -> str:
    """No place explains it: say which factor it is off by, where that points somewhere."""
    if found == 0:
        return "The channel didn’t move: no contact, another channel’s gauge, or no reading."
    factor = found / float(near.step.value)
    start = f"No place of the resistor explains it: {significant_text(factor, 3)} times "
    start += f"what is expected at {near.position}. "
    if factor < 0:
        return start + "The sign is turned: look at the side of the bridge and at the signal wires."
    for whole, words in (
        (0.5, "Half of it: look for a bridge set as half, a gauge factor set to double."),
        (2.0, "Double of it: look for a gauge factor set to half, a wrong bridge setting."),
    ):
        if abs(factor / whole - 1) <= _FACTOR_WIDTH:
            return start + words
    return start + (
        "Look at the gauge factor and completion set, the resistor itself, a leak, the channel."
    )
