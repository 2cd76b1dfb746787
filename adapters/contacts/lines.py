"""The text lines that a box with inputs sends: one for each change, and all levels when there is none.

A line is `C 17 3 1 @5120 *C753` or `L 18 001- *6862`, ended by a line feed. fixtures/README.md has the format.
"""

import binascii
import re
from typing import Final, NamedTuple

MOST_INPUTS: Final = 64
"""Chosen: one line stays under a tenth of a second at 9600 baud."""

LINE_BYTES: Final = 128
"""No line is longer; what is, is damage. Chosen: all levels of the most inputs take 92."""

SEQUENCE_LAST: Final = 65_535
"""The number after this is 1: 0 is only for the first line after the box was switched on."""

CLOCK_WINDOW_US: Final = 3_000_000
"""How long the quickest line is taken for a measure of the box's clock. Chosen: three lines come in it at least, and a
clock that is half a percent slow, as without a crystal it may be (from memory), makes 15 to 35 ms of it."""

CLOCK_SLIP_US: Final = 5_000_000
"""A line that seems to have been on its way for longer comes from a clock that was set. Chosen."""

_SHAPE: Final = re.compile(
    r"(?:C (?P<seq>[0-9]{1,5}) (?P<input>[0-9]{1,2}) (?P<level>[01])"
    r"|L (?P<all_seq>[0-9]{1,5}) (?P<levels>[01-]{1,64}))(?: @(?P<ms>[0-9]{1,10}))? \*(?P<check>[0-9A-F]{4})"
)


class Line(NamedTuple):
    """One line as sent: `levels` by input, counted from 1; None where the box does not know.

    `whole` says that these are all levels there are, as of `device_ms` of the box's own clock (None if it sends none).
    """

    seq: int
    levels: dict[int, bool | None]
    whole: bool
    device_ms: int | None = None


class Heard(NamedTuple):
    """A sound line, with how many before it never came, and whether the box has started again before it."""

    line: Line
    lost: int
    restarted: bool


class Damaged(NamedTuple):
    """Something that was no sound line; the text says why, and is one of a few: nothing that came in is part of it."""

    text: str


def check_of(text: str) -> str:
    """The check of a line's text before ` *`: four digits, capital.

    CRC-16 with the polynomial of ITU-T V.41 (0x1021) from 0xFFFF, not reflected, as `binascii.crc_hqx` has it.
    """
    return f"{binascii.crc_hqx(text.encode('ascii'), 0xFFFF):04X}"


def text_from_line(line: Line) -> str:
    """Write a line as a box does, without its line feed."""
    if line.whole:
        signs = {True: "1", False: "0", None: "-"}
        body = f"L {line.seq} " + "".join(signs[line.levels[number]] for number in sorted(line.levels))
    else:
        ((number, level),) = line.levels.items()
        body = f"C {line.seq} {number} {int(bool(level))}"
    if line.device_ms is not None:
        body += f" @{line.device_ms}"
    return f"{body} *{check_of(body)}"


def line_from_bytes(data: bytes) -> Line | Damaged:
    """Read one line, without its line feed."""
    text = data.decode("ascii", "replace").removesuffix("\r")
    match = _SHAPE.fullmatch(text)
    if match is None:
        return Damaged("found no line of the format")
    if match["check"] != check_of(text[: match.start("check") - 2]):
        return Damaged("found a line whose check does not fit")
    return _line(match)


def _line(match: re.Match[str]) -> Line | Damaged:
    seq, ms = int(match["seq"] or match["all_seq"]), match["ms"]
    device_ms = int(ms) if ms else None
    if seq > SEQUENCE_LAST or (device_ms or 0) >= 1 << 32:
        return Damaged("found a number, or a time of its clock, past the format's last")
    if match["levels"]:
        signs = {"1": True, "0": False}
        return Line(seq, {n: signs.get(sign) for n, sign in enumerate(match["levels"], 1)}, True, device_ms)
    number = int(match["input"])
    if not 1 <= number <= MOST_INPUTS:
        return Damaged(f"found an input past the format's last; accepted 1 to {MOST_INPUTS}")
    return Line(seq, {number: match["level"] == "1"}, False, device_ms)


class LineReader:
    """Lines out of bytes as they come, however they are cut; what was lost or damaged on the way is said."""

    def __init__(self) -> None:
        self._held = b""
        self._begins = True
        self._skipping = False
        self._last: int | None = None

    def feed(self, data: bytes) -> list[Heard | Damaged]:
        """Take the next bytes; give what they complete."""
        self._held += data
        *ended, self._held = self._held.split(b"\n")
        told = [heard for raw in ended if (heard := self._ended(raw)) is not None]
        if len(self._held) > LINE_BYTES:
            self._held, told = b"", told if self._skipping else [*told, Damaged("found a line without an end")]
            self._skipping = True
        return told

    def _ended(self, raw: bytes) -> Heard | Damaged | None:
        begins, self._begins = self._begins, False
        heard = self._whole(raw)
        # Whoever begins to listen hears the end of a line: that is no damage.
        return None if begins and isinstance(heard, Damaged) else heard

    def _whole(self, raw: bytes) -> Heard | Damaged | None:
        if self._skipping:
            self._skipping = False
            return None
        if len(raw) > LINE_BYTES:
            return Damaged(f"found a line that is too long; accepted {LINE_BYTES} bytes")
        line = line_from_bytes(raw) if raw.strip() else None
        return self._in_sequence(line) if isinstance(line, Line) else line

    def _in_sequence(self, line: Line) -> Heard | None:
        """A line with what is missing before it; None for one that came before."""
        last, self._last = self._last, line.seq
        if last is None or line.seq == 0:
            return Heard(line, 0, line.seq == 0)
        if line.seq == last:
            return None
        lost = (line.seq - (last % SEQUENCE_LAST + 1)) % SEQUENCE_LAST
        return Heard(line, 0, True) if lost > SEQUENCE_LAST // 2 else Heard(line, lost, False)


class DeviceClock:
    """When something happened, out of the box's own clock and of when its lines came.

    No line comes before it was sent: of the last lines the quickest says how far the two clocks are apart.
    """

    def __init__(self) -> None:
        self.restart()

    def restart(self) -> None:
        """The box was switched on again: its clock began anew."""
        self._turns = 0
        self._last_ms = 0
        self._window_ends_us: int | None = None
        self._apart_us: int | None = None
        self._apart_before_us: int | None = None

    def at_us(self, device_ms: int, arrived_us: int) -> int:
        """When the box wrote `device_ms`, by the clock that `arrived_us` is of; never after it."""
        if device_ms < self._last_ms - (1 << 31):
            self._turns += 1
        self._last_ms = device_ms
        device_us = (device_ms + (self._turns << 32)) * 1000
        at_us = device_us + self._quickest_us(arrived_us - device_us, arrived_us)
        if arrived_us - at_us <= CLOCK_SLIP_US:
            return at_us
        self.restart()
        return self.at_us(device_ms, arrived_us)

    def _quickest_us(self, apart_us: int, arrived_us: int) -> int:
        if self._window_ends_us is None or arrived_us > self._window_ends_us:
            self._window_ends_us = arrived_us + CLOCK_WINDOW_US
            self._apart_before_us, self._apart_us = self._apart_us, None
        self._apart_us = apart_us if self._apart_us is None else min(self._apart_us, apart_us)
        return self._apart_us if self._apart_before_us is None else min(self._apart_us, self._apart_before_us)
