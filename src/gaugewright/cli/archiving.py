"""Commands that make an archive, prove one, and make a campaign of one again."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.progress import Progress
from gaugewright.cli.speech import result
from gaugewright.cli.teaching import teaching

if TYPE_CHECKING:
    from gaugewright.services.packing.verify import Check, Proof

__all__ = ["add_to"]

GROUP = teaching(
    does="""Archive a campaign, prove an archive, open one again. An archive holds files as
    received, every record with its journal, readings, strain, tables and reports in open formats,
    and the checksums of all of it.""",
    when="at the end of the work, and whenever somebody doubts a number years later.",
    example="gaugewright archive make beams-2026 --licence CC-BY-4.0",
    after="gaugewright archive verify beams-2026/handover/archive-1.zip",
)
MAKE = teaching(
    does="""Make the archive of a campaign. A report is built first, so that one of the very
    records in the archive goes with it. Everything is in open formats: Parquet, CSV, JSON, PDF,
    with research-object metadata, table schemas, a citation and checksums.""",
    when="when the results are signed, or before the campaign is put away.",
    example="gaugewright archive make beams-2026 --licence CC-BY-4.0 --out beams-2026.zip",
    after="gaugewright archive verify beams-2026.zip",
)
VERIFY = teaching(
    does="""Prove an archive on any machine. Checksums of every file, the journal against every
    head that is told elsewhere, the records against the journal; then the files as received are
    read again and reduced again, and every number is held to the one kept. Says bit-identical,
    within 1e-12, or what differs. Nothing in the archive is changed.""",
    when="""before relying on somebody else's archive. With --head, the first characters of the
    head printed on the signed report, it also shows that the journal wasn't written anew.""",
    example="gaugewright archive verify beams-2026.zip --head 1f60a2bc",
    after="where something differs: ask for another copy, and compare the heads",
)
OPEN = teaching(
    does="""Make a campaign again from an archive whose files are whole: every record with its
    history, the readings and the files as received. Names, sizes and links of a packed archive
    are looked at before anything is unpacked.""",
    when="to work on with an archived campaign.",
    example="gaugewright archive open beams-2026.zip beams-again",
    after="gaugewright serve beams-again",
)

ArchivePath = Annotated[Path, typer.Argument(help="Folder or zip file of an archive.")]


def add_to(app: typer.Typer) -> None:
    """Give the commands of this module their names."""
    group = typer.Typer(help=GROUP, no_args_is_help=True, rich_markup_mode=None)
    group.command("make", help=MAKE)(make)
    group.command("verify", help=VERIFY)(verify)
    group.command("open", help=OPEN)(open_again)
    app.add_typer(group, name="archive")


def make(
    context: typer.Context,
    folder: CampaignFolder,
    licence: Annotated[
        str, typer.Option(help="What others may do with it, such as CC-BY-4.0, or an address.")
    ],
    out: Annotated[
        Path | None,
        typer.Option(help="Where it goes: a zip file, or a folder when it has another ending."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Make the archive of a campaign."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.packing import archive

    with campaigns.opened(folder, settings_of(context)) as store, Progress() as progress:
        path = archive.make(store, out=out, licence=licence, progress=progress)
    lines = [str(path), "", f"Next: gaugewright archive verify {path}"]
    result(as_json, {"campaign": str(folder), "archive": str(path)}, lines)


def verify(
    path: ArchivePath,
    head: Annotated[
        str, typer.Option(help="Head of the journal as printed: 8 characters or more.")
    ] = "",
    quick: Annotated[
        bool, typer.Option("--quick", help="Checksums, journal and records only.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Prove an archive."""
    from gaugewright.services.packing import verify as archive_verify

    with Progress() as progress:
        proof = archive_verify.verify(path, head=head, quick=quick, progress=progress)
    plain = {
        "archive": str(path),
        "holds": proof.holds,
        "outcome": proof.outcome,
        "head": proof.head,
        "made_by": proof.made_by,
        "checks": [
            {
                "what": c.what,
                "holds": c.holds,
                "told": c.told,
                "outcome": c.outcome,
                "faults": list(c.faults),
            }
            for c in proof.checks
        ],
    }
    result(as_json, plain, _lines(proof, quick=quick))
    if not proof.holds:
        raise typer.Exit(2)


def _lines(proof: "Proof", *, quick: bool) -> list[str]:
    lines = [line for check in proof.checks for line in _check_lines(check)]
    verdict = "This archive does NOT hold: what differs is named above."
    if proof.holds:
        verdict = "This archive holds" + (
            ". Its numbers were not worked out again." if quick else f": {proof.outcome}."
        )
    return [*lines, "", f"Head of the journal: {proof.head}", f"Made by {proof.made_by}.", verdict]


def _check_lines(check: "Check") -> list[str]:
    most = 12
    said = check.outcome or ("holds" if check.holds else "differs")
    lines = [f"{check.what}: {said}; {check.told}".removesuffix("; ")]
    lines += [f"  {fault}" for fault in check.faults[:most]]
    left = len(check.faults) - most
    return [*lines, f"  and {left} more"] if left > 0 else lines


def open_again(
    path: ArchivePath,
    folder: Annotated[Path, typer.Argument(help="Folder the campaign is made in; a new one.")],
    as_json: AsJson = False,
) -> None:
    """Make a campaign again from an archive."""
    from gaugewright.records.identity import working_context
    from gaugewright.services.packing import verify as archive_verify

    with archive_verify.reopened(path, folder, working_context()) as store:
        head = store.head()
    plain = {"archive": str(path), "campaign": str(folder), "head": head.sha256, "seq": head.seq}
    lines = [
        f"{folder}: {head.seq} entries, head {head.sha256}",
        f"Next: gaugewright serve {folder}",
    ]
    result(as_json, plain, lines)
