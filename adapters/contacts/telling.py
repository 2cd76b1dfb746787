"""What a feed has to complain of, told in few notes however often it happens."""

from collections import deque
from dataclasses import dataclass
from typing import Final

from adapters.contacts.inputs import InputBank

MINUTE_US: Final = 60_000_000
AGAIN_US: Final = 4_000_000
"""What happens again is told after so long, and then after twice as long each time, up to a minute. Chosen."""

MOST: Final = 4
"""So many notes of what happened again are told a minute. Chosen."""


@dataclass(slots=True)
class _Trouble:
    """One sentence that was told: when, how often it came since, and how long it waits to be told again."""

    told_us: int
    more: int = 0
    wait_us: int = AGAIN_US


class Complaints:
    """The complaints of one feed. A sentence is told at once the first time, and then counted and summed up.

    So sentences have to be few and always the same: none may hold what came over the wire.
    """

    def __init__(self, bank: InputBank) -> None:
        self._bank = bank
        self._troubles: dict[str, _Trouble] = {}
        self._summed_us: deque[int] = deque(maxlen=MOST)

    def tell(self, text: str, now_us: int, times: int = 1) -> None:
        """Tell a sentence about the feed, which is so `times` times."""
        trouble = self._troubles.get(text)
        if trouble is not None:
            trouble.more += times
            return
        self._troubles[text] = _Trouble(now_us)
        self._note(text if times == 1 else f"{text}, {times} times", now_us)

    def look(self, now_us: int) -> None:
        """Sum up what came again. To be called about once a second."""
        for text, trouble in list(self._troubles.items()):
            if not trouble.more:
                if now_us - trouble.told_us >= MINUTE_US:
                    del self._troubles[text]
            elif now_us - trouble.told_us >= trouble.wait_us and self._may_sum_up(now_us):
                self._summed_us.append(now_us)
                self._note(f"{text}, {trouble.more} times more", now_us)
                self._troubles[text] = _Trouble(now_us, 0, min(2 * trouble.wait_us, MINUTE_US))

    def _may_sum_up(self, now_us: int) -> bool:
        return len(self._summed_us) < MOST or now_us - self._summed_us[0] >= MINUTE_US

    def _note(self, text: str, now_us: int) -> None:
        self._bank.note(self._bank.feed.source, f"{self._bank.feed.id}: {text}.", now_us)
