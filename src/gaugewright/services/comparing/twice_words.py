"""A quantity recorded twice, in words."""

from gaugewright.calc.evaluation import coverage_factor
from gaugewright.present.numbers import shown, significant_text
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.comparing.twice_recorded import ClockLeft, Column, Twice

__all__ = ["clock_rows", "clock_sentence", "rows", "sentence"]

COVERING = float(coverage_factor(float("inf"), COVERAGE))


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


def clock_sentence(left: ClockLeft) -> str:
    """Whether the two times agree within what is known of them."""
    off = any(
        abs(behind) > COVERING * doubt
        for behind, doubt in zip(left.behind, left.standard_uncertainty, strict=True)
    )
    told = "differ by more than their ±" if off else "agree within their ±"
    return f"As their clocks are joined now, the two times {told}."


def clock_rows(left: ClockLeft) -> tuple[tuple[str, str, str], ...]:
    """What the second's time must be put on by, at both ends, and what it loses."""
    ends = [
        shown(behind, COVERING * doubt, "s").text if doubt > 0 else _plain(behind, "s")
        for behind, doubt in zip(left.behind, left.standard_uncertainty, strict=True)
    ]
    drift = left.behind[1] - left.behind[0]
    return (
        ("second is behind at the beginning by", ends[0], "± covers 95 %"),
        ("second is behind at the end by", ends[1], "± covers 95 %"),
        (
            "it loses",
            _plain(1e6 * left.rate, "µs each second"),
            f"{_plain(drift, 's')} over what both recorded",
        ),
        (
            "correlation of the two",
            f"{left.correlation:.6f}",
            f"both smoothed alike over {_plain(left.smoothed_over, 's')}",
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
