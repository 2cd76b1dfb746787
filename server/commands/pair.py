"""`festoon pair` and `festoon pairings`: ask the server that runs on this computer."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from server.access import Role
from server.commands.options import faults_told, settings_given

if TYPE_CHECKING:
    from server.access.asking import Server

Data = Annotated[str | None, typer.Option(help="The folder of the server's event log.", show_default=False)]


def pair(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Whose device it is.", show_default=False)],
    role: Annotated[
        Role,
        typer.Option(
            help="booth changes things; look is for wall and lobby; report is for whoever looks after the houses."
        ),
    ] = "booth",
    data: Data = None,
) -> None:
    """Show a code that pairs one device, once, with the server that runs here."""
    from server.access.asking import ServerFault
    from server.terminal.welcome import told_code

    with faults_told(ServerFault):
        made: dict[str, Any] = _server(data).ask("/api/pairings/codes", {"name": name, "role": role})
    typer.echo(told_code(made["name"], made["address"], made["code"]))


def pairings(
    withdraw: Annotated[
        str | None, typer.Option(metavar="ID", help="End this pairing, at once.", show_default=False)
    ] = None,
    data: Data = None,
) -> None:
    """List the paired devices of the server that runs here, or end one."""
    from urllib.parse import quote

    from server.access.asking import ServerFault
    from server.terminal.welcome import told_pairings

    with faults_told(ServerFault):
        server = _server(data)
        if withdraw is not None:
            server.ask(f"/api/pairings/{quote(withdraw, safe='')}/withdrawal", {})
        typer.echo(told_pairings(server.ask("/api/pairings")))


def _server(data: str | None) -> "Server":
    from server.access.asking import server_of

    return server_of(Path(settings_given(None, None, data).data))
