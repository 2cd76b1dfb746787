"""`festoon contacts`: the roll call in the terminal, the serial ports, and contacts tried without a show."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from server.commands.options import ended_by_signals, faults_told, plan_files, settings_given
from server.commands.trials import BAUD, ListenKind, listen, play, search
from server.documents import text_from_file

if TYPE_CHECKING:
    from rich.console import Console

    from server.contact_boards import RollCallHere
    from server.timeline.plan import Plan

ROLL_CALL = "a roll call"
GOES_WITH = {
    ROLL_CALL: {"WIRING", "PLAN", "--one-by-one", "--keep", "--data"},
    "--pretend": {"WIRING", "PLAN", "--to"},
    "--listen": {"--kind", "--baud"},
    "--scan": {"--units", "--baud"},
}
"""What can be done, and what may be said beside it."""


def contacts(
    context: typer.Context,
    wiring: Annotated[
        Path | None, typer.Argument(metavar="WIRING", help="A *.contacts.toml file.", show_default=False)
    ] = None,
    plan: Annotated[
        Path | None, typer.Argument(metavar="PLAN", help="The *.plan.toml file of its stations.", show_default=False)
    ] = None,
    one_by_one: Annotated[bool, typer.Option("--one-by-one", help="Ask for one contact after another.")] = False,
    keep: Annotated[bool, typer.Option("--keep", help="Write the result down with the plan's run.")] = False,
    data: Annotated[str | None, typer.Option(help="The folder of the event log.", show_default=False)] = None,
    pretend: Annotated[
        bool, typer.Option("--pretend", help="Play the contacts of WIRING without hardware, by orders.")
    ] = False,
    to: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER", help="Keep what --pretend writes for the server in this folder.", show_default=False
        ),
    ] = None,
    listen_at: Annotated[
        str | None,
        typer.Option("--listen", metavar="PORT", help="Tell what comes in at a port until Ctrl-C.", show_default=False),
    ] = None,
    kind: Annotated[
        ListenKind | None, typer.Option(help="What to listen for: lines of a box (text), or status lines.")
    ] = None,
    scan: Annotated[
        str | None,
        typer.Option(
            metavar="PORT", help="Search a port for Modbus units: it only reads, but disturbs who polls them."
        ),
    ] = None,
    units: Annotated[
        str | None, typer.Option(metavar="1-32", help="The units to search for (1-247).", show_default=False)
    ] = None,
    baud: Annotated[
        int | None,
        typer.Option(min=300, max=4_000_000, help=f"The speed to listen at ({BAUD}), the only one to search at (all)."),
    ] = None,
) -> None:
    """Hold a roll call: close every contact once and see that it arrives. Without files, list the serial ports.

    Ends with status 1 where an input is missing or another one moved instead, or nothing answers.
    """
    _check_together(context)
    if listen_at is not None:
        raise typer.Exit(0 if listen(listen_at, kind or "text", baud) else 1)
    if scan is not None:
        raise typer.Exit(0 if search(scan, units or "1-247", baud) else 1)
    if wiring is None and not pretend:
        _list_ports()
    elif wiring is None or plan is None:
        missing = "WIRING" if wiring is None else "PLAN"
        raise typer.BadParameter("found none; accepted a wiring file and the plan of its stations", param_hint=missing)
    elif pretend:
        play(wiring, plan, to)
    else:
        raise typer.Exit(0 if _roll_call(wiring, plan, data, one_by_one=one_by_one, keep=keep) else 1)


def _check_together(context: typer.Context) -> None:
    """One thing at a time, and only with what belongs to it."""
    given = [
        each.opts[0] if each.param_type_name == "option" else (each.name or "").upper()
        for each in context.command.params
        if context.params.get(each.name or "")
    ]
    modes = [name for name in given if name in GOES_WITH]
    if len(modes) > 1:
        raise typer.BadParameter(f"found {' and '.join(modes)}; accepted one of them", param_hint=modes[1])
    mode = modes[0] if modes else ROLL_CALL
    for name in given:
        if name not in GOES_WITH[mode] | {mode}:
            with_ = [other for other, names in GOES_WITH.items() if name in names]
            raise typer.BadParameter(f"found it with {mode}; accepted with {' or '.join(with_)}", param_hint=name)


def _list_ports() -> None:
    from rich.console import Console

    from server.contact_boards import serial_ports
    from server.terminal.roll_table import port_table

    Console().print(port_table(serial_ports()))


def _roll_call(wiring: Path, plan: Path, data: str | None, *, one_by_one: bool, keep: bool) -> bool:
    """Hold a roll call; whether every input was seen, and none moved in the place of another."""
    from rich.console import Console

    from server import assemble
    from server.contact_boards import RollCallHere, wiring_from_text

    with faults_told(*assemble.FAULTS):
        (file,) = plan_files([plan])
        wired = wiring_from_text(text_from_file(wiring), str(wiring), file.plan)
        for warning in wired.warnings:
            typer.echo(f"Warning: {warning}")
        state = _held(Console(), file.plan, RollCallHere(wired, file.plan, ask_next=one_by_one))
        if keep:
            assemble.keep_roll_call(file, settings_given(None, None, data).data, state["result"], typer.echo)
    return all(each["seen"] and not each["instead"] for each in state["inputs"])


def _held(console: "Console", plan: "Plan", call: "RollCallHere") -> dict[str, Any]:
    """Hold a roll call until it is over or ended by hand; its last state."""
    from rich.live import Live

    from server.contact_boards import serial_ports
    from server.terminal.roll_table import roll_table

    ports = serial_ports()
    with ended_by_signals(), Live(console=console, auto_refresh=False, transient=True) as live:
        call.hold(lambda state: live.update(roll_table(plan, state, ports), refresh=True), sys.stdin)
    console.print(roll_table(plan, call.state, ports))
    console.print(call.state["result"], markup=False)
    return call.state
