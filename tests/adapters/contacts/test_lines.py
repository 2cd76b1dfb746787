"""The text line: read a byte at a time, with what was lost and damaged on the way."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.contacts.lines import (
    LINE_BYTES,
    SEQUENCE_LAST,
    Damaged,
    DeviceClock,
    Heard,
    Line,
    LineReader,
    check_of,
    line_from_bytes,
    text_from_line,
)
from tests.adapters.contacts.wired import MS, S

LINES = st.one_of(
    st.builds(
        lambda seq, number, level, ms: Line(seq, {number: level}, False, ms),
        st.integers(0, SEQUENCE_LAST),
        st.integers(1, 64),
        st.booleans(),
        st.none() | st.integers(0, 2**32 - 1),
    ),
    st.builds(
        lambda seq, levels, ms: Line(seq, dict(enumerate(levels, 1)), True, ms),
        st.integers(0, SEQUENCE_LAST),
        st.lists(st.none() | st.booleans(), min_size=1, max_size=64),
        st.none() | st.integers(0, 2**32 - 1),
    ),
)


def sent(*lines: Line) -> bytes:
    return b"".join(text_from_line(line).encode() + b"\n" for line in lines)


def all_levels(seq: int) -> Line:
    return Line(seq, {1: False}, True)


def test_the_check_is_the_one_that_is_named() -> None:
    """CRC-16 of polynomial 0x1021 from 0xFFFF gives 29B1 for the digits 1 to 9 (catalogue value, from memory)."""
    assert check_of("123456789") == "29B1"


def test_lines_are_written_as_the_documentation_shows() -> None:
    """Whoever programs a box can hold it against these two."""
    assert text_from_line(Line(17, {3: True}, False, 5120)) == f"C 17 3 1 @5120 *{check_of('C 17 3 1 @5120')}"
    levels = {1: False, 2: False, 3: True, 4: None}
    assert text_from_line(Line(18, levels, True)) == f"L 18 001- *{check_of('L 18 001-')}"


@given(LINES)
def test_what_is_written_is_read_again(line: Line) -> None:
    """Every line there can be comes back as it was, with either line end."""
    data = text_from_line(line).encode()
    assert len(data) <= LINE_BYTES
    assert line_from_bytes(data) == line_from_bytes(data + b"\r") == line


@given(LINES, st.integers(0, 1000), st.integers(0, 7))
def test_a_line_with_one_wrong_bit_is_never_taken(line: Line, place: int, bit: int) -> None:
    """A check of 16 bits finds every single error."""
    data = bytearray(text_from_line(line).encode())
    data[place % len(data)] ^= 1 << bit
    assert isinstance(line_from_bytes(bytes(data)), Damaged)


@given(st.lists(LINES, max_size=8), st.lists(st.integers(1, 30), min_size=1, max_size=40))
def test_lines_do_not_depend_on_how_they_are_cut(lines: list[Line], cuts: list[int]) -> None:
    """A serial line hands over its bytes as it likes."""
    data, whole = sent(*lines), LineReader()
    at_once, pieces = whole.feed(data), LineReader()
    told = []
    for n in range(len(data) + 1):
        size = cuts[n % len(cuts)]
        told += pieces.feed(data[:size])
        data = data[size:]
    assert told == at_once


@given(st.lists(st.binary(max_size=300), max_size=20))
def test_no_bytes_end_it_and_a_sound_line_is_read_after_them(noise: list[bytes]) -> None:
    """Whatever comes down the wire, the next line counts."""
    reader = LineReader()
    for data in noise:
        reader.feed(data)
    reader.feed(b"\n")
    assert reader.feed(sent(all_levels(0))) == [Heard(all_levels(0), 0, True)]


def test_an_endless_line_is_told_once_and_holds_nothing() -> None:
    """A box of another speed sends no line ends: that is damage, and no memory."""
    reader = LineReader()
    told = [each for _ in range(100) for each in reader.feed(b"x" * 100)]
    assert told == [Damaged("found a line without an end")]


@pytest.mark.parametrize(
    ("numbers", "lost"),
    [
        ([1, 2, 3], [0, 0, 0]),
        ([1, 4], [0, 2]),
        ([SEQUENCE_LAST - 1, SEQUENCE_LAST, 1, 2], [0, 0, 0, 0]),
        ([SEQUENCE_LAST, 3], [0, 2]),
        ([5, 5, 6], [0, 0]),
    ],
    ids=["none", "two", "turns over", "lost over the turn", "sent twice"],
)
def test_what_was_lost_is_counted(numbers: list[int], lost: list[int]) -> None:
    """The sequence number says how many lines never came; one that comes twice counts once."""
    heard = LineReader().feed(sent(*map(all_levels, numbers)))
    assert [each.lost for each in heard if isinstance(each, Heard)] == lost
    assert not any(each.restarted for each in heard if isinstance(each, Heard))


def test_a_box_that_was_switched_on_again_is_known_by_its_number() -> None:
    """0 is only the first line after it was switched on; a number far back can be nothing else."""
    heard = LineReader().feed(sent(*map(all_levels, [7, 0, 1, 30_000, 2])))
    assert [each.restarted for each in heard if isinstance(each, Heard)] == [False, True, False, False, True]


def test_the_quickest_line_sets_the_clocks() -> None:
    """A line that was held up says when it was written, not when it came."""
    clock = DeviceClock()
    assert clock.at_us(1_000, 5_002_000) == 5_002_000
    assert clock.at_us(1_100, 5_100_500) == 5_100_500
    assert clock.at_us(1_200, 5_216_000) == 5_200_500
    assert clock.at_us(1_300, 5_300_500) == 5_300_500


@pytest.mark.parametrize("slow", [0.005, 0.0001, -0.005])
def test_a_box_without_a_crystal_is_dated_to_a_film_frame(slow: float) -> None:
    """Half a percent slow or fast, a line a second for ten minutes, each held up by 2 to 8 ms: within 42 ms."""
    clock = DeviceClock()
    for n in range(600):
        device_ms = round(n * 1000 * (1.0 - slow))
        error_us = clock.at_us(device_ms, n * S + (2 + n * 7 % 7) * MS) - n * S
        assert -42 * MS < error_us <= 8 * MS


def test_a_clock_that_turns_over_goes_on() -> None:
    """A box may run for longer than the 49.7 days of its counter."""
    clock = DeviceClock()
    clock.at_us(2**32 - 100, 1_000_000)
    assert clock.at_us(100, 1_230_000) == 1_200_000


def test_a_clock_that_was_set_is_measured_anew() -> None:
    """A time long before the line came is not believed."""
    clock = DeviceClock()
    clock.at_us(1_000_000, 1_000_000)
    assert clock.at_us(10_000, 9_000_000) == 9_000_000


@given(st.lists(st.tuples(st.integers(0, 40_000), st.integers(0, 30)), min_size=1, max_size=60))
def test_nothing_happens_after_it_is_heard_of(steps: list[tuple[int, int]]) -> None:
    """However lines are held up, an edge is dated no later than its line came, and no earlier than it was written."""
    clock, device_ms = DeviceClock(), 0
    for after_ms, held_ms in steps:
        device_ms += after_ms
        arrived_us = (device_ms + held_ms) * 1000
        at_us = clock.at_us(device_ms, arrived_us)
        assert device_ms * 1000 <= at_us <= arrived_us


def test_whoever_begins_to_listen_in_the_middle_of_a_line_is_told_of_no_damage() -> None:
    """The end of a line that was begun before is not a damaged one; what is damaged after it is."""
    whole = sent(all_levels(5))
    reader = LineReader()
    assert reader.feed(whole[4:]) == []
    assert reader.feed(whole) == [Heard(all_levels(5), 0, False)]
    assert reader.feed(whole[4:]) == [Damaged("found no line of the format")]
