"""The roll call in the terminal."""

from io import StringIO
from typing import Any

from rich.console import Console

from server.terminal.roll_table import port_table, roll_table
from tests.live.fakes import PLAN

UNSAMPLED = {"sampling_ms": 0, "seen_sampling_ms": None}


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
        "flickers": False,
        "instead": [],
    }
    feed = {"id": "north", "kind": "text", "port": "/dev/ttyUSB0", "fault": None} | UNSAMPLED
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
    down = state() | {"feeds": [{"id": "north", "port": "x", "fault": "x was lost"} | UNSAMPLED], "strays": ["north/9"]}
    said = printed(roll_table(PLAN, down, [("/dev/ttyUSB0", "a box")]))
    assert "north: x was lost" in said
    assert "north/9 moved, and nothing is said of it in the wiring file" in said
    assert "Serial ports found on this computer: /dev/ttyUSB0" in said
    assert "north: heard at /dev/ttyUSB0" in printed(roll_table(PLAN, state(), []))
    assert "/dev/ttyUSB0  a box" in printed(port_table([("/dev/ttyUSB0", "a box")]))
    assert printed(port_table([])) == "This computer has no serial port.\n"


def test_a_tick_that_was_seen_is_told_with_what_to_write_down() -> None:
    """Where the wiring file says of it already, it is only told."""
    feed = {"id": "north", "port": "x", "fault": None, "seen_sampling_ms": 500}
    told = "north: heard at x; its changes come on a tick of about 500 ms"
    for wired_ms, more in ((0, ": write sampling_ms = 500 for it in the wiring file"), (450, "")):
        said = printed(roll_table(PLAN, state() | {"feeds": [feed | {"sampling_ms": wired_ms}]}, []))
        assert f"{told}{more} Serial ports" in " ".join(said.split())
    silent = feed | {"seen_sampling_ms": None, "sampling_ms": 500}
    assert "tick" not in printed(roll_table(PLAN, state() | {"feeds": [silent]}, []))


def test_a_contact_that_flickers_is_told() -> None:
    """Beside what else there is to say of it."""
    said = printed(roll_table(PLAN, state(flickers=True, bounces=True, edges=7, bounced_ms=31.0), []))
    assert "bounces: 7 edges in 31 ms; flickers: it changed more often than it can" in " ".join(said.split())
