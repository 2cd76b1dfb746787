"""A box with inputs that sends lines of text, written from its format in fixtures/README.md."""

from collections.abc import Callable
from typing import Final

from adapters.contacts.pretend.wires import Wire

_LAST_NUMBER: Final = 65_535
_CLOCK_TURNS_MS: Final = 1 << 32
_POLYNOMIAL: Final = 0x1021
_SIGNS: Final = {True: "1", False: "0", None: "-"}


class TextBox:
    """A box at a wire. `levels` are its inputs from 1 on: closed, open, or not known to it (None).

    `clock_ms` is the box's own clock, None where its lines carry no time. A `silent` box sends nothing.
    """

    def __init__(self, wire: Wire, inputs: int, clock_ms: Callable[[], int] | None = None) -> None:
        self.levels: dict[int, bool | None] = dict.fromkeys(range(1, inputs + 1), False)
        self.silent = False
        self._wire = wire
        self._clock_ms = clock_ms
        self._number = -1

    def restart(self) -> None:
        """It was switched on: its next line has the number 0."""
        self._number = -1

    def all_levels(self) -> None:
        """Say all levels, as it has to once a second and first of all."""
        self._say("L", "".join(_SIGNS[level] for _, level in sorted(self.levels.items())))

    def change(self, number: int, closed: bool) -> None:
        """An input goes over."""
        self.levels[number] = closed
        self._say("C", f"{number} {closed:d}")

    def lose(self, number: int, closed: bool) -> None:
        """An input goes over, and its line never comes."""
        self.levels[number] = closed
        self._count()

    def send_bytes(self, data: bytes) -> None:
        """Whatever it is, down the wire."""
        self._wire.send(data)

    def _say(self, kind: str, what: str) -> None:
        text = f"{kind} {self._count()} {what}"
        if self._clock_ms is not None:
            text += f" @{self._clock_ms() % _CLOCK_TURNS_MS}"
        if not self.silent:
            self._wire.send(f"{text} *{check_of(text)}\n".encode("ascii"))

    def _count(self) -> int:
        self._number = self._number + 1 if self._number < _LAST_NUMBER else 1
        return self._number


def check_of(text: str) -> str:
    """The check of a line's text, bit by bit: ITU-T V.41's polynomial from 0xFFFF, highest bit first."""
    crc = 0xFFFF
    for byte in text.encode("ascii"):
        crc ^= byte << 8
        for _ in range(8):
            crc = ((crc << 1) ^ _POLYNOMIAL if crc & 0x8000 else crc << 1) & 0xFFFF
    return f"{crc:04X}"
