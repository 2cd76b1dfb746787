"""Token buckets."""

import pytest

from server.access.limits import MOST_KEYS, Bucket, Buckets, Rate

RATE = Rate(burst=3, per_s=0.5)


def test_a_burst_passes_and_then_the_rate() -> None:
    """Three at once, then one every two seconds; who is refused is told how long, and loses nothing by asking."""
    bucket = Bucket(RATE, 10.0)
    assert [bucket.wait_s(10.0) for _ in range(3)] == [0.0, 0.0, 0.0]
    assert [bucket.wait_s(10.0), bucket.wait_s(11.0)] == [2.0, 1.0]
    assert [bucket.wait_s(12.0), bucket.wait_s(12.0)] == [0.0, 2.0]


def test_a_rest_fills_it_and_no_further() -> None:
    """After an hour there is a burst again, not an hour's worth."""
    bucket = Bucket(RATE, 0.0)
    waits = [bucket.wait_s(3600.0) for _ in range(4)]
    assert waits == [0.0, 0.0, 0.0, 2.0]


def test_each_key_has_its_own() -> None:
    """One that asks too much keeps no other waiting."""
    buckets = Buckets(RATE)
    assert [buckets.wait_s("one", 0.0) for _ in range(4)][-1] == pytest.approx(2.0)
    assert buckets.wait_s("other", 0.0) == 0.0


def test_keys_do_not_fill_the_memory() -> None:
    """Addresses without end push out those not heard of for longest."""
    buckets = Buckets(RATE)
    for number in range(MOST_KEYS + 50):
        buckets.wait_s(str(number), 0.0)
    assert len(buckets._buckets) == MOST_KEYS
