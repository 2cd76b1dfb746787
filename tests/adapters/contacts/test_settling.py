"""Levels without their bounces: the first edge's time is kept, and nothing that has settled is lost."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.contacts.settling import Change, Settling

MS = 1_000


def settled(closed: bool = False, debounce_ms: int = 20) -> Settling:
    """A contact whose level is known."""
    settling = Settling(debounce_ms * MS)
    settling.see(-1_000 * MS, -1_000 * MS, closed=closed)
    settling.settle(0)
    return settling


def test_a_clean_edge_counts_once_it_has_held_and_from_when_it_came() -> None:
    """The wait costs nothing in accuracy."""
    settling = settled()
    assert settling.see(5 * MS, 5 * MS, closed=True) is None
    assert settling.due_us == 25 * MS
    assert settling.settle(24 * MS) is None
    assert settling.settle(25 * MS) == Change(True, 5 * MS, 5 * MS)
    assert settling.settle(30 * MS) is None


@pytest.mark.parametrize("bounce_ms", [1.557, 6.2, 157.0], ids=["mean", "longest usual", "worst seen"])
def test_a_contact_that_bounces_is_one_change_at_its_first_touch(bounce_ms: float) -> None:
    """J. Ganssle, "A guide to debouncing": mean 1.557 ms, longest of the usual 6.2 ms, worst seen 157 ms."""
    settling = settled()
    last_us = round(bounce_ms * MS)
    edges = [0, last_us // 3, last_us * 2 // 3] if last_us < 40 * MS else [n * 15 * MS for n in range(10)]
    for n, at_us in enumerate([*edges, last_us] if len(edges) % 2 == 0 else edges):
        assert settling.see(at_us, at_us, closed=n % 2 == 0) is None
    change = settling.settle(last_us + 20 * MS)
    assert change is not None
    assert (change.closed, change.early_us, change.late_us) == (True, 0, 0)
    assert settling.spare_edges == change.edges - 1


def test_a_pulse_that_is_too_short_is_no_change_but_is_counted() -> None:
    """A spike on a wire starts no motor."""
    settling = settled()
    settling.see(0, 0, closed=True)
    settling.see(3 * MS, 3 * MS, closed=False)
    assert settling.settle(100 * MS) is None
    assert settling.spare_edges == 2


def test_a_polled_edge_is_known_to_lie_between_two_readings() -> None:
    """What a poll saw changed after the reading before it was asked for."""
    settling = settled()
    settling.see(0, 51 * MS, closed=False)
    settling.see(50 * MS, 102 * MS, closed=True)
    assert settling.see(100 * MS, 153 * MS, closed=True) == Change(True, 50 * MS, 102 * MS)


def test_the_first_level_is_found_and_not_seen_to_change() -> None:
    """Nobody knows when a contact closed that was closed at the start."""
    settling = Settling(20 * MS)
    settling.see(0, 0, closed=True)
    assert settling.settle(20 * MS) == Change(True, 0, 0, found=True)


def test_a_level_that_is_forgotten_has_to_be_found_again() -> None:
    """A wire that was unplugged may be anything."""
    settling = settled(closed=True)
    settling.forget()
    assert (settling.closed, settling.due_us) == (None, None)
    settling.see(9 * MS, 9 * MS, closed=True)
    change = settling.settle(60 * MS)
    assert change is not None
    assert change.found


def test_what_flutters_for_longer_than_any_bounce_is_not_dated_by_its_first_edge() -> None:
    """A loose wire that goes on for seconds says only that it was settled after the last of it."""
    settling = settled()
    for n in range(301):
        settling.see(n * 10 * MS, n * 10 * MS, closed=n % 2 == 0)
    change = settling.settle(4_000 * MS)
    assert change is not None
    assert (change.early_us, change.late_us) == (0, 3_000 * MS)


@given(st.lists(st.tuples(st.integers(1, 60), st.booleans()), max_size=60), st.sampled_from([0, 5, 20]))
def test_it_ends_at_the_level_that_was_read_last_and_changes_alternate(
    steps: list[tuple[int, bool]], debounce_ms: int
) -> None:
    """However a contact jumps about, changes alternate, go on in time, and end where the contact does."""
    settling = settled(debounce_ms=debounce_ms)
    now_us, changes, level = 0, [], False
    for after_ms, level in steps:
        now_us += after_ms * MS
        changes.append(settling.settle(now_us))
        changes.append(settling.see(now_us, now_us, closed=level))
    changes.append(settling.settle(now_us + 1_000 * MS))
    told = [change for change in changes if change is not None]
    assert settling.closed is level
    assert [change.closed for change in told] == [n % 2 == 0 for n in range(len(told))]
    assert [change.early_us for change in told] == sorted(change.early_us for change in told)
