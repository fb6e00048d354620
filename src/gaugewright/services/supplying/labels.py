"""Tags for the leads of a plan: at both ends and at 1 m, as flags or wraps, true to size."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from gaugewright.errors import InputError
from gaugewright.present.tag_drawing import Placed, TagDrawing, page_svg, tag_svg
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.identity import Uid
from gaugewright.records.tagging import FlagSize, LabelPaper, TagRules, WrapSize
from gaugewright.report import build
from gaugewright.services.campaign.book import Book
from gaugewright.services.laboratory.on_shelf import length_typed
from gaugewright.services.plan.book import PlanChoice, planned_book, planned_limit
from gaugewright.services.plan.packs_on_hand import on_hand
from gaugewright.services.showing.listings import Cell, Column, Listing
from gaugewright.services.supplying.tag_codes import coded, tag_code
from gaugewright.services.supplying.tag_layout import TagWords, flag_tag, rules_of, wrap_tag
from gaugewright.settings import Settings
from gaugewright.store.campaign import CampaignStore

__all__ = ["ROLL", "TYPED", "Tag", "Tags", "label_lists", "sheets_of", "tags_of", "written"]

TYPED = ("form", "size", "diameter", "paper", "roll", "lead")
FLAG, WRAP, ROLL = "flag", "wrap", "roll"
_DIAMETER = "planned lead outer diameter"
_ROLL_EDGE, _ROLL_GAP = 1e-3, 2e-3  # free edge and gap on a roll [m]


@dataclass(frozen=True, slots=True)
class Tag:
    """One tag: whose, where on the lead, how made; its drawing, or in words why there is none."""

    name: str
    gauges: tuple[str, ...]
    place: str
    form: str
    size: str
    code: str
    drawing: TagDrawing | None
    refused: str = ""


@dataclass(frozen=True, slots=True)
class Tags:
    """Tags of a plan and the paper they go on; ``words`` says what was assumed."""

    rules: TagRules
    tags: tuple[Tag, ...]
    paper: LabelPaper
    is_roll: bool
    words: tuple[str, ...]

    @property
    def printed(self) -> tuple[Tag, ...]:
        """Those that have a drawing."""
        return tuple(tag for tag in self.tags if tag.drawing is not None)


def tags_of(
    store: CampaignStore, book: Book, settings: Settings | None, typed: Mapping[str, str]
) -> Tags:
    """Tags of every lead of a plan.

    Raises
    ------
    InputError
        If what was typed can't be used, or there is no lead.
    FileError
        If the laboratory's tags.toml can't be used.
    """
    rules = rules_of(settings)
    form = _one_of("form", typed, (FLAG, WRAP, "both"), FLAG)
    diameter, assumed = _diameter(book, typed)
    plan = planned_book(store, book, PlanChoice("", on_hand(settings)))
    campaign = store.campaign
    subjects = _subjects(plan.book, typed.get("lead", "").strip())
    tags: list[Tag] = []
    for each in (FLAG, WRAP) if form == "both" else (form,):
        tags += _formed(
            rules,
            each,
            typed.get("size", "").strip(),
            subjects,
            _Whose(campaign.uid, campaign.record.label, diameter, form == "both"),
        )
    paper, is_roll = _paper(rules, typed, "letter" if campaign.record.units == "us" else "a4")
    return Tags(rules, tuple(tags), paper, is_roll, assumed)


def _one_of(name: str, typed: Mapping[str, str], known: Sequence[str], usual: str) -> str:
    chosen = typed.get(name, "").strip() or usual
    if chosen not in known:
        raise InputError(name, chosen, "one of: " + ", ".join(known))
    return chosen


def _diameter(book: Book, typed: Mapping[str, str]) -> tuple[float, tuple[str, ...]]:
    """Outer diameter of the leads [m], in mm as typed."""
    if typed.get("diameter", "").strip():
        found = length_typed("diameter", typed["diameter"], "mm")
        if not 0.3e-3 <= found <= 0.1:
            raise InputError("diameter", typed["diameter"], "from 0.3 to 100 mm")
        return found, ()
    found = planned_limit(book, _DIAMETER)
    return found, (f"leads of {1e3 * found:g} mm outside: assumed, limit “{_DIAMETER}”",)


def _paper(rules: TagRules, typed: Mapping[str, str], usual: str) -> tuple[LabelPaper, bool]:
    known = [paper.label for paper in rules.papers]
    chosen = _one_of("paper", typed, (*known, ROLL), usual if usual in known else known[0])
    if chosen != ROLL:
        return next(paper for paper in rules.papers if paper.label == chosen), False
    text = typed.get("roll", "").strip()
    if not text:
        raise InputError("roll", "", "the width of the roll in mm", "measure its backing paper")
    width = length_typed("roll", text, "mm")
    if not 0.01 <= width <= 1:
        raise InputError("roll", text, "from 10 to 1000 mm")
    return LabelPaper(ROLL, width, 10.0, _ROLL_EDGE, _ROLL_GAP), True


def _subjects(book: Book, wanted: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What tags are for: the gauge of each lead, or its circuit where it carries several."""
    found = []
    for circuit in book.of(BridgeCircuit):
        gauges = tuple(gauge.record.label for gauge in book.gauges_of(circuit))
        name = gauges[0] if len(gauges) == 1 else circuit.record.label
        if not wanted or wanted == name:
            found.append((name, gauges))
    if not found and wanted:
        known = [circuit.record.label for circuit in book.of(BridgeCircuit)]
        raise InputError("lead", wanted, "one of: " + (", ".join(known) or "none is planned yet"))
    if not found:
        raise InputError("leads", 0, "one or more, or stations for them", "place stations first")
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Whose:
    """Campaign, its name, and the outer diameter of its leads [m]."""

    campaign: Uid
    label: str
    diameter: float
    is_both: bool


def _formed(
    rules: TagRules,
    form: str,
    chosen: str,
    subjects: Sequence[tuple[str, tuple[str, ...]]],
    whose: _Whose,
) -> list[Tag]:
    """Tags of one form: of the size chosen, else the smallest in which every one fits."""
    sizes: tuple[FlagSize | WrapSize, ...] = rules.flags if form == FLAG else rules.wraps
    if chosen:
        mine = tuple(size for size in sizes if size.label == chosen)
        known = [*(size.label for size in rules.flags), *(size.label for size in rules.wraps)]
        if chosen not in known or (not mine and not whose.is_both):
            raise InputError("size", chosen, "one of: " + ", ".join(s.label for s in sizes))
        sizes = mine or sizes
    fewest: list[Tag] | None = None
    for size in sizes:
        made = [
            _tag(rules, size, subject, place, whose)
            for subject in _unlike(subjects)
            for place in rules.places
        ]
        lost = sum(tag.drawing is None for tag in made)
        if fewest is None or lost < sum(tag.drawing is None for tag in fewest):
            fewest = made
        if not lost:
            break
    return fewest or []


def _unlike(
    subjects: Sequence[tuple[str, tuple[str, ...]]],
) -> list[tuple[str, tuple[str, ...], str]]:
    """Each subject with why it can't be coded: two labels that read the same, or none."""
    found = []
    seen: dict[str, str] = {}
    for name, gauges in subjects:
        try:
            code, why = coded(name), ""
        except InputError as error:
            code, why = "", str(error)
        if code and code in seen:
            why = f"{name} and {seen[code]} read the same without their signs: rename one"
        seen.setdefault(code, name)
        found.append((name, gauges, why))
    return found


def _tag(
    rules: TagRules,
    size: FlagSize | WrapSize,
    subject: tuple[str, tuple[str, ...], str],
    place: str,
    whose: _Whose,
) -> Tag:
    name, gauges, why = subject
    form = FLAG if isinstance(size, FlagSize) else WRAP
    blank = Tag(name, gauges, place, form, size.label, "", None, why)
    if why:
        return blank
    code = tag_code(whose.campaign, name)
    words = TagWords(name, place, code, whose.label)
    try:
        if isinstance(size, FlagSize):
            drawing = flag_tag(rules, size, words, whose.diameter)
        else:
            drawing = wrap_tag(rules, size, words, whose.diameter)
    except InputError as error:
        return replace(blank, code=code, refused=str(error))
    return replace(blank, code=code, drawing=drawing)


def sheets_of(tags: Tags) -> tuple[tuple[float, float, tuple[Placed, ...]], ...]:
    """Sheets with tags at their places [mm]: rows from left to right, as many as there is room.

    Raises
    ------
    InputError
        If a tag is wider or taller than the paper.
    """
    paper = tags.paper
    wide, tall = 1e3 * paper.width, 1e3 * paper.height
    edge, gap = 1e3 * paper.edge, 1e3 * paper.gap
    rows: list[list[TagDrawing]] = []
    for tag in tags.printed:
        drawing = tag.drawing
        if drawing is None:
            continue
        if drawing.width > wide - 2 * edge or drawing.height > tall - 2 * edge:
            raise InputError(
                "paper",
                paper.label,
                f"{drawing.width + 2 * edge:.0f} × {drawing.height + 2 * edge:.0f} mm or larger",
                "take a smaller size of tag, or wider paper",
            )
        row = rows[-1] if rows else []
        used = sum(each.width + gap for each in row)
        if rows and used + drawing.width <= wide - 2 * edge:
            row.append(drawing)
        else:
            rows.append([drawing])
    return _paged(rows, (wide, tall), (edge, gap), is_roll=tags.is_roll)


def _paged(
    rows: Sequence[Sequence[TagDrawing]],
    size: tuple[float, float],
    free: tuple[float, float],
    *,
    is_roll: bool,
) -> tuple[tuple[float, float, tuple[Placed, ...]], ...]:
    (wide, tall), (edge, gap) = size, free
    pages: list[tuple[float, float, tuple[Placed, ...]]] = []
    placed: list[Placed] = []
    y = edge
    for row in rows:
        high = max(each.height for each in row)
        if placed and (is_roll or y + high > tall - edge):
            pages.append((wide, y - gap + edge if is_roll else tall, tuple(placed)))
            placed, y = [], edge
        x = edge
        for each in row:
            placed.append(Placed(x, y, each))
            x += each.width + gap
        y += high + gap
    if placed:
        pages.append((wide, y - gap + edge if is_roll else tall, tuple(placed)))
    return tuple(pages)


def written(store: CampaignStore, tags: Tags, out: Path) -> tuple[Path, ...]:
    """Write tags: sheets into a file that ends with .pdf, each by itself as SVG into a folder.

    Raises
    ------
    InputError
        If no tag can be printed, or there is no such folder.
    """
    if not tags.printed:
        raise InputError("tags", "none", "one that can be printed", tags.tags[0].refused)
    if out.suffix.lower() == ".pdf":
        pages = [
            (width, height, page_svg(width, height, placed, _says(placed)), _says(placed))
            for width, height, placed in sheets_of(tags)
        ]
        title = f"Tags of {store.campaign.record.label}"
        epoch = int(store.context.now().timestamp())
        return (build.drawn_pages(pages, out, title=title, epoch=epoch),)
    if not out.is_dir():
        raise InputError("--out", str(out), "a name that ends with .pdf, or a folder that exists")
    paths = []
    for tag in tags.printed:
        if tag.drawing is not None:
            place = "-".join(tag.place.split())
            path = out / f"{tag.form}-{coded(tag.name)}-{place}.svg"
            path.write_text(tag_svg(tag.drawing), encoding="utf-8")
            paths.append(path)
    return tuple(paths)


def _says(placed: Sequence[Placed]) -> str:
    return "; ".join(one.drawing.says for one in placed)


def label_lists(
    store: CampaignStore, book: Book, settings: Settings | None, typed: Mapping[str, str]
) -> tuple[Listing, ...]:
    """Tags as a list: whose, where, code, size, and why one can't be printed."""
    found = tags_of(store, book, settings, typed)
    rows: list[tuple[Cell, ...]] = [
        (
            tag.name,
            ", ".join(tag.gauges),
            tag.place,
            tag.form,
            tag.size,
            tag.code,
            tag.refused or "can be printed",
        )
        for tag in found.tags
    ]
    about = "; ".join(
        (
            *found.words,
            "the code holds campaign, label and check character (ISO/IEC 7064, MOD 37,36); "
            f"limits and sizes: {found.rules.source}",
        )
    )
    return (
        Listing(
            "tags",
            "Tags",
            (
                Column("lead"),
                Column("gauges"),
                Column("place"),
                Column("form"),
                Column("size"),
                Column("code"),
                Column("verdict"),
            ),
            tuple(rows),
            "No lead is planned yet.",
            about[:1].upper() + about[1:] + ".",
        ),
    )
