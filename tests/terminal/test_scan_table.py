"""What a search for Modbus units tells in the terminal."""

from io import StringIO

from rich.console import Console

from server.terminal.scan_table import search_shown, told_after, told_before, unit_table


def printed(what: object) -> str:
    file = StringIO()
    Console(file=file, width=100).print(what)
    return file.getvalue()


def test_each_unit_is_a_row() -> None:
    """Its number, what it answers at, and what it has."""
    lines = printed(unit_table([("3", "9600 baud, parity even", "0 to 15", "none")])).splitlines()
    assert lines[0].split() == ["unit", "answers", "at", "discrete", "inputs", "coils"]
    assert " ".join(lines[1].split()) == "3 9600 baud, parity even 0 to 15 none"


def test_it_is_told_before_what_is_asked_and_for_how_long() -> None:
    """Seconds where they are few, else minutes; that it only reads, and whom it disturbs."""
    told = told_before("/dev/ttyUSB0", ["9600 baud, parity none"], [7], 41.6)
    assert told.startswith("unit 7 at /dev/ttyUSB0, 9600 baud, parity none: 42 s at most. Nothing is written.")
    assert "A line that a server polls is disturbed" in told
    assert "247 units from 1 to 247 at p, 2 settings: 13 min at most." in told_before(
        "p", ["a", "b"], list(range(1, 248)), 790.0
    )


def test_what_was_not_found_is_told_with_where_to_look() -> None:
    """Noise, settings that could not be tried, and nothing at all."""
    assert list(told_after(1, [], [], 3)) == []
    told, more = told_after(0, [], [], 3)
    assert told.startswith("No unit answered. See the unit's number and speed")
    assert more.endswith("--units with it alone.")
    noisy = list(told_after(1, ["9600 baud, parity odd"], [("it is in use", ["a", "b"])], 3))
    assert noisy == [
        "Not tried: a, b. It is in use.",
        "Something came that was no answer at 9600 baud, parity odd. Two units may have one number.",
    ]
    assert list(told_after(0, [], [("it is in use", ["a", "b", "c"])], 3)) == ["Not tried: any setting. It is in use."]


def test_how_far_it_is_is_shown_in_a_terminal_only() -> None:
    """In a file there is nothing but what was found."""
    for terminal, shown in ((True, True), (False, False)):
        file = StringIO()
        with search_shown(Console(file=file, force_terminal=terminal, width=100), 10) as show:
            show(3, "9600 baud, parity none, unit 4; 0 found")
        assert ("9600 baud, parity none, unit 4" in file.getvalue()) is shown
