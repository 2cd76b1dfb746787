"""What the commands share: options, how faults are told, and what is read of files and settings."""

import signal
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from server.documents import DocumentFault, text_from_file
from server.settings import Settings, SettingsFault, data_folder, settings_from_environment
from server.timeline.events import RecordingFault
from server.timeline.plan import Plan, PlanFaults, parse_plan

if TYPE_CHECKING:
    from server.plan_runs import PlanFile
    from server.planning.site_model import Site

SPEEDS = (0.1, 1000.0)
"""Chosen: past these the desks show nothing that anybody could follow."""

FILE_FAULTS: tuple[type[Exception], ...] = (DocumentFault, RecordingFault, SettingsFault)
PORT = Settings._field_defaults["port"]
HOST = Settings._field_defaults["host"]

PlanPath = Annotated[Path, typer.Argument(metavar="PLAN", help="A *.plan.toml file.", show_default=False)]
Port = Annotated[
    int | None,
    typer.Option(
        min=0, max=65535, help=f"The port that desks connect to ({PORT}); 0 is any free one.", show_default=False
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="For programs.")]


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


def settings_given(host: str | None, port: int | None, data: str | None) -> Settings:
    """The environment's settings; what was given on the command line wins."""
    settings = settings_from_environment()
    number = settings.port if port is None else port
    folder = settings.data if data is None else data_folder(data, "--data")
    return settings._replace(data=folder, host=host or settings.host, port=number)


def plans_from_files(paths: Iterable[Path], faults: list[str]) -> list[Plan]:
    """Every plan that can be used; what is wrong with the others is put to the faults."""
    known = []
    for path in paths:
        try:
            known.append(parse_plan(text_from_file(path), str(path)))
        except PlanFaults as found:
            faults += found.faults
        except DocumentFault as found:
            faults.append(str(found))
    return known


def site_from_file(path: Path, faults: list[str]) -> "Site | None":
    """The site, if it can be used; what is wrong with it is put to the faults."""
    from server.planning.site import SiteFaults, parse_site

    try:
        return parse_site(text_from_file(path), str(path))
    except SiteFaults as found:
        faults += found.faults
    except DocumentFault as found:
        faults.append(str(found))
    return None


def plan_files(paths: Iterable[Path]) -> "list[PlanFile]":
    """Every plan, or the faults of all of them."""
    from server.plan_runs import PlanFile

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
