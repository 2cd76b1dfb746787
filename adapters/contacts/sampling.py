"""The tick on which a gateway takes its inputs over, found in the times at which they change."""

from collections import deque
from typing import Final

DIFFERENCES: Final = 16
"""So many times between one change and the next have to lie on a tick. Chosen."""

LONGEST_US: Final = 3_000_000
"""Longer times say nothing: two clocks are too far apart by then, and a tick of a few percent more fits too. Chosen."""

TICKS_US: Final = (80_000, 1_250_000)
"""Between these a tick is looked for: a quicker one hides in `contact_sigma_s`. Chosen."""

LEAST_ERROR_US: Final = 10_000
"""What a line of text is held up on its way. Chosen."""

_FINER: Final = 1.002  # from one tick that is tried to the next: over LONGEST_US the phase moves by a tenth of a tick
_BY_CHANCE: Final = 1e-10  # what random times lie on more often is no tick; some thousand are tried. Chosen


class Sampling:
    """Takes when contacts changed, and says on which tick that was, if it was on one.

    A tick is believed where random times would hardly lie on it: each lies within `e` of a multiple of `T` with the
    probability `2 e / T`. Here `e` is the widest of the polls between which a change was seen.
    """

    def __init__(self) -> None:
        self._last_us: int | None = None
        self._apart_us: deque[int] = deque(maxlen=DIFFERENCES)
        self._error_us: deque[int] = deque(maxlen=DIFFERENCES)
        self._tick_us: int | None = None
        self._is_new = False

    def see(self, early_us: int, late_us: int) -> None:
        """Take a change of any input of the gateway, which came between these two."""
        last_us, self._last_us = self._last_us, late_us
        error_us = max(LEAST_ERROR_US, late_us - early_us)
        # Changes of one tick come together, and tell of none.
        if last_us is None or not 2 * error_us < late_us - last_us <= LONGEST_US:
            return
        self._apart_us.append(late_us - last_us)
        self._error_us.append(error_us)
        self._is_new = True

    def tick_us(self) -> int | None:
        """The tick as it was last to be seen, None where it never was; worked out when somebody asks."""
        if self._is_new and len(self._apart_us) == DIFFERENCES:
            self._tick_us = self._found_us(max(self._error_us)) or self._tick_us
            self._is_new = False
        return self._tick_us

    def _found_us(self, error_us: int) -> int | None:
        """The longest tick of which all are multiples: what fits it fits a half and a third of it too."""
        tick_us = float(TICKS_US[1])
        while tick_us >= TICKS_US[0] and (2.0 * error_us / tick_us) ** DIFFERENCES < _BY_CHANCE:
            if all(_is_on(apart_us, tick_us, error_us) for apart_us in self._apart_us):
                return self._refined_us(tick_us)
            tick_us /= _FINER
        return None

    def _refined_us(self, tick_us: float) -> int:
        """All times over all ticks: what each is off by evens out. To a hundredth of a second."""
        ticks = sum(round(apart_us / tick_us) for apart_us in self._apart_us)
        return round(sum(self._apart_us) / ticks / 10_000) * 10_000


def _is_on(apart_us: int, tick_us: float, error_us: int) -> bool:
    ticks = round(apart_us / tick_us)
    return ticks > 0 and abs(apart_us - tick_us * ticks) <= error_us
