"""A quantity recorded twice, in words."""

from gaugewright.calc.evaluation import coverage_factor
from gaugewright.present.numbers import shown, significant_text
from gaugewright.services.reduction_results import COVERAGE
from gaugewright.services.twice_recorded import Column, Twice

__all__ = ["rows", "sentence"]


def sentence(found: Twice) -> str:
    """What was compared, and whether both agree within what is known of them."""
    agreed = found.found
    told = (
        f"{_name(found.second)} against {_name(found.first)}: {agreed.samples} instants, one every "
        f"{significant_text(float(f'{found.step:.3g}'))} s."
    )
    if not found.is_one_unit:
        return f"{told} The units differ, so the gain has both."
    off = abs(agreed.gain - 1) > _factor(found) * found.gain_uncertainty
    return f"{told} The gain {'differs' if off else 'does not differ'} from 1 by more than its ±."


def rows(found: Twice) -> tuple[tuple[str, str, str], ...]:
    """Gain, reading at the middle, zero, what is left and what the clocks add."""
    agreed, unit, factor = found.found, found.second.unit, _factor(found)
    per = "" if found.is_one_unit else f"{unit or '1'} each {found.first.unit or '1'}"
    middle = significant_text(agreed.middle)
    return (
        ("gain", _text(agreed.gain, factor * found.gain_uncertainty, per), "± covers 95 %"),
        (
            f"second where first is {middle} {found.first.unit}".rstrip(),
            _text(agreed.at_middle, factor * found.middle_uncertainty, unit),
            "the mean of the first: known best",
        ),
        (
            "second where first is 0",
            _text(agreed.zero, factor * agreed.zero_uncertainty, unit),
            "the offset, drawn out from the mean",
        ),
        (
            "standard deviation about the line",
            _plain(agreed.residual, unit),
            f"noise of both makes {_plain(agreed.noise, unit)} of it",
        ),
        (
            "clocks may be apart by",
            _plain(factor * found.clock, "s"),
            f"in the gain {_plain(factor * found.by_clock_gain, per)}, at the mean "
            f"{_plain(factor * found.by_clock_middle, unit)}",
        ),
    )


def _factor(found: Twice) -> float:
    return float(coverage_factor(found.found.degrees_of_freedom, COVERAGE))


def _text(value: float, doubt: float, unit: str) -> str:
    if doubt == 0:
        return f"{significant_text(value)} {unit}".rstrip()
    return shown(value, doubt, unit).text


def _plain(value: float, unit: str) -> str:
    return f"{significant_text(float(f'{value:.2g}'))} {unit}".rstrip()


def _name(column: Column) -> str:
    return f"{column.column.name} of {column.recording.record.label}"
