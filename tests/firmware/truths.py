"""What the lines of a box have to be, given what its inputs were, a millisecond at a time."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from hypothesis import strategies as st

from adapters.contacts.lines import LINE_BYTES, Damaged, Heard, Line, LineReader
from tests.firmware.boxes import INPUTS, REST_MS, Sent

Levels = dict[int, bool | None]


class Toggling(NamedTuple):
    """Some inputs go over `times` times, once in `every_ms`."""

    inputs: int
    every_ms: int
    times: int


TOGGLINGS = st.lists(
    st.builds(Toggling, st.integers(0, 2**INPUTS - 1), st.integers(1, 60), st.integers(1, 30)), max_size=12
)
CLOCKS_MS = st.sampled_from([0, 2**31 - 700, 2**32 - 700])


def levels_of(first: int, togglings: Sequence[Toggling], rest_ms: int = REST_MS) -> list[int]:
    """The levels at each millisecond, with a rest at the end."""
    levels = [first]
    for each in togglings:
        for _ in range(each.times):
            levels += [levels[-1]] * (each.every_ms - 1) + [levels[-1] ^ each.inputs]
    return levels + [levels[-1]] * rest_ms


def heard_of(sent: Sequence[Sent]) -> list[Heard]:
    """The lines as Festoon reads them; AssertionError where one is not sound."""
    told = LineReader().feed(b"".join(line.text for line in sent))
    damaged = [each for each in told if isinstance(each, Damaged)]
    assert damaged == []
    assert max(len(line.text) for line in sent) <= LINE_BYTES
    return [each for each in told if isinstance(each, Heard)]


def check(levels: Sequence[int], sent: Sequence[Sent], clock_ms: int = 0) -> None:
    """Every line says what was so at its time, and has the number that is its own; at the end all is known."""
    heard = [each.line for each in heard_of(sent)]
    assert len(heard) == len(sent)
    assert heard[0].seq == 0
    assert heard[0].whole
    number_of = numbers(levels, [line for line in heard if line.whole], clock_ms)
    for line in heard:
        at_ms = since(line, clock_ms)
        if line.whole:
            assert line.levels == as_levels(levels[at_ms])
        else:
            ((number, level),) = line.levels.items()
            assert level is as_levels(levels[at_ms])[number]
            assert level is not as_levels(levels[at_ms - 1])[number]
        assert line.seq == number_of[at_ms, None if line.whole else next(iter(line.levels))]
    assert rebuilt(heard) == as_levels(levels[-1])


def numbers(levels: Sequence[int], whole: Sequence[Line], clock_ms: int) -> dict[tuple[int, int | None], int]:
    """The number of each change, by time and input, and of each line with all levels: that of its place among them."""
    all_at = {since(line, clock_ms) for line in whole}
    assert len(all_at) == len(whole)
    counted = (place for ms in range(len(levels)) for place in happened(levels, ms, ms in all_at))
    return {place: n if n <= 65_535 else (n - 1) % 65_535 + 1 for n, place in enumerate(counted)}


def happened(levels: Sequence[int], ms: int, whole: bool) -> Iterator[tuple[int, int | None]]:
    for number in changed(levels, ms):
        yield ms, number
    if whole:
        yield ms, None


def changed(levels: Sequence[int], ms: int) -> list[int]:
    """The inputs that went over at that millisecond."""
    differs = levels[ms] ^ levels[ms - 1] if ms else 0
    return [number for number in range(1, INPUTS + 1) if differs >> (number - 1) & 1]


def since(line: Line, clock_ms: int) -> int:
    """When a line says that it was so, in ms after power-up."""
    assert line.device_ms is not None
    return (line.device_ms - clock_ms) % 2**32


def as_levels(closed: int) -> Levels:
    return {number: bool(closed >> (number - 1) & 1) for number in range(1, INPUTS + 1)}


def rebuilt(lines: Sequence[Line]) -> Levels:
    """The levels as a reader has them after these lines."""
    known: Levels = {}
    for line in lines:
        known |= line.levels
    return known


def left_out(heard: Sequence[Heard]) -> int:
    """How many lines never came."""
    return sum(each.lost for each in heard)


def longest_without_all_ms(sent: Sequence[Sent]) -> float:
    """The longest time between two lines with all levels, as they were out."""
    at_ms = [line.at_ms for line in sent if line.text.startswith(b"L")]
    return max(later - earlier for earlier, later in pairwise(at_ms))
