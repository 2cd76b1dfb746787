"""`festoon drill`: a rehearsal with an invented show, reviewed at its end."""

import json
import secrets
import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from server.commands.options import HOST, SPEEDS, Port, ended_by_signals, faults_told, plan_files, settings_given

if TYPE_CHECKING:
    from server.rehearsals import Reviewed

DRILL_SPEED = 4.0
"""A show of two hours in half an hour: as fast as somebody can still tap. Chosen."""

WITHIN_MINUTES = (2.0, 600.0)
"""How long somebody may wait for trouble: shows start at whole minutes, so at least that and one more. Chosen."""

_SEEDS = 10_000


def _some_minutes(minutes: float) -> float:
    least, most = WITHIN_MINUTES
    if not least <= minutes <= most:
        raise typer.BadParameter(f"found {minutes:g}; accepted {least:g} to {most:g} minutes")
    return minutes


def drill(
    path: Annotated[
        Path | None,
        typer.Argument(metavar="PLAN", help="A *.plan.toml file; an invented one if none.", show_default=False),
    ] = None,
    fault: Annotated[
        str | None, typer.Option(metavar="NAME", help="What goes wrong (a surprise).", show_default=False)
    ] = None,
    list_: Annotated[bool, typer.Option("--list", help="Say what can go wrong, and end.")] = False,
    crew: Annotated[
        Literal["contacts", "all", "none"],
        typer.Option(help="What a simulated crew does for you: what contacts report, everything, or nothing."),
    ] = "contacts",
    speed: Annotated[float, typer.Option(min=SPEEDS[0], max=SPEEDS[1], help="How many times life.")] = DRILL_SPEED,
    seed: Annotated[
        int | None,
        typer.Option(min=0, help="The same number gives the same drill again (any).", show_default=False),
    ] = None,
    within: Annotated[
        float,
        typer.Option(
            metavar="MINUTES",
            callback=_some_minutes,
            help="Something goes wrong within so many minutes, by the show's clock.",
        ),
    ] = 5.0,
    port: Port = None,
    review: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write the review to this file too, as JSON.", show_default=False),
    ] = None,
    browser: Annotated[bool, typer.Option(help="Open the wall in this computer's browser.")] = False,
) -> None:
    """Rehearse: something goes wrong in an invented show, you tap, and are told at the end how it went."""
    from server import assemble
    from server.desk.listening import open_port
    from server.rehearsals import DRILLS, DrillAsked

    if list_:
        for name, text in DRILLS.items():
            typer.echo(f"{name:<17} {text}")
        return
    if review is not None:
        _refuse_unwritable(review)
    with faults_told(*assemble.FAULTS):
        files = [] if path is None else plan_files([path])
        number = secrets.randbelow(_SEEDS) if seed is None else seed
        asked = DrillAsked(files[0] if files else None, fault, crew, number, speed, within * 60.0)
        settings = settings_given(HOST, port, None)
        with ended_by_signals(), open_port(settings.host, settings.port, or_any=port is None) as listening:
            here = listening.getsockname()[1]
            if settings.port not in {0, here}:
                typer.echo(f"Port {settings.port} is in use by another program: this is on {here}.")
            opened = webbrowser.open if browser else None
            assemble.rehearse(asked, listening, typer.echo, opened, lambda reviewed: _tell(reviewed, review))


def _refuse_unwritable(path: Path) -> None:
    """Before the drill, not after it: a review cannot be had again."""
    if path.is_dir() or not path.parent.is_dir():
        found = "a folder" if path.is_dir() else "no such folder"
        raise typer.BadParameter(
            f"found {found} at {path}; accepted a file in a folder that is there", param_hint="--review"
        )


def _tell(reviewed: "Reviewed", path: Path | None) -> None:
    from rich.console import Console

    from server.terminal.sections import print_sections

    print_sections(reviewed.title, reviewed.account.sentences, reviewed.account.sections, Console())
    if path is not None:
        path.write_text(json.dumps(reviewed.document, indent=1) + "\n", encoding="utf-8")
        typer.echo(f"The review is in {path}.")
    if reviewed.document["end"] is not None:
        typer.echo("The desks stay as they are until Ctrl-C.")
