"""`festoon doctor` and `festoon service`: what is wrong with an installation, and how it is started at boot."""

import json
import shutil
import sys
from pathlib import Path
from typing import Annotated

import typer

from server.commands.accounts import Data
from server.commands.options import AsJson, Port, settings_given
from server.settings import SettingsFault
from server.upkeep.service import NAMES, SERVICE, service_file


def doctor(
    host: Annotated[str | None, typer.Option(help="As for festoon serve.", show_default=False)] = None,
    port: Port = None,
    data: Data = None,
    certificate: Annotated[
        str | None, typer.Option(metavar="FILE", help="As for festoon serve.", show_default=False)
    ] = None,
    key: Annotated[str | None, typer.Option(metavar="FILE", help="As for festoon serve.", show_default=False)] = None,
    as_json: AsJson = False,
) -> None:
    """Say what is wrong with this installation and how to mend it; end with status 1 where a server could not run.

    It looks at the folder, disk, clock, log, port, sessions, certificate and pages, and changes nothing.
    """
    from server.clock import Clock, is_kept_in_step
    from server.desk.listening import own_names
    from server.upkeep.doctor import Finding, Looked, findings

    try:
        settings = settings_given(host, port, data)
    except SettingsFault as fault:
        found = [Finding("bad", "settings", str(fault), "set that variable anew")]
    else:
        settings = settings._replace(certificate=certificate or settings.certificate, key=key or settings.key)
        found = list(findings(Looked(settings, Clock().now(), is_kept_in_step(), own_names())))
    if as_json:
        typer.echo(json.dumps([finding._asdict() for finding in found], indent=2))
    else:
        for finding in found:
            typer.echo(f"{finding.level:5} {finding.about:12} {finding.found}")
            if finding.level != "well":
                typer.echo(f"{'':18} to mend it: {finding.remedy}")
    raise typer.Exit(1 if any(finding.level == "bad" for finding in found) else 0)


def service(
    name: Annotated[str, typer.Argument(metavar="FILE", help=f"One of {', '.join(NAMES)}.")] = SERVICE,
) -> None:
    """Print a file by which systemd starts this Festoon at boot, or backs its log up every day."""
    if name not in NAMES:
        raise typer.BadParameter(f"found {name!r}; accepted are {', '.join(NAMES)}", param_hint="FILE")
    typer.echo(service_file(name, _program(), Path(__file__).parents[2] / "README.md"), nl=False)


def _program() -> Path:
    """Where this very `festoon` is installed."""
    beside = Path(sys.executable).with_name("festoon")
    return beside if beside.is_file() else Path(shutil.which("festoon") or beside).absolute()
