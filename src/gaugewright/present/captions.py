"""Which words must stand beside a number or a figure, so that nobody can misread what it is?"""

from collections.abc import Sequence

from gaugewright.present.numbers import fixed_text, significant_text

__all__ = [
    "coverage_text",
    "listed",
    "share_text",
    "stands_on",
]


def listed(words: Sequence[str], *, most: int = 12) -> str:
    """Words as a list in a sentence; a long one is cut and says how many more there are.

    Examples
    --------
    >>> listed(["G01", "G02", "G03"]), listed(["G01"]), listed(["a", "b", "c", "d"], most=2)
    ('G01, G02 and G03', 'G01', 'a, b and 2 more')
    """
    if len(words) > most:
        return ", ".join(words[:most]) + f" and {len(words) - most} more"
    if len(words) < 2:
        return "".join(words)
    return ", ".join(words[:-1]) + " and " + words[-1]


def share_text(share: float) -> str:
    """A share of a variance in per cent; the smaller, the fewer digits it is worth.

    Examples
    --------
    >>> share_text(0.574), share_text(0.032), share_text(4e-4), share_text(2e-6)
    ('57 %', '3.2 %', '0.040 %', '< 0.001 %')
    """
    percent = 100 * share
    if 0 < percent < 0.001:
        return "< 0.001 %"
    return f"{fixed_text(percent, 0 if percent >= 10 else 1 if percent >= 0.1 else 3)} %"


def coverage_text(coverage: float, factor: float | None = None) -> str:
    """What ± means on a sheet.

    Examples
    --------
    >>> coverage_text(0.95).replace("\N{NO-BREAK SPACE}", " ")
    '± covers 95 %, by degrees of freedom'
    >>> coverage_text(0.95, 2.0).replace("\N{NO-BREAK SPACE}", " ")
    '± covers 95 %, k = 2'
    """
    share = significant_text(100 * coverage)
    tail = (
        f"k\N{NO-BREAK SPACE}=\N{NO-BREAK SPACE}{significant_text(factor, 3)}"
        if factor is not None
        else "by degrees of freedom"
    )
    return f"± covers {share}\N{NO-BREAK SPACE}%, {tail}"


def stands_on(zero: str, corrected: Sequence[str], left_off: Sequence[str] = ()) -> str:
    """The line under every figure: zero, sign, what was corrected and what was not.

    Examples
    --------
    >>> stands_on("before test", ["lead loss"], ["drift"])
    'Zero: before test. Tension positive. Corrected for lead loss; not for drift.'
    """
    done = f"Corrected for {listed(corrected)}" if corrected else "Nothing corrected"
    undone = f"; not for {listed(left_off)}" if left_off else ""
    return f"Zero: {zero}. Tension positive. {done}{undone}."
