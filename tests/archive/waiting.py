"""Waiting for what is to come true."""

import time
from collections.abc import Callable

PATIENCE_S = 20.0


def until(true: Callable[[], object], within_s: float = PATIENCE_S, *, every_s: float = 0.02) -> None:
    """Wait until it is true, asked every so often; fail where that takes too long."""
    end_s = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < end_s, "it did not come true in time"
        time.sleep(every_s)
