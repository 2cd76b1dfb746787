"""The firmware's logic, compiled for this computer: levels and the time go in, lines come out."""

import binascii

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from adapters.contacts.lines import Heard, LineReader
from tests.firmware.boxes import INPUTS, REST_MS, Box, LineLibrary, Sent, played
from tests.firmware.truths import (
    CLOCKS_MS,
    TOGGLINGS,
    Levels,
    Toggling,
    as_levels,
    changed,
    check,
    heard_of,
    left_out,
    levels_of,
    longest_without_all_ms,
    since,
)

ALL = 2**INPUTS - 1
ONE_BOUNCE = Toggling(ALL, 1, 7)
"""Every input bounces for the longest usual time, 6.2 ms (J. Ganssle, "A guide to debouncing")."""


def remainder_of(text: bytes) -> int:
    """The check as it is defined: what is left of the text when it is divided by x^16 + x^12 + x^5 + 1."""
    value = int.from_bytes(text, "big") << 16 ^ 0xFFFF << 8 * len(text)
    while value.bit_length() > 16:
        value ^= 0x11021 << value.bit_length() - 17
    return value


def test_the_check_is_the_published_one(library: LineLibrary) -> None:
    """The digits 1 to 9 give 29B1, the catalogue's value for this check (from memory)."""
    assert library.check(b"123456789") == remainder_of(b"123456789") == 0x29B1


@given(st.binary(max_size=60))
def test_the_check_is_what_others_compute(library: LineLibrary, text: bytes) -> None:
    """Python's own and a long division give the same for any bytes."""
    assert library.check(text) == binascii.crc_hqx(text, 0xFFFF) == remainder_of(text)


@settings(deadline=None)
@given(st.integers(0, ALL), TOGGLINGS, CLOCKS_MS, st.sampled_from([9600, 57_600, 1_000_000]))
def test_no_line_says_what_was_not_so(
    library: LineLibrary, first: int, togglings: list[Toggling], clock_ms: int, baud: int
) -> None:
    """Whatever the inputs do and however slow the line: lines are sound, true, in order, and rebuild the levels."""
    levels = levels_of(first, togglings, rest_ms=6000 if baud == 9600 else REST_MS)
    check(levels, played(library, levels, baud, clock_ms), clock_ms)


@settings(deadline=None)
@given(st.integers(0, ALL), TOGGLINGS)
def test_all_levels_come_at_least_once_a_second(library: LineLibrary, first: int, togglings: list[Toggling]) -> None:
    """At the speed it is built for, no flood of changes holds up a line with all levels for longer."""
    assert longest_without_all_ms(played(library, levels_of(first, togglings))) <= 1000


def test_nor_does_the_longest_queue(library: LineLibrary) -> None:
    """Lines as long as they get, and just so many changes that none is left out: all wait, and a second is kept."""
    longest_lines = [Toggling(ALL, 1, 900)]
    swells = [[Toggling(0, 1, 1500 + 37 * n), Toggling(ALL, 1, 6), Toggling(ALL, 50, 8)] for n in range(11)]
    levels = levels_of(0, [*longest_lines, *(each for swell in swells for each in swell)])
    sent = played(library, levels, clock_ms=3_000_000_000)
    check(levels, sent, 3_000_000_000)
    assert 800 < longest_without_all_ms(sent) <= 1000


@settings(deadline=None)
@given(st.integers(0, ALL), TOGGLINGS)
def test_a_change_that_is_left_out_is_soon_made_good(
    library: LineLibrary, first: int, togglings: list[Toggling]
) -> None:
    """A line with all levels is made within 60 ms of any change whose line is missing."""
    levels = levels_of(first, togglings)
    assert late_repairs_ms(levels, played(library, levels)) == []


def test_also_while_all_inputs_flood(library: LineLibrary) -> None:
    """Every input goes over each millisecond for three seconds: lines with all levels come all the while."""
    levels = levels_of(0, [Toggling(ALL, 1, 3000)])
    sent = played(library, levels)
    check(levels, sent)
    assert late_repairs_ms(levels, sent) == []
    assert longest_without_all_ms(sent) <= 1000


def late_repairs_ms(levels: list[int], sent: list[Sent]) -> list[int]:
    """When a change was left out after which no line with all levels was made for 60 ms."""
    lines = [heard.line for heard in heard_of(sent)]
    whole_ms = [since(line, 0) for line in lines if line.whole]
    told = {(since(line, 0), number) for line in lines if not line.whole for number in line.levels}
    seen = {(ms, number) for ms in range(len(levels)) for number in changed(levels, ms)}
    return sorted({ms for ms, _ in seen - told if not any(ms <= at_ms <= ms + 60 for at_ms in whole_ms)})


@settings(deadline=None)
@given(st.integers(0, ALL), TOGGLINGS, st.sets(st.integers(1, 400)))
def test_lines_that_are_lost_on_the_way_are_made_good(
    library: LineLibrary, first: int, togglings: list[Toggling], lost: set[int]
) -> None:
    """After a gap the next line with all levels has the reader right again, and the gap is counted."""
    levels = levels_of(first, togglings)
    sent = played(library, levels)
    came = [line for n, line in enumerate(sent) if n not in lost or n >= len(sent) - 1]
    heard = heard_of(came)
    assert left_out(heard) == left_out(heard_of(sent)) + len(sent) - len(came)
    known: Levels = {}
    for each in heard:
        known |= each.line.levels
        assert not each.line.whole or known == as_levels(levels[since(each.line, 0)])


def test_every_input_may_bounce_at_once(library: LineLibrary) -> None:
    """All motors start together and every contact bounces as long as contacts do: each edge is told, to the
    millisecond."""
    levels = levels_of(0, [Toggling(0, 1, 50), ONE_BOUNCE, Toggling(0, 1, 500), ONE_BOUNCE])
    sent = played(library, levels)
    check(levels, sent)
    heard = heard_of(sent)
    assert left_out(heard) == 0
    assert sum(not each.line.whole for each in heard) == 2 * 7 * INPUTS


def test_twenty_changes_a_second_are_all_told(library: LineLibrary) -> None:
    """One input may do that for a minute."""
    levels = levels_of(0, [Toggling(0b100, 50, 20 * 60)])
    assert left_out(heard_of(played(library, levels))) == 0


def test_an_input_that_flickers_does_not_hide_another(library: LineLibrary) -> None:
    """One contact goes over each millisecond for ten seconds; every change of the others is told, and at once."""
    flicker, others = 0b1, 0b110
    levels = [flicker * (ms % 2) | others * (ms // 250 % 2) for ms in range(10_000)] + [0] * 2500
    sent = played(library, levels)
    check(levels, sent)
    changes = [(line, heard.line) for line, heard in zip(sent, heard_of(sent), strict=True) if not heard.line.whole]
    of_others = [(line.at_ms - since(told, 0)) for line, told in changes if 1 not in told.levels]
    assert len(of_others) == 2 * 40
    assert max(of_others) < 60
    assert len(changes) - len(of_others) <= 8 + 20 * 10


def test_a_long_rest_saves_nothing_up(library: LineLibrary) -> None:
    """A contact that was still for a quarter of an hour may send as many lines as any other when it begins to flicker,
    and no fewer."""
    box = Box(library, 0, 0)
    for second in range(1, 900):
        box.scan(0, second * 1000)
        box.next_line()
    for ms in range(1, 1001):
        box.scan(ms % 2, 900_000 + ms)
    waiting = []
    while text := box.next_line():
        waiting.append(text)
    assert sum(text.startswith(b"C") for text in waiting) == 8 + 20


def test_the_first_edge_of_a_bounce_has_its_own_time(library: LineLibrary) -> None:
    """Nothing is waited for: the first line of a contact that bounces has the time at which it closed first."""
    levels = levels_of(0, [Toggling(0, 1, 99), Toggling(0b1000, 1, 31)])
    first = next(each.line for each in heard_of(played(library, levels)) if not each.line.whole)
    assert (first.levels, first.device_ms) == ({4: True}, 100)


@pytest.mark.parametrize("first", [0, 0b1010, ALL])
def test_a_box_that_is_switched_on_says_all_levels_first(library: LineLibrary, first: int) -> None:
    """Number 0, and the levels as they are; nothing of what was in its memory before."""
    (heard,) = LineReader().feed(Box(library, first, 7).next_line())
    assert isinstance(heard, Heard)
    assert (heard.line.seq, heard.line.levels, heard.restarted) == (0, as_levels(first), True)


def test_after_the_last_number_comes_one(library: LineLibrary) -> None:
    """0 is for the first line after power-up alone; 65535 is followed by 1."""
    box = Box(library, 0, 0)
    reader = LineReader()
    heard = reader.feed(box.next_line())
    for n in range(1, 2**16 + 5):
        box.scan(0, n * 400)
        heard += reader.feed(box.next_line())
    numbers = [each.line.seq for each in heard if isinstance(each, Heard)]
    assert numbers == [*range(2**16), 1, 2, 3, 4, 5]
    assert left_out([each for each in heard if isinstance(each, Heard)]) == 0


def test_a_line_that_takes_nothing_is_never_waited_for(library: LineLibrary) -> None:
    """A box whose line stands for a minute scans on; what it says then is true, and the last of it is now."""
    box = Box(library, 0, 0)
    levels = [ms // 10 % 2 * ALL for ms in range(60_001)]
    for ms, closed in enumerate(levels[1:], 1):
        box.scan(closed, ms)
    waiting = []
    while text := box.next_line():
        waiting.append(text)
    assert len(waiting) == 100
    box.scan(levels[-1], 60_001)
    (heard,) = LineReader().feed(box.next_line())
    assert isinstance(heard, Heard)
    assert heard.line.levels == as_levels(levels[-1])
