"""Commands that reason about a gauge that reads oddly: diagnose, faults."""

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugewright.cli.options import AsJson, settings_of
from gaugewright.cli.speech import result, table
from gaugewright.cli.teaching import teaching
from gaugewright.errors import InputError

if TYPE_CHECKING:
    from gaugewright.calc.diagnosis import Group, Ranked
    from gaugewright.calc.diagnosis_causes import Cause
    from gaugewright.services.diagnosis.diagnosing import Look
    from gaugewright.services.diagnosis.faults_known import FaultBook

__all__ = ["add_to"]

DIAGNOSE = teaching(
    does="""Say what the gate readings of a gauge point to: first which reading speaks against
    which cause and by how many standard uncertainties, then causes in groups that predict the
    same readings, then which reading to take next. Gates passed before count as evidence. A
    percentage stands only where the ranking survives priors three times larger or smaller. With
    --symptom and no campaign it lists causes by what is seen. Nothing is written.""",
    when="a gate fails, a reading looks odd, or before a gauge is cast in.",
    example='gaugewright diagnose beams-2026 L1-N-U --reading "A to bar=open"',
    after="take the reading offered first and give it with --reading; then repair, or leave it",
)
FAULTS = teaching(
    does="""List known faults: what they look like, the check that parts them from what looks
    alike, and what to do. Words narrow the list to symptoms that hold all of them. Priors,
    checks and remedies are shipped from memory and stay unverified until the laboratory's own
    faults.toml takes their place.""",
    when="something looks wrong and you wonder what it may be.",
    example="gaugewright faults drift",
    after="gaugewright diagnose CAMPAIGN GAUGE, which weighs them against readings",
)


def add_to(app: typer.Typer) -> None:
    """Give the commands of this module their names."""
    app.command("diagnose", help=DIAGNOSE)(diagnose)
    app.command("faults", help=FAULTS)(faults)


def diagnose(
    context: typer.Context,
    campaign: Annotated[
        Path | None,
        typer.Argument(metavar="CAMPAIGN", help="Folder of the campaign.", show_default=False),
    ] = None,
    gauge: Annotated[
        str | None, typer.Argument(metavar="GAUGE", help="Its label.", show_default=False)
    ] = None,
    gate: Annotated[
        str | None, typer.Option(help="Gate to look at; the latest without it.")
    ] = None,
    reading: Annotated[
        list[str] | None,
        typer.Option(
            metavar="WHAT=VALUE",
            help='A further reading, such as "A to bar=open" or "insulation=> 2000 MΩ".',
        ),
    ] = None,
    seen: Annotated[
        list[str] | None,
        typer.Option(metavar="SIGN", help="What was seen, in the words of gaugewright faults."),
    ] = None,
    not_seen: Annotated[
        list[str] | None, typer.Option(metavar="SIGN", help="What was looked for and not seen.")
    ] = None,
    symptom: Annotated[
        str | None, typer.Option(help="Words of a symptom; without a campaign.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Diagnose a gauge, or list causes of a symptom."""
    if symptom is not None:
        if campaign is not None:
            raise InputError(
                "--symptom", symptom, "given without a campaign", "use --seen with one"
            )
        faults(context, [symptom], as_json)
        return
    if campaign is None or gauge is None:
        raise InputError("CAMPAIGN GAUGE", None, "given", 'or give --symptom "WORDS"')
    looked = dict.fromkeys(seen or [], True) | dict.fromkeys(not_seen or [], False)
    look = _looked(context, campaign, gauge, (gate, reading or [], looked))
    result(as_json, {"campaign": str(campaign), **_look_plain(look)}, _look_lines(look))


def _looked(
    context: typer.Context,
    campaign: Path,
    gauge: str,
    asked: tuple[str | None, list[str], dict[str, bool]],
) -> "Look":
    from gaugewright.records.proof import Gate
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.campaign.book import Book
    from gaugewright.services.diagnosis import diagnosing

    gate, typed, looked = asked
    named = {one.value: one for one in Gate}
    if gate is not None and gate not in named:
        raise InputError("gate", gate, "one of " + ", ".join(named))
    settings = settings_of(context)
    known = diagnosing.known_faults(settings)
    further = [diagnosing.taken_typed(known, text) for text in typed]
    with campaigns.opened(campaign, settings, read_only=True) as store:
        return diagnosing.diagnose(
            Book.read(store),
            gauge,
            known,
            gate=named[gate] if gate else None,
            further=further,
            seen=looked,
        )


def faults(
    context: typer.Context,
    words: Annotated[
        list[str] | None,
        typer.Argument(metavar="WORDS", help="Words of the symptom.", show_default=False),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """List known faults by symptom."""
    from gaugewright.services.diagnosis import diagnosing
    from gaugewright.services.diagnosis import said as diagnosis_said

    known = diagnosing.known_faults(settings_of(context))
    causes, signs = diagnosing.catalogue(known, " ".join(words or []))
    plain = {
        "faults": [_cause_plain(cause, known) for cause in causes],
        "signs": [{"sign": s.name, "how": s.how, "minutes": s.minutes} for s in signs],
    }
    lines: list[str] = []
    for cause in causes:
        lines += [f"{cause.label} ({cause.family})"]
        told = (("seen", cause.symptom), ("check", cause.check), ("do", cause.remedy))
        lines += [f"  {name}: {text}" for name, text in told if text]
    lines += [
        "",
        f"{len(causes)} of {len(known.causes)} known faults, all common practice or from "
        "memory unless your laboratory's faults.toml says otherwise.",
        diagnosis_said.CAUTION,
    ]
    result(as_json, plain, lines)


def _cause_plain(cause: "Cause", known: "FaultBook") -> dict[str, Any]:
    return {
        "label": cause.label,
        "family": cause.family,
        "symptom": cause.symptom,
        "check": cause.check,
        "remedy": cause.remedy,
        "prior": cause.prior,
        "source": cause.source,
        "unverified": cause.label in known.unverified,
        "signs": dict(cause.signs),
    }


def _look_lines(look: "Look") -> list[str]:
    from gaugewright.services.diagnosis import said as diagnosis_said

    told = look.diagnosis
    lines = [f"{look.gauge} at gate '{look.gate.value}'", "", "Readings"]
    lines += [f"  {one.reading.what}: {one.typed}" for one in look.taken]
    lines += [f"  {'seen' if there else 'not seen'}: {name}" for name, there in look.seen.items()]
    if look.unused:
        lines.append("  not used, for the finder knows no such reading: " + ", ".join(look.unused))
    if look.earlier:
        gates = ", ".join(dict.fromkeys(gate.value for gate in look.earlier))
        left = told.known.gates_left_out
        doubt = f" ({left} left out: no sound gauge reads so)" if left else ""
        lines.append(f"  earlier gates as evidence: {gates}{doubt}")
    lines += ["", *_evidence_lines(look), "", *_ranking_lines(look), "", *_next_lines(look)]
    return [*lines, "", diagnosis_said.CAUTION]


def _evidence_lines(look: "Look") -> list[str]:
    from gaugewright.services.diagnosis import said as diagnosis_said

    found = diagnosis_said.evidence(look)
    if not found:
        return ["Evidence: no reading excludes any cause by three standard uncertainties."]
    lines = ["Evidence: which reading excludes what, by how many standard uncertainties"]
    for one in found:
        more = f", and {one.more} more" if one.more else ""
        lines.append(f"  {one.what}: {'; '.join(one.causes)}{more}")
    return lines


def _ranking_lines(look: "Look") -> list[str]:
    from gaugewright.services.diagnosis import said as diagnosis_said

    lines = ["Causes in groups that predict the same readings, the likeliest first"]
    for place, group in enumerate(diagnosis_said.groups(look), start=1):
        share = f" {group.share}:" if group.share else ""
        names = " or ".join((group.label, *group.others))
        reach = ", as far as these readings reach" if group.label == "healthy" else ""
        lines.append(f"  {place}.{share} {names}{reach}")
        lines += [f"     it would be {group.amounts}"] if group.amounts else []
        lines += [f"     do: {group.remedy}"] if group.remedy else []
    for sentence in diagnosis_said.standing(look):
        lines += textwrap.wrap(sentence, 96, initial_indent="  ", subsequent_indent="  ")
    return lines


def _next_lines(look: "Look") -> list[str]:
    if not look.steps:
        return ["Next: nothing more that would help is known."]
    from gaugewright.calc.diagnosis_templates import reading_shown

    rows = [
        (reading_shown(step.what), f"{step.minutes:g}", f"{step.bits:.2f}", step.needs, step.how)
        for step in look.steps[:5]
    ]
    return [
        "Next, the most settled a minute first",
        *table(("read or look", "minutes", "bits expected", "needs", "how"), rows),
    ]


def _look_plain(look: "Look") -> dict[str, Any]:
    told = look.diagnosis
    return {
        "gauge": look.gauge,
        "gate": look.gate.value,
        "readings": [
            {
                "what": one.reading.what,
                "value": one.reading.value,
                "bound": one.reading.bound or None,
                "typed": one.typed,
            }
            for one in look.taken
        ],
        "seen": dict(look.seen),
        "grids": {str(number): label for number, label in look.grids.items()},
        "not_used": list(look.unused),
        "earlier_gates": [gate.value for gate in look.earlier],
        "earlier_gates_left_out": told.known.gates_left_out,
        "settled": told.settled,
        "repair": told.repair,
        "priors": "faults.toml",
        "groups": [
            {
                "causes": [one.cause.label for one in group.named],
                "share": _share(look, group),
            }
            for group in told.groups[:6]
        ],
        "causes": [_ranked_plain(one) for one in told.ranked],
        "speak_neither_for_nor_against": [one.cause.label for one in told.unseen],
        "next": [
            {"what": s.what, "minutes": s.minutes, "bits": s.bits, "needs": s.needs, "how": s.how}
            for s in look.steps
        ],
    }


def _share(look: "Look", group: "Group") -> float | None:
    from gaugewright.services.diagnosis import said as diagnosis_said

    if not diagnosis_said.has_share(look, group):
        return None
    return group.weight * look.faults.allowances.sure


def _ranked_plain(one: "Ranked") -> dict[str, Any]:
    against = one.against
    return {
        "cause": one.cause.label,
        "excluded": one.excluded,
        "worst_reading": against.what if against else None,
        "standard_uncertainties": against.standard_uncertainties if against else None,
        "would_be": [
            {
                "element": e.element,
                "value": e.value,
                "standard_uncertainty": e.standard_uncertainty,
            }
            for e in one.estimates
        ],
    }
