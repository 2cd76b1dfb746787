"""How much may be asked for at once, and how fast: token buckets. Times are seconds of a clock that never goes back."""

from collections import OrderedDict
from typing import NamedTuple

MOST_KEYS = 4096
"""Buckets kept at most; the one that was used longest ago goes first. Chosen."""


class Rate(NamedTuple):
    """`burst` at once, and `per_s` a second in the long run."""

    burst: int
    per_s: float


class Bucket:
    """Holds up to `burst` permits and gains `per_s` a second."""

    def __init__(self, rate: Rate, now_s: float) -> None:
        self._rate = rate
        self._held = float(rate.burst)
        self._at_s = now_s

    def wait_s(self, now_s: float) -> float:
        """Use one permit, and give 0; where there is none, use none and give the seconds until there is one."""
        self._held = min(self._held + (now_s - self._at_s) * self._rate.per_s, self._rate.burst)
        self._at_s = now_s
        if self._held >= 1.0:
            self._held -= 1.0
            return 0.0
        return (1.0 - self._held) / self._rate.per_s


class Buckets:
    """A bucket for each key."""

    def __init__(self, rate: Rate) -> None:
        self._rate = rate
        self._buckets: OrderedDict[str, Bucket] = OrderedDict()

    def wait_s(self, key: str, now_s: float) -> float:
        """`Bucket.wait_s` of the bucket of `key`, which is full at first."""
        bucket = self._buckets.setdefault(key, Bucket(self._rate, now_s))
        self._buckets.move_to_end(key)
        if len(self._buckets) > MOST_KEYS:
            self._buckets.popitem(last=False)
        return bucket.wait_s(now_s)
