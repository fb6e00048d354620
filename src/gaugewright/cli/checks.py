"""Commands that look at the tool itself: selfcheck, settings show, and the child of a job."""

from pathlib import Path
from typing import Annotated

import typer

from gaugewright.cli.options import AsJson, settings_of
from gaugewright.cli.speech import aside, result, table
from gaugewright.cli.teaching import teaching
from gaugewright.settings import SETTINGS

__all__ = ["add_to"]

SELFCHECK = teaching(
    does="""Check the installation, and a campaign. Looks at versions, fonts, plug-ins, a circuit
    whose answer is known, the database, time zones, permission to write. With a campaign, verify
    that too: journal, originals and readings against their checksums. Ends with 1 when something
    failed.""",
    when="after installing, when something behaves oddly, and after copying a campaign.",
    example="gaugewright selfcheck beams-2026",
    after="a line marked 'failed' says what to do",
)
SETTINGS_SHOW = teaching(
    does="""Show every setting and where it came from. The origins are command line, environment,
    laboratory, user or shipped; the first of these that gives it wins.""",
    when="when a unit, a zone or a paper size isn't what you expected.",
    example="gaugewright --set units=us settings show",
    after="""change one for a run with --set NAME=VALUE before the command, for a shell with
    GAUGEWRIGHT_NAME, or for good in settings.toml of the laboratory's or your own folder""",
)


def add_to(app: typer.Typer) -> None:
    """Give the commands of this module their names."""
    app.command("selfcheck", help=SELFCHECK)(selfcheck)
    settings = typer.Typer(
        help="Settings in force and where they came from.",
        no_args_is_help=True,
        rich_markup_mode=None,
    )
    settings.command("show", help=SETTINGS_SHOW)(settings_show)
    # A callback keeps "show" a word of its own: with one command alone it would be swallowed.
    settings.callback()(_settings)
    app.add_typer(settings, name="settings")
    app.command("job", hidden=True)(job)


def _settings() -> None:
    """Settings in force and where they came from."""


def selfcheck(
    context: typer.Context,
    campaign: Annotated[
        Path | None,
        typer.Argument(metavar="CAMPAIGN", help="Also verify this campaign.", show_default=False),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Check the installation, and a campaign."""
    from gaugewright.services.work import selfcheck as service

    checks = service.installation()
    if campaign is not None:
        checks += service.campaign(campaign, settings_of(context))
    failed = [check for check in checks if not check.passed]
    lines = [
        f"{'passed' if check.passed else 'failed'}  {check.name}: {check.sentence}"
        for check in checks
    ]
    plain = {
        "passed": not failed,
        "checks": [{"name": c.name, "passed": c.passed, "sentence": c.sentence} for c in checks],
    }
    result(as_json, plain, lines)
    if failed:
        aside(f"{len(failed)} of {len(checks)} checks failed: {', '.join(c.name for c in failed)}")
        raise typer.Exit(1)


def settings_show(context: typer.Context, as_json: AsJson = False) -> None:
    """Show settings and their origins."""
    chosen = settings_of(context).all()
    rows = [(s.name, s.value, s.origin, SETTINGS[s.name].meaning) for s in chosen]
    plain = {
        "settings": [
            {
                "name": s.name,
                "value": s.value,
                "origin": s.origin,
                "meaning": SETTINGS[s.name].meaning,
                "allowed": list(SETTINGS[s.name].allowed),
            }
            for s in chosen
        ]
    }
    result(as_json, plain, table(("setting", "value", "came from", "meaning"), rows))


def job(
    uid: Annotated[str, typer.Argument(help="Uid of the job.")],
    campaign: Annotated[Path, typer.Option(help="Folder of its campaign.")],
) -> None:
    """Do one job of a campaign in this process: begun by the program itself, not by people."""
    from gaugewright.records.identity import uid_from_text
    from gaugewright.services.campaign import campaigns
    from gaugewright.services.dispatching.kinds import KINDS
    from gaugewright.services.work import jobs

    with campaigns.opened(campaign) as store:
        done = jobs.run(store, uid_from_text(uid), KINDS)
    aside(f"{done.state.value}: {done.message}")
    if done.state is not jobs.JobState.DONE:
        raise typer.Exit(2)
