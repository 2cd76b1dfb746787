"""The commands: `festoon serve`, `demo` and `replay`, and those of `server.commands`.

A file that cannot be used and wrong usage are told on standard error, a line a fault, with exit status 2.
"""

import sys
import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from server.commands.archive import archive as archive_commands
from server.commands.backup import backup, restore
from server.commands.certificate import certificate
from server.commands.contacts import contacts
from server.commands.debrief import debrief
from server.commands.doctor import doctor, service
from server.commands.drill import drill
from server.commands.learn import learn
from server.commands.options import (
    HOST,
    SPEEDS,
    AsJson,
    PlanPath,
    Port,
    ended_by_signals,
    faults_told,
    plan_files,
    settings_given,
)
from server.commands.order import order
from server.commands.pair import pair, pairings
from server.commands.plan import plan
from server.commands.put_away import put_away, remove
from server.commands.runs import runs
from server.commands.usage import PlainUsage
from server.documents import lines_from_file, text_from_file
from server.timeline.events import read_recording
from server.timeline.plan import Plan

if TYPE_CHECKING:
    from server.playing import Played

DEMO_SPEED = 20.0
"""A show of two hours in six and a half minutes. Chosen."""

app = typer.Typer(
    cls=PlainUsage,
    help="Watch one film print run through many chained projectors.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

app.command()(plan)
app.command()(order)
app.command()(runs)
app.command()(debrief)
app.command()(learn)
app.command()(put_away)
app.command()(remove)
app.command()(backup)
app.command()(restore)
app.command()(drill)
app.command()(pair)
app.command()(pairings)
app.command()(certificate)
app.command()(contacts)
app.command()(doctor)
app.command()(service)
app.add_typer(archive_commands, name="archive")


def main() -> None:
    """Run the command that was asked for."""
    app()


@app.command()
def serve(
    plans: Annotated[
        list[Path] | None,
        typer.Argument(metavar="PLAN", help="*.plan.toml files: one run for each.", show_default=False),
    ] = None,
    host: Annotated[
        str | None,
        typer.Option(help=f"A name or address of this computer, for desks to connect to ({HOST}).", show_default=False),
    ] = None,
    port: Port = None,
    data: Annotated[str | None, typer.Option(help="The folder of the event log.", show_default=False)] = None,
    events: Annotated[
        Path | None, typer.Option(metavar="RECORDING", help="Play the events of this recording.", show_default=False)
    ] = None,
    speed: Annotated[
        float | None,
        typer.Option(min=SPEEDS[0], max=SPEEDS[1], help="How many times life to play it (1).", show_default=False),
    ] = None,
    certificate: Annotated[
        Path | None, typer.Option(metavar="FILE", help="The site's own certificate (PEM): TLS.", show_default=False)
    ] = None,
    key: Annotated[Path | None, typer.Option(metavar="FILE", help="Its key (PEM).", show_default=False)] = None,
    archive: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS",
            help="Send the log on to the archive of many sites: its address, or a file that holds it.",
            show_default=False,
        ),
    ] = None,
    wirings: Annotated[
        list[Path] | None,
        typer.Option(
            "--contacts", metavar="WIRING", help="A *.contacts.toml file: one for each plan.", show_default=False
        ),
    ] = None,
) -> None:
    """Show live runs on the desks, and take the events that are reported; without a plan, only what is in the log."""
    plans = plans or []
    if events is not None and len(plans) != 1:
        found = "several plans" if plans else "no plan"
        raise typer.BadParameter(f"a recording is played into one run: found {found}", param_hint="--events")
    if speed is not None and events is None:
        raise typer.BadParameter("a live run goes as it goes: this is for --events", param_hint="--speed")
    if wirings and (len(wirings) != len(plans) or events is not None):
        raise typer.BadParameter("a live run has one wiring file, in the order of the plans", param_hint="--contacts")
    from server import assemble
    from server.contact_boards import wiring_from_text
    from server.desk.listening import open_port
    from server.entrance import certificate_from_files

    with faults_told(*assemble.FAULTS):
        settings = settings_given(host, port, data)
        files = plan_files(plans)
        wired = [
            wiring_from_text(text_from_file(path), str(path), file.plan)
            for path, file in zip(wirings or (), files, strict=False)
        ]
        played = None if events is None else _played(events, files[0].plan, speed or 1.0)
        with ended_by_signals(), open_port(settings.host, settings.port) as listening:
            own = certificate_from_files(certificate or settings.certificate, key or settings.key)
            at_terminal = sys.stdout.isatty()
            assemble.serve(
                files,
                listening,
                settings.data,
                played,
                typer.echo,
                certificate=own,
                at_terminal=at_terminal,
                wirings=wired,
                archive=archive or settings.archive,
            )


@app.command()
def demo(
    port: Port = None,
    speed: Annotated[float, typer.Option(min=SPEEDS[0], max=SPEEDS[1], help="How many times life.")] = DEMO_SPEED,
    browser: Annotated[bool, typer.Option(help="Open the wall in this computer's browser.")] = False,
) -> None:
    """Play an invented show, and forget it at the end."""
    from server import assemble
    from server.desk.listening import open_port

    with faults_told(*assemble.FAULTS):
        settings = settings_given(HOST, port, None)
        with ended_by_signals(), open_port(settings.host, settings.port, or_any=port is None) as listening:
            number = listening.getsockname()[1]
            if settings.port not in {0, number}:
                typer.echo(f"Port {settings.port} is in use by another program: this is on {number}.")
            assemble.demonstrate(listening, speed, typer.echo, webbrowser.open if browser else None)


@app.command()
def replay(
    path: PlanPath,
    events: Annotated[Path, typer.Argument(metavar="EVENTS", help="A recording, *.events.jsonl.", show_default=False)],
    as_json: AsJson = False,
    until: Annotated[
        str | None,
        typer.Option(metavar="T", help="Know nothing of what came later: 19:05, or RFC 3339.", show_default=False),
    ] = None,
    strict: Annotated[bool, typer.Option("--strict", help="End with status 1 if a line was rejected.")] = False,
) -> None:
    """Tell a recorded run again: phases, alarms, and how it stood at the end."""
    from server.terminal.replay import replay_command

    raise typer.Exit(replay_command(path, events, as_json=as_json, until=until, strict=strict))


def _played(path: Path, plan: Plan, rate: float) -> "Played":
    from server.playing import played_from_recording

    return played_from_recording(read_recording(lines_from_file(path), plan, str(path)), plan, rate)
