"""The tick of a gateway is found in the times of its contacts, and not where there is none."""

import random

import pytest

from adapters.contacts.sampling import Sampling
from tests.adapters.contacts.wired import MS, S


def seen(times_us: list[int], width_us: int = 0) -> int | None:
    sampling = Sampling()
    for at_us in times_us:
        sampling.see(at_us - width_us, at_us)
        sampling.tick_us()
    tick_us = sampling.tick_us()
    return None if tick_us is None else tick_us // MS


def by_hand(chance: random.Random, count: int, tick_ms: int, late_ms: float) -> list[int]:
    """Contacts closed by hand every second or so, told on the next tick and a little late."""
    at_ms, times = 0.0, []
    for _ in range(count):
        at_ms += chance.uniform(300.0, 1800.0)
        told_ms = (at_ms // tick_ms + 1) * tick_ms + chance.uniform(0.0, late_ms)
        times.append(round(told_ms * MS))
    return times


@pytest.mark.parametrize("tick_ms", [100, 200, 250, 500, 1000])
def test_the_tick_of_a_gateway_is_found_to_a_tenth(tick_ms: int) -> None:
    """Thirty changes made by hand, each told within 8 ms of a tick: of twenty seeds nineteen at least."""
    found = [seen(by_hand(random.Random(seed), 30, tick_ms, 8.0)) for seed in range(20)]
    near = [each for each in found if each is not None and abs(each - tick_ms) <= tick_ms / 10]
    assert len(near) >= 19


def test_there_is_no_tick_in_what_is_told_at_once() -> None:
    """A hundred changes made by hand, of ten seeds none."""
    assert [seen(by_hand(random.Random(seed), 100, 1, 8.0)) for seed in range(10)] == 10 * [None]


def test_a_tick_that_the_poll_hides_is_not_made_up() -> None:
    """Polled every 50 ms, every change lies on the poll: that is known already, and is no tick of the gateway."""
    assert [seen(by_hand(random.Random(seed), 60, 50, 0.0), 50 * MS) for seed in range(10)] == 10 * [None]


def test_a_tick_far_longer_than_the_poll_is_found_behind_it() -> None:
    """A gateway that looks once a second, polled every 50 ms."""
    found = [seen(by_hand(random.Random(seed), 40, 1000, 49.0), 50 * MS) for seed in range(20)]
    assert sum(each is not None and abs(each - 1000) <= 50 for each in found) >= 19


def test_changes_of_one_tick_and_long_pauses_say_nothing() -> None:
    """A module's inputs change together; and over a minute two clocks are too far apart."""
    assert seen([n * 60 * S for n in range(100)]) is None
    assert seen([n // 4 * 7 * S for n in range(100)]) is None
