"""The search for rosters, against every order of a few duties tried."""

from collections.abc import Sequence
from itertools import permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.planning.duties import Duty
from server.planning.rosters import BESIDE_S, UNTIMED_S, Walks, begins_of, clusters, roster, walks_between
from tests.planning.chains import site

WALKS = [("A", "B", 40.0), ("B", "C", 70.0)]


def duty(house: str, from_s: float, by_s: float, takes_s: float = 10.0, booth: str | None = None) -> Duty:
    return Duty(house, booth or house, "do it", from_s, by_s, takes_s)


def walks_of(duties: Sequence[Duty]) -> Walks:
    return walks_between(duties, site(walks=WALKS))


def feasible(duties: Sequence[Duty], walks: Walks, people: int) -> bool:
    """Whether any way to give the duties to so many people, each in any order, keeps every window."""
    for given_to in product(range(people), repeat=len(duties)):
        shares = [[d for d in range(len(duties)) if given_to[d] == person] for person in range(people)]
        if all(any(begins_of(duties, walks, order) is not None for order in permutations(share)) for share in shares):
            return True
    return False


DUTIES = st.lists(
    st.builds(
        lambda house, from_s, width, takes_s: duty(house, from_s, from_s + width, takes_s),
        st.sampled_from("ABC"),
        st.integers(0, 20).map(lambda tens: 10.0 * tens),
        st.sampled_from([0.0, 15.0, 60.0, 120.0]),
        st.sampled_from([5.0, 20.0, 40.0]),
    ),
    min_size=1,
    max_size=5,
).map(lambda duties: sorted(duties, key=lambda one: one.by_s))


@settings(max_examples=150)
@given(DUTIES, st.integers(1, 3))
def test_the_search_finds_a_roster_if_there_is_one(duties: list[Duty], people: int) -> None:
    """It agrees with trying every order of every share, both where there is a roster and where there is none."""
    walks = walks_of(duties)
    found = roster(duties, walks, people, steps=100_000)
    assert found.proved
    assert (found.routes is not None) == feasible(duties, walks, people)


@settings(max_examples=150)
@given(DUTIES, st.integers(1, 3))
def test_a_roster_does_every_duty_once_and_in_time(duties: list[Duty], people: int) -> None:
    """Whatever is found holds each duty once, has a route for each person, and keeps every window."""
    walks = walks_of(duties)
    routes = roster(duties, walks, people).routes
    if routes is not None:
        assert len(routes) == people
        assert sorted(d for route in routes for d in route) == list(range(len(duties)))
        assert all(begins_of(duties, walks, route) is not None for route in routes)


def test_a_later_deadline_may_be_done_first() -> None:
    """A long window that is due last is done before a short one where only that fits."""
    duties = [duty("B", 100.0, 100.0), duty("A", 0.0, 130.0)]
    found = roster(duties, walks_of(duties), 1)
    assert found.routes == ((1, 0),)


def test_walks_go_by_a_third_booth() -> None:
    """Nobody timed A to C: it is the walk by B. An untimed booth is a minute away, and named."""
    duties = [duty("A", 0, 0), duty("B", 0, 0), duty("C", 0, 0), duty("D", 0, 0)]
    walks = walks_of(duties)
    assert walks.between(duties[0], duties[2]) == 110.0
    assert walks.between(duties[1], duties[3]) == UNTIMED_S
    assert walks.between(duties[0], duties[0]) == 0.0
    assert walks.untimed == (("A", "D"), ("B", "D"), ("C", "D"))


def test_projectors_of_one_booth_are_beside_each_other() -> None:
    """From one projector to the next of a booth it is a few steps; of two houses without a booth too."""
    one, other = duty("1", 0, 0, booth="A"), duty("2", 0, 0, booth="A")
    assert walks_between([one, other], None).between(one, other) == BESIDE_S
    unsaid = [Duty("1", None, "", 0, 0, 1), Duty("2", None, "", 0, 0, 1)]
    assert walks_between(unsaid, None).between(*unsaid) == BESIDE_S


def test_a_long_pause_cuts_the_search() -> None:
    """Duties after everybody can have walked anywhere are looked at by themselves, and the same person may go on."""
    duties = [duty("A", 0.0, 0.0), duty("C", 10.0, 10.0), duty("C", 500.0, 500.0), duty("A", 505.0, 505.0)]
    walks = walks_of(duties)
    assert list(clusters(duties, walks)) == [[0, 1], [2, 3]]
    assert roster(duties, walks, 2).routes == ((0, 3), (1, 2))


def test_a_search_that_is_given_up_shows_nothing() -> None:
    """Where the steps run out before the end there is no roster and no proof; with enough there is a proof."""
    duties = [duty("A", 0.0, 300.0, 100.0) for _ in range(6)]
    walks = walks_of(duties)
    assert roster(duties, walks, 1, steps=5, width=0) == (None, False)
    assert roster(duties, walks, 1, steps=100_000) == (None, True)


@settings(max_examples=150)
@given(DUTIES, st.integers(1, 3))
def test_the_likeliest_rosters_are_rosters_too(duties: list[Duty], people: int) -> None:
    """Where the search is given up at once, what is built in its place keeps every window and proves no untruth."""
    walks = walks_of(duties)
    found = roster(duties, walks, people, steps=0, width=2)
    if found.routes is not None:
        assert sorted(d for route in found.routes for d in route) == list(range(len(duties)))
        assert all(begins_of(duties, walks, route) is not None for route in found.routes)
    elif found.proved:
        assert not feasible(duties, walks, people)


@pytest.mark.parametrize("people", [1, 4])
def test_people_without_work_have_empty_routes(people: int) -> None:
    """One duty leaves everybody else free."""
    routes = roster([duty("A", 0.0, 0.0)], walks_of([duty("A", 0.0, 0.0)]), people).routes
    assert routes == ((0,), *[()] * (people - 1))
