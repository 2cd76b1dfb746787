"""`festoon contacts`: the roll call of the contacts in the terminal, and the serial ports of this computer."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from server.commands.options import ended_by_signals, faults_told, plan_files, settings_given
from server.documents import text_from_file

if TYPE_CHECKING:
    from rich.console import Console

    from server.contacts import RollCallHere
    from server.timeline.plan import Plan


def contacts(
    wiring: Annotated[
        Path | None, typer.Argument(metavar="WIRING", help="A *.contacts.toml file.", show_default=False)
    ] = None,
    plan: Annotated[
        Path | None, typer.Argument(metavar="PLAN", help="The *.plan.toml file of its stations.", show_default=False)
    ] = None,
    one_by_one: Annotated[bool, typer.Option("--one-by-one", help="Ask for one contact after another.")] = False,
    keep: Annotated[bool, typer.Option("--keep", help="Write the result down with the plan's run.")] = False,
    data: Annotated[str | None, typer.Option(help="The folder of the event log.", show_default=False)] = None,
) -> None:
    """Hold a roll call: close every contact once and see that it arrives. Without files, list the serial ports.

    Ends with status 1 where an input is missing or another one moved instead.
    """
    from rich.console import Console

    from server import assemble
    from server.contacts import RollCallHere, serial_ports, wiring_from_text
    from server.terminal.roll_table import port_table

    console = Console()
    if wiring is None or plan is None:
        if wiring is not None:
            raise typer.BadParameter("the roll call needs the plan of the stations as well", param_hint="PLAN")
        console.print(port_table(serial_ports()))
        return
    with faults_told(*assemble.FAULTS):
        (file,) = plan_files([plan])
        wired = wiring_from_text(text_from_file(wiring), str(wiring), file.plan)
        for warning in wired.warnings:
            typer.echo(f"Warning: {warning}")
        state = _held(console, file.plan, RollCallHere(wired, file.plan, ask_next=one_by_one))
        if keep:
            assemble.keep_roll_call(file, settings_given(None, None, data).data, state["result"], typer.echo)
    sound = all(each["seen"] and not each["instead"] for each in state["inputs"])
    raise typer.Exit(0 if sound else 1)


def _held(console: "Console", plan: "Plan", call: "RollCallHere") -> dict[str, Any]:
    """Hold a roll call until it is over or ended by hand; its last state."""
    from rich.live import Live

    from server.contacts import serial_ports
    from server.terminal.roll_table import roll_table

    ports = serial_ports()
    with ended_by_signals(), Live(console=console, auto_refresh=False, transient=True) as live:
        call.hold(lambda state: live.update(roll_table(plan, state, ports), refresh=True), sys.stdin)
    console.print(roll_table(plan, call.state, ports))
    console.print(call.state["result"], markup=False)
    return call.state
