"""The roll call in the terminal."""

from io import StringIO
from typing import Any

from rich.console import Console

from server.terminal.roll_table import port_table, roll_table
from tests.live.fakes import PLAN


def printed(what: Any) -> str:
    console = Console(file=StringIO(), width=100)
    console.print(what)
    assert isinstance(console.file, StringIO)
    return console.file.getvalue()


def state(**given: Any) -> dict[str, Any]:
    row: dict[str, Any] = {
        "id": "north/1",
        "station": "b",
        "what": "motor",
        "on": None,
        "closes": 0,
        "seen": False,
        "edges": 1,
        "bounced_ms": 0.0,
        "bounces": False,
        "instead": [],
    }
    feed = {"id": "north", "kind": "text", "port": "/dev/ttyUSB0", "fault": None}
    return {"on": True, "asked": None, "strays": [], "feeds": [feed], "inputs": [row | given]}


def test_an_input_has_its_house_its_level_and_how_far_it_is() -> None:
    """Closed and not yet opened, moved instead, bouncing: each is said where the input is."""
    said = printed(roll_table(PLAN, state(on=True, closes=1, bounces=True, edges=7, bounced_ms=31.0), []))
    (line,) = [line for line in said.splitlines() if line.startswith("north/1")]
    assert line.split() == ["north/1", "2", "motor", "on", "closed", "bounces:", "7", "edges", "in", "31", "ms"]
    instead = "lamp of House 1 (north/2)"
    assert f"{instead} moved instead" in printed(roll_table(PLAN, state(instead=[instead]), []))


def test_what_to_do_next_and_how_many_are_to_go_is_said() -> None:
    """In any order, or the one that is asked for."""
    assert "in any order. 1 to go." in printed(roll_table(PLAN, state(), []))
    asked = printed(roll_table(PLAN, state() | {"asked": "north/1"}, []))
    assert "Close north/1 now, and open it again. 1 to go." in asked


def test_feeds_and_ports_are_listed() -> None:
    """Which port was found, which feed is heard, which wire is said nothing of."""
    down = state() | {"feeds": [{"id": "north", "port": "x", "fault": "x was lost"}], "strays": ["north/9"]}
    said = printed(roll_table(PLAN, down, [("/dev/ttyUSB0", "a box")]))
    assert "north: x was lost" in said
    assert "north/9 moved, and nothing is said of it in the wiring file" in said
    assert "Serial ports found on this computer: /dev/ttyUSB0" in said
    assert "north: heard at /dev/ttyUSB0" in printed(roll_table(PLAN, state(), []))
    assert "/dev/ttyUSB0  a box" in printed(port_table([("/dev/ttyUSB0", "a box")]))
    assert printed(port_table([])) == "This computer has no serial port.\n"
