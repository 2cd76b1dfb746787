"""The firmware as its README has it built, run by a simulated ATmega328P. No real board was tried."""

import random
from collections.abc import Iterator
from pathlib import Path

import pytest

from adapters.contacts.lines import Line
from tests.firmware.boxes import INPUTS, PINS, POWER_UP_MS, Board, LineLibrary, played, ran, script_from_levels
from tests.firmware.truths import (
    Toggling,
    as_levels,
    check,
    heard_of,
    left_out,
    levels_of,
    longest_without_all_ms,
    rebuilt,
    since,
)

pytestmark = pytest.mark.slow
ALL = 2**INPUTS - 1
RAM_BYTES = 2048
FLASH_BYTES = 32_768
"""ATmega328P data sheet (from memory)."""


def show(seed: int, seconds: int) -> list[int]:
    """Levels of a chain that starts: contacts close and open now and then, and each bounces for up to 6 ms."""
    chance = random.Random(seed)
    levels = [0] * (seconds * 1000)
    for number in range(INPUTS):
        at_ms = chance.randrange(100, 900)
        level = 0
        while at_ms < len(levels) - 1500:
            level = 1 - level
            bounces = [at_ms + n for n in range(chance.randrange(0, 7, 2))]
            for ms in range(at_ms, len(levels)):
                closed = level if ms not in bounces[1::2] else 1 - level
                levels[ms] = levels[ms] & ~(1 << number) | closed << number
            at_ms += chance.randrange(400, 2500)
    return levels


def test_it_fits_the_chip(board: Board) -> None:
    """Program, and memory with 512 bytes left for the stack, at the first build and with every warning an error."""
    text, data, bss = map(int, ran("avr-size", board.firmware, folder=board.folder).splitlines()[1].split()[:3])
    assert 0 < text + data < FLASH_BYTES
    assert 0 < data + bss <= RAM_BYTES - 512
    assert (board.folder / "box.hex").read_text().startswith(":")


def test_each_pin_is_its_input(board: Board) -> None:
    """A pin held to ground is closed, a pin let go is open by its pull-up, and no other input moves."""
    script = [f"{n * 100_000} pin {port} {pin} {level}" for n, (port, pin, level) in enumerate(one_by_one(), 1)]
    sent = board.sent("\n".join([*script, "4000000 end\n"]))
    lines = [heard.line for heard in heard_of(sent)]
    told = [line.levels for line in lines if not line.whole]
    assert told == [{number: level} for number in range(1, INPUTS + 1) for level in (True, False)]
    assert lines[0] == Line(0, as_levels(0), True, POWER_UP_MS)
    assert rebuilt(lines) == as_levels(0)


def one_by_one() -> Iterator[tuple[str, int, int]]:
    for port, pin in PINS:
        yield port, pin, 0
        yield port, pin, 1


@pytest.mark.parametrize("seed", range(2))
def test_the_board_sends_what_its_logic_says(board: Board, library: LineLibrary, seed: int) -> None:
    """Where nothing is left out, chip and computer send the same bytes for the same contacts."""
    levels = show(seed, seconds=3)
    sent = board.sent(script_from_levels(levels))
    check(levels, sent, POWER_UP_MS)
    on_host = played(library, levels, clock_ms=POWER_UP_MS)
    assert left_out(heard_of(sent)) == 0
    assert [line.text for line in sent] == [line.text for line in on_host][: len(sent)]
    assert len(sent) >= len(on_host) - 1
    assert sum(line.text.startswith(b"C") for line in sent) > 30


def test_times_are_those_of_the_contacts(board: Board) -> None:
    """A line says when its contact moved to a millisecond, and is out 7 ms after that where nothing is before it."""
    levels = [0] * 500 + [1] * 500 + [0] * 1000
    sent = board.sent(script_from_levels(levels))
    changes = [(line.at_ms, heard.line) for line, heard in zip(sent, heard_of(sent), strict=True)]
    moved = [(at_ms, since(line, POWER_UP_MS)) for at_ms, line in changes if not line.whole]
    assert [ms for _, ms in moved] == [500, 1000]
    assert all(0 < at_ms - POWER_UP_MS - ms < 7 for at_ms, ms in moved)


def test_a_flood_neither_stops_the_scan_nor_hides_the_truth(tmp_path: Path) -> None:
    """Every input goes over each millisecond for two seconds while the clock turns over: what is said is true to the
    millisecond, all levels come once a second, and the loss shows."""
    clock_ms = 2**32 - 1000
    flooded = Board(tmp_path, clock_ms)
    levels = levels_of(0, [Toggling(0, 1, 40), Toggling(ALL, 1, 2000)], rest_ms=1500)
    # Its clock is not under the time of power-up, so the first scan comes at once.
    sent = flooded.sent(script_from_levels([0] * (1000 - POWER_UP_MS) + levels))
    heard = heard_of(sent)
    assert left_out(heard) > 20_000
    check([0] * 1000 + levels, sent, clock_ms)
    assert longest_without_all_ms(sent) <= 1000
    assert {since(each.line, clock_ms) >= 1000 for each in heard} == {True, False}


def test_a_board_whose_clock_stops_starts_again(board: Board) -> None:
    """The watchdog has it begin anew, with number 0, within half a second; before it nothing is sent that is not so."""
    sent = board.sent("1000000 stall\n2500000 end\n")
    heard = heard_of(sent)
    again = [n for n, each in enumerate(heard) if each.restarted]
    assert again[0] == 0
    assert len(again) == 2
    assert 1000 < sent[again[1]].at_ms < 1500
    # The simulator does not lift the pull-ups again after a reset, so levels are not asked for here.
    assert [each.line.seq for each in heard[again[1] :]] == list(range(len(heard) - again[1]))
    assert left_out(heard) == 0
