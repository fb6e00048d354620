"""How tags may look: least sizes of letters and codes, sizes of tags, paper they are printed on."""

from dataclasses import dataclass

from gaugewright.errors import InputError
from gaugewright.records.stated import check_label, check_positive

__all__ = ["FlagSize", "LabelPaper", "TagRules", "WrapSize"]


@dataclass(frozen=True, slots=True)
class FlagSize:
    """One of the two faces of a flag: width away from the lead and height along it [m]."""

    label: str
    width: float
    height: float

    def __post_init__(self) -> None:
        check_label("label", self.label)
        check_positive("width", self.width)
        check_positive("height", self.height)


@dataclass(frozen=True, slots=True)
class WrapSize:
    """A tag wound round a lead: width along the lead, whole length with its clear tail [m]."""

    label: str
    width: float
    longest: float

    def __post_init__(self) -> None:
        check_label("label", self.label)
        check_positive("width", self.width)
        check_positive("longest", self.longest)


@dataclass(frozen=True, slots=True)
class LabelPaper:
    """A sheet for tags: its size, the edge that stays free and the gap between tags [m]."""

    label: str
    width: float
    height: float
    edge: float
    gap: float

    def __post_init__(self) -> None:
        check_label("label", self.label)
        for name in ("width", "height"):
            check_positive(name, getattr(self, name))
        if not (self.edge >= 0 and self.gap >= 0 and 2 * self.edge < min(self.width, self.height)):
            raise InputError("edge", self.edge, "0 or more, and less than half the sheet")


@dataclass(frozen=True, slots=True)
class TagRules:
    """Limits and sizes of tags [m]; heights of letters are those of capitals.

    ``places`` are where along a lead its tags go. ``module`` is the side of one square of a code,
    printed with ``quiet`` free squares around and error correction ``correction``.
    """

    least_name: float
    largest_name: float
    least_small: float
    small: float
    module: float
    least_module: float
    quiet: int
    correction: str
    rim: float
    tail_overlap: float
    rows_round: int
    places: tuple[str, ...]
    flags: tuple[FlagSize, ...]
    wraps: tuple[WrapSize, ...]
    papers: tuple[LabelPaper, ...]
    source: str

    def __post_init__(self) -> None:
        for name in ("least_name", "least_small", "least_module"):
            check_positive(name, getattr(self, name))
        for low, high in (
            ("least_name", "largest_name"),
            ("least_small", "small"),
            ("least_module", "module"),
        ):
            if getattr(self, high) < getattr(self, low):
                raise InputError(high, getattr(self, high), f"{low} or more")
        if self.quiet < 4:
            raise InputError("quiet", self.quiet, "4 or more (ISO/IEC 18004)")
        if self.correction not in ("l", "m", "q", "h"):
            raise InputError("correction", self.correction, "l, m, q or h")
        if self.rows_round < 2 or not (self.places and self.flags and self.wraps and self.papers):
            raise InputError("places, flags, wraps, papers", "", "one or more of each")
