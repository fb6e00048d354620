"""Commands that hand a campaign over: a sheet for each receiver, and everything at once."""

from pathlib import Path
from typing import Annotated

import typer

from gaugewright.cli.options import AsJson, CampaignFolder, settings_of
from gaugewright.cli.progress import Progress
from gaugewright.cli.speech import result
from gaugewright.cli.teaching import teaching

__all__ = ["add_to"]

SHEETS = teaching(
    does="""Write a sheet for each who gets something from a campaign: crew (one page in big
    print), technician, rig, analyst, sponsor. Each says what its reader must know and nothing
    else. The analyst's comes with a zip file of tables, their dictionary and strain.""",
    when="before the pour (crew), before the test (technician, rig), with the report (the others).",
    example="gaugewright sheets beams-2026 --for crew --for rig --out handed-over",
    after="print them and read them once; make them anew after any change of the records",
)
HANDOVER = teaching(
    does="""Hand a campaign over in one go: the report, the sheets of all receivers, the analyst's
    files and an archive that is proved at once by reading and reducing the originals again.""",
    when="after reduce, when findings are decided and results signed.",
    example="gaugewright handover beams-2026 --licence CC-BY-4.0 --out handed-over",
    after="gaugewright archive verify handed-over/archive.zip --head HEAD-FROM-THE-REPORT",
)


def add_to(app: typer.Typer) -> None:
    """Give the commands of this module their names."""
    app.command("sheets", help=SHEETS)(sheets)
    app.command("handover", help=HANDOVER)(handover)


def sheets(
    context: typer.Context,
    folder: CampaignFolder,
    receivers: Annotated[
        list[str] | None,
        typer.Option("--for", help="Whose sheet; may be repeated. All of them when left out."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(help="Folder they go to; the campaign's own when left out."),
    ] = None,
    netcdf: Annotated[
        bool, typer.Option("--netcdf", help="The analyst's strain as NetCDF too.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Write a sheet for each receiver."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.packing.analyst_files import analyst_files
    from gaugewright.services.sheets import sheets as service

    wanted = tuple(receivers or service.RECEIVERS)
    with campaigns.opened(folder, settings_of(context)) as store, Progress() as progress:
        paths = list(service.sheets(store, wanted, out=out, progress=progress))
        if "analyst" in wanted:
            target = paths[0].parent / "analyst.zip"
            paths.append(analyst_files(store, target, netcdf=netcdf, progress=progress))
    told = {"campaign": str(folder), "written": [str(path) for path in paths]}
    result(as_json, told, [str(path) for path in paths])


def handover(
    context: typer.Context,
    folder: CampaignFolder,
    licence: Annotated[
        str, typer.Option(help="What others may do with the archive, such as CC-BY-4.0.")
    ],
    out: Annotated[Path, typer.Option(help="Folder everything goes to; made when it isn't there.")],
    as_json: AsJson = False,
) -> None:
    """Write report, sheets, the analyst's files and a proved archive."""
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.packing import handed_over

    with campaigns.opened(folder, settings_of(context)) as store, Progress() as progress:
        done = handed_over.everything(store, out, licence=licence, progress=progress)
    told = {
        "campaign": str(folder),
        "written": [str(path) for path in done.written],
        "proved": done.proof.outcome,
        "head": done.proof.head,
    }
    lines = [
        *(str(path) for path in done.written),
        "",
        f"The archive was proved: {done.proof.outcome}. Head of the journal: {done.proof.head}",
    ]
    result(as_json, told, lines)
