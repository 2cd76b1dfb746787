"""The firmware's boxes: its logic in this computer's own code, and its build on a simulated board."""

import ctypes
import re
import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path
from typing import Final, NamedTuple

from tests.repository.checkout import ROOT

FIRMWARE: Final = ROOT / "adapters" / "contacts" / "firmware"
README: Final = ROOT / "adapters" / "contacts" / "README.md"
HERE: Final = ROOT / "tests" / "firmware"

INPUTS: Final = 12
BAUD: Final = 57_600
POWER_UP_MS: Final = 20
"""As in main_avr.c: when the simulated board scans first."""

REST_MS: Final = 1500
"""Chosen: by then every line has gone out at the usual speed, and one with all levels after them."""

PINS: Final = [("D", n) for n in range(2, 8)] + [("C", n) for n in range(6)]
"""Where inputs 1 to 12 are, as the README tells the technician."""

_GUARD: Final = b"\xa5" * 64
_STRICT: Final = ("-std=c11", "-Wall", "-Wextra", "-Werror")


class Sent(NamedTuple):
    """One line with its line feed, and when its last byte was out, in ms after power-up."""

    at_ms: float
    text: bytes


def ran(*command: str | Path, folder: Path, said: str = "") -> str:
    """Run a command; what it printed. AssertionError where it fails or is not there."""
    missing = f"{command[0]} is missing: on Debian, apt-get install gcc libc6-dev gcc-avr avr-libc libsimavr-dev"
    assert shutil.which(str(command[0])), missing
    done = subprocess.run(command, cwd=folder, input=said, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


class LineLibrary:
    """line.c as a library of this computer. Undefined behaviour ends the process; all warnings are errors."""

    def __init__(self, folder: Path) -> None:
        made = folder / "line.so"
        checks = ("-Wconversion", "-fsanitize=undefined", "-fsanitize-undefined-trap-on-error", "-shared", "-fPIC")
        sources = (FIRMWARE / "line.c", HERE / "host.c")
        ran("gcc", *_STRICT, *checks, f"-I{FIRMWARE}", "-o", made, *sources, folder=folder)
        self.calls = ctypes.CDLL(str(made))
        self.calls.lines_begin.argtypes = self.calls.lines_scan.argtypes = (
            ctypes.c_void_p,
            ctypes.c_uint16,
            ctypes.c_uint32,
        )
        self.calls.lines_begin.restype = self.calls.lines_scan.restype = None
        self.calls.lines_next.argtypes = (ctypes.c_void_p, ctypes.c_void_p)
        self.calls.lines_next.restype = ctypes.c_uint8
        self.calls.line_check.argtypes = (ctypes.c_char_p, ctypes.c_uint8)
        self.calls.line_check.restype = ctypes.c_uint16
        self.calls.lines_size.restype = ctypes.c_size_t

    def check(self, text: bytes) -> int:
        return int(self.calls.line_check(text, len(text)))


class Box:
    """One box of the library, switched on at `now_ms` of its clock. Nothing may be written beside what is its own."""

    def __init__(self, library: LineLibrary, closed: int, now_ms: int) -> None:
        self._calls = library.calls
        self._size = int(self._calls.lines_size())
        # Memory is not empty at power-up.
        self._state = ctypes.create_string_buffer(b"\x5a" * self._size + _GUARD, self._size + len(_GUARD))
        self._text = ctypes.create_string_buffer(39 + len(_GUARD))
        self._calls.lines_begin(self._state, closed, now_ms % 2**32)

    def scan(self, closed: int, now_ms: int) -> None:
        self._calls.lines_scan(self._state, closed, now_ms % 2**32)

    def next_line(self) -> bytes:
        """The next line that waits; empty where none does."""
        ctypes.memset(self._text, 0xA5, len(self._text))
        length = int(self._calls.lines_next(self._state, self._text))
        assert self._text.raw[39:] == _GUARD
        assert self._state.raw[self._size :] == _GUARD
        return self._text.raw[:length]


class Transmitter:
    """A serial line behind a box: it takes a line when the one before is out, and is never waited for."""

    def __init__(self, box: Box, baud: int) -> None:
        self.sent: list[Sent] = []
        self._box = box
        self._byte_ms = 10_000 / baud
        self._out = b""
        self._free_ms = 0.0

    def go_on(self, now_ms: int) -> None:
        """Send what can be sent until a millisecond is over."""
        while self._free_ms < now_ms + 1:
            if self._out:
                self.sent.append(Sent(self._free_ms, self._out))
            self._out = self._box.next_line()
            self._free_ms = max(self._free_ms, now_ms) + len(self._out) * self._byte_ms
            if not self._out:
                return


def played(library: LineLibrary, levels: Sequence[int], baud: int = BAUD, clock_ms: int = 0) -> list[Sent]:
    """What a box sends whose inputs are so, one set of levels a millisecond; its clock is at `clock_ms` at power-up."""
    box = Box(library, levels[0], clock_ms)
    wire = Transmitter(box, baud)
    wire.go_on(0)
    for now_ms, closed in enumerate(levels[1:], 1):
        box.scan(closed, clock_ms + now_ms)
        wire.go_on(now_ms)
    return wire.sent


class Board:
    """The firmware as its README has it built, on a simulated ATmega328P."""

    def __init__(self, folder: Path, clock_ms: int = 0) -> None:
        """Build both; with `clock_ms` the board's clock starts there, and the rest is as it is handed out."""
        self.folder = folder
        for path in FIRMWARE.iterdir():
            shutil.copy(path, folder)
        if clock_ms:
            source = folder / "main_avr.c"
            text, places = re.subn(
                r"uint32_t clock_ms;", f"uint32_t clock_ms = {clock_ms}u;", source.read_text("utf-8")
            )
            assert places == 1
            source.write_text(text, "utf-8")
        for command in build_commands():
            ran(*command.split(), folder=folder)
        self.simulator = folder / "board"
        ran("gcc", *_STRICT, "-O2", "-o", self.simulator, HERE / "board.c", "-lsimavr", folder=folder)

    @property
    def firmware(self) -> Path:
        return self.folder / "box.elf"

    def sent(self, script: str) -> list[Sent]:
        """What it sends while a script of board.c is done to it."""
        said = ran(self.simulator, self.firmware, folder=self.folder, said=script)
        lines, held = [], bytearray()
        for row in said.splitlines():
            at_us, byte = row.split()
            held.append(int(byte))
            if byte == "10":
                lines.append(Sent(int(at_us) / 1000, bytes(held)))
                held.clear()
        return lines


def build_commands() -> list[str]:
    """The commands of the README that build the firmware."""
    found = re.findall(r"^    (avr-(?:gcc|objcopy) .*)$", README.read_text(encoding="utf-8"), re.MULTILINE)
    assert [command.split()[0] for command in found] == ["avr-gcc", "avr-objcopy"]
    return found


def scanned_us(clock_ms: int) -> int:
    """When the simulated board scans, by its clock. Measured: 0.4 ms after that, and under a flood 0.25 ms later."""
    return clock_ms * 1000 + 400


def script_from_levels(levels: Sequence[int]) -> str:
    """Have a board's inputs be so, one set of levels a millisecond from its first scan on."""
    rows, before = [], 0
    for ms, closed in enumerate(levels, POWER_UP_MS):
        for number in range(INPUTS):
            if (closed ^ before) >> number & 1:
                port, pin = PINS[number]
                rows.append(f"{scanned_us(ms) - 500} pin {port} {pin} {int(not closed >> number & 1)}")
        before = closed
    return "\n".join([*rows, f"{(POWER_UP_MS + len(levels)) * 1000} end\n"])
