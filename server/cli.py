"""The commands: `festoon serve`, `demo`, `plan` and `replay`.

A file that cannot be used and wrong usage are told on standard error, a line a fault, with exit status 2.
"""

import json
import signal
import sys
import webbrowser
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from server.documents import DocumentFault, lines_from_file, text_from_file
from server.settings import Settings, SettingsFault, settings_from_environment
from server.timeline.events import RecordingFault, read_recording
from server.timeline.plan import Plan, PlanFaults, parse_plan

if TYPE_CHECKING:
    from server.assemble import PlanFile, Played

DEMO_SPEED = 20.0
"""A show of two hours in six and a half minutes. Chosen."""

SPEEDS = (0.1, 1000.0)
"""Chosen: past these the desks show nothing that anybody could follow."""

FILE_FAULTS: tuple[type[Exception], ...] = (DocumentFault, RecordingFault, SettingsFault)
PORT = Settings._field_defaults["port"]
HOST = Settings._field_defaults["host"]

app = typer.Typer(
    help="Watch one film print run through many chained projectors.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

PlanPath = Annotated[Path, typer.Argument(metavar="PLAN", help="A *.plan.toml file.", show_default=False)]
Port = Annotated[
    int | None,
    typer.Option(
        min=0, max=65535, help=f"The port that desks connect to ({PORT}); 0 is any free one.", show_default=False
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="For programs.")]


def main() -> None:
    """Run the command that was asked for."""
    app()


@app.command()
def serve(
    plans: Annotated[
        list[Path], typer.Argument(metavar="PLAN", help="*.plan.toml files: one run for each.", show_default=False)
    ],
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
) -> None:
    """Show live runs on the desks, and take the events that are reported."""
    if events is not None and len(plans) > 1:
        raise typer.BadParameter("a recording is played into one run: found several plans", param_hint="--events")
    if speed is not None and events is None:
        raise typer.BadParameter("a live run goes as it goes: this is for --events", param_hint="--speed")
    from server import assemble

    with faults_told(*assemble.FAULTS):
        settings = _settings(host, port, data)
        files = _plan_files(plans)
        played = None if events is None else _played(events, files[0].plan, speed or 1.0)
        with ended_by_signals(), assemble.open_port(settings.host, settings.port) as listening:
            assemble.serve(files, listening, settings.data, played, typer.echo)


@app.command()
def demo(
    port: Port = None,
    speed: Annotated[float, typer.Option(min=SPEEDS[0], max=SPEEDS[1], help="How many times life.")] = DEMO_SPEED,
    browser: Annotated[bool, typer.Option(help="Open the wall in this computer's browser.")] = False,
) -> None:
    """Play an invented show, and forget it at the end."""
    from server import assemble

    with faults_told(*assemble.FAULTS):
        settings = _settings(HOST, port, None)
        with ended_by_signals(), assemble.open_port(settings.host, settings.port, or_any=port is None) as listening:
            number = listening.getsockname()[1]
            if settings.port not in {0, number}:
                typer.echo(f"Port {settings.port} is in use by another program: this is on {number}.")
            assemble.demonstrate(listening, speed, typer.echo, webbrowser.open if browser else None)


@app.command()
def plan(path: PlanPath, as_json: AsJson = False) -> None:
    """Work out the schedule of a plan: starts, passes, strike windows, threading, and what looks wrong."""
    from rich.console import Console

    from server.terminal.plan_table import print_schedule
    from server.timeline.schedule import schedule_from_plan

    with faults_told():
        known = parse_plan(text_from_file(path), str(path))
    schedule = schedule_from_plan(known)
    if as_json:
        typer.echo(json.dumps(schedule.as_json()))
    else:
        print_schedule(known, schedule, Console())


@app.command()
def replay(
    path: PlanPath,
    events: Annotated[Path, typer.Argument(metavar="EVENTS", help="A recording, *.events.jsonl.", show_default=False)],
    as_json: AsJson = False,
    until: Annotated[
        str | None, typer.Option(metavar="T", help="Know nothing of what came later (RFC 3339).", show_default=False)
    ] = None,
    strict: Annotated[bool, typer.Option("--strict", help="End with status 1 if a line was rejected.")] = False,
) -> None:
    """Tell a recorded run again: phases, alarms, and how it stood at the end."""
    from server.terminal.replay import replay_command

    raise typer.Exit(replay_command(path, events, as_json=as_json, until=until, strict=strict))


@contextmanager
def faults_told(*kinds: type[Exception]) -> Iterator[None]:
    """Tell what could not be used, and end with status 2; each of `kinds` is one sentence, as those of files are."""
    try:
        yield
    except PlanFaults as faults:
        raise _told(faults.faults) from None
    except (*FILE_FAULTS, *kinds) as fault:
        raise _told([str(fault)]) from None


def _told(lines: Iterable[str]) -> typer.Exit:
    for line in lines:
        typer.echo(line, err=True)
    return typer.Exit(2)


@contextmanager
def ended_by_signals() -> Iterator[None]:
    """Have a request to terminate unwind as an interrupt does, so that what is open is closed; neither is an error."""
    handled = [signal.SIGINT, signal.SIGTERM, *([signal.SIGHUP] if sys.platform != "win32" else [])]
    before = {number: signal.signal(number, _end) for number in handled}
    try:
        yield
    except KeyboardInterrupt:
        return
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _end(number: int, _frame: FrameType | None) -> NoReturn:
    """Unwind; the same signal again does not interrupt that."""
    signal.signal(number, signal.SIG_IGN)
    raise KeyboardInterrupt


def _settings(host: str | None, port: int | None, data: str | None) -> Settings:
    """The environment's settings; what was given on the command line wins."""
    settings = settings_from_environment()
    return Settings(data or settings.data, host or settings.host, settings.port if port is None else port)


def _plan_files(paths: Iterable[Path]) -> "list[PlanFile]":
    """Every plan, or the faults of all of them."""
    from server.assemble import PlanFile

    files: dict[str, PlanFile] = {}
    faults: list[str] = []
    for path in paths:
        try:
            text = text_from_file(path)
            file = PlanFile(str(path), text, parse_plan(text, str(path)))
        except PlanFaults as found:
            faults += found.faults
        except DocumentFault as found:
            faults.append(str(found))
        else:
            if files.setdefault(text, file) is not file:
                faults.append(f"{path}: this is the same plan as {files[text].name}; one run is enough for it")
    if faults:
        raise PlanFaults(faults)
    return list(files.values())


def _played(path: Path, plan: Plan, rate: float) -> "Played":
    from server.assemble import played_from_recording

    return played_from_recording(read_recording(lines_from_file(path), plan, str(path)), plan, rate)
