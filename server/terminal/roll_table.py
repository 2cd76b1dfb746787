"""The roll call of the contacts as a table in the terminal, from the plain values that the contacts give."""

from collections.abc import Mapping, Sequence
from typing import Any

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from server.timeline.plan import Plan

State = Mapping[str, Any]
SAME_TICK = 1.25
"""A tick that is no longer than this times what the wiring file says is that one. Chosen, as on the desk."""

HELP = "Enter: leave it and go on.  An input such as north/3: close that one next.  end: end the roll call."


def roll_table(plan: Plan, state: State, ports: Sequence[tuple[str, str]]) -> RenderableType:
    """Every input with its level and what was seen of it, the feeds, and the ports of this computer."""
    table = Table(box=None, header_style="bold", padding=(0, 2, 0, 0))
    for heading in ("input", "house", "what", "now", "seen", "remarks"):
        table.add_column(heading)
    houses = {station.id: station.house for station in plan.stations}
    for each in state["inputs"]:
        style = "bold reverse" if each["id"] == state["asked"] else ""
        seen = "yes" if each["seen"] else "closed" if each["closes"] else ""
        now = {True: "on", False: "off", None: "not known"}[each["on"]]
        cells = (each["id"], houses[each["station"]], each["what"], now, seen, _remarks(each))
        table.add_row(*map(Text, cells), style=style)
    return Group(table, Text(), *map(Text, _feed_lines(state, ports)), Text(), *map(Text, _lines(state)))


def port_table(ports: Sequence[tuple[str, str]]) -> RenderableType:
    """The serial ports of this computer, by the address that a wiring file names them with."""
    if not ports:
        return Text("This computer has no serial port.")
    table = Table(box=None, header_style="bold", padding=(0, 2, 0, 0))
    table.add_column("port")
    table.add_column("what it says of itself")
    for address, description in ports:
        table.add_row(Text(address), Text(description))
    return table


def _remarks(each: Mapping[str, Any]) -> str:
    remarks = [f"{other} moved instead" for other in each["instead"]]
    if each["bounces"]:
        remarks.append(f"bounces: {each['edges']} edges in {each['bounced_ms']:.0f} ms")
    if each["flickers"]:
        remarks.append("flickers: it changed more often than it can")
    return "; ".join(remarks)


def _feed_lines(state: State, ports: Sequence[tuple[str, str]]) -> list[str]:
    lines = [
        f"{feed['id']}: {feed['fault'] or 'heard at ' + feed['port']}{_tick_text(feed)}" for feed in state["feeds"]
    ]
    found = ", ".join(address for address, _ in ports) or "none"
    return [*lines, f"Serial ports found on this computer: {found}"]


def _tick_text(feed: Mapping[str, Any]) -> str:
    """How seldom what is at a feed looks at its inputs, where that was seen, and what is then to be written down."""
    seen_ms, wired_ms = feed["seen_sampling_ms"], feed["sampling_ms"]
    if seen_ms is None:
        return ""
    text = f"; its changes come on a tick of about {seen_ms} ms"
    known = seen_ms <= SAME_TICK * wired_ms
    return text if known else f"{text}: write sampling_ms = {seen_ms} for it in the wiring file"


def _lines(state: State) -> list[str]:
    lines = [f"{stray} moved, and nothing is said of it in the wiring file" for stray in state["strays"]]
    missing = sum(not each["seen"] for each in state["inputs"])
    if state["asked"]:
        lines.append(f"Close {state['asked']} now, and open it again. {missing} to go.")
    elif state["on"]:
        lines.append(f"Close each contact and open it again, in any order. {missing} to go.")
    return [*lines, HELP] if state["on"] else lines
