"""Orders as the solver finds them, held against all orders and against published instances."""

import random
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.planning import ordering_search
from server.planning.ordering_problem import Pair, Problem, Settled
from server.planning.ordering_search import Found, Search, SearchEnded, found_orders, search_of
from tests.planning.orders import best_by_brute_force, is_kept, shortest_path
from tests.planning.published_orders import (
    BURMA14,
    ESC07,
    ESC11,
    P01,
    ULYSSES16,
    geographical,
    opened,
    paths_of,
    rows_of,
)

MINUTE_U = 60
# Three houses that all have to come at once: whoever is last of the row comes after its time.
LATE = Problem(3, 1, dict.fromkeys(permutations(range(3), 2), 100), ((0, 10),) * 3, None, MINUTE_U, Settled())


@st.composite
def problems(draw: st.DrawFn, *, chains: int) -> Problem:
    """Problems of few houses: paths that are missing, times of some, a start or none, something settled."""
    count = draw(st.integers(2 if chains == 1 else 4, 6 if chains == 1 else 5))
    paths: dict[Pair, int] = {}
    for i in range(count):
        for j in range(i):
            if length := draw(st.integers(0, 200).map(lambda number: number if number > 10 else 0)):
                paths[i, j] = paths[j, i] = length
    moments = st.integers(-3, 8).map(lambda minutes: (minutes * 60 - 30, minutes * 60 + 45))
    windows = tuple(draw(st.lists(st.none() | moments, min_size=count, max_size=count)))
    is_timed = any(windows)
    first = draw(st.none() | st.integers(-100, 300)) if is_timed else None
    return Problem(count, chains, paths, windows, first, MINUTE_U, draw(wishes(count)))


@st.composite
def wishes(draw: st.DrawFn, count: int) -> Settled:
    """Nothing, or one or two things settled; they may contradict one another."""
    pairs = st.sampled_from(list(permutations(range(count), 2)))
    kinds = draw(st.lists(st.sampled_from(Settled._fields), max_size=3))
    said = [(kind, draw(pairs)) for kind in kinds]
    return Settled(
        first=tuple(one for kind, (one, _) in said if kind == "first"),
        last=tuple(one for kind, (one, _) in said if kind == "last"),
        together=tuple(pair for kind, pair in said if kind == "together"),
        before=tuple(pair for kind, pair in said if kind == "before"),
        right_before=tuple(pair for kind, pair in said if kind == "right_before"),
    )


@pytest.mark.parametrize("chains", [1, 2])
def test_the_best_four_are_those_of_all_orders(chains: int) -> None:
    """To six houses: with times or a start, with paths missing, with wishes kept, split or not, none is better."""

    @given(problem=problems(chains=chains))
    @settings(max_examples=80)
    def holds(problem: Problem) -> None:
        found = found_orders(problem, 4)
        assert [(one.widened_min, one.path_u) for one in found] == best_by_brute_force(problem, 4)
        assert all(is_kept(problem, one.chains) and one.is_proven for one in found)
        assert len({one.links for one in found}) == len(found)

    holds()


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("is_timed", [False, True])
def test_eight_houses_as_all_orders_have_it(seed: int, is_timed: bool) -> None:
    """Of the 40,320 orders of eight houses the solver's four are the best."""
    chance = random.Random(seed)
    paths: dict[Pair, int] = {}
    for i in range(8):
        for j in range(i):
            paths[i, j] = paths[j, i] = chance.randrange(50, 800)
    windows = tuple((minute * 274 - 274, minute * 274 + 1370) for minute in chance.choices(range(0, 15, 5), k=8))
    settled = Settled(together=((0, 1),), before=((2, 3),))
    problem = Problem(8, 1, paths, windows if is_timed else (None,) * 8, None, 274, settled)
    found = found_orders(problem, 4)
    assert [(one.widened_min, one.path_u) for one in found] == best_by_brute_force(problem, 4)


@pytest.mark.parametrize(
    ("rows", "least"),
    [(geographical(BURMA14), 3323), (rows_of(P01), 291), (geographical(ULYSSES16), 6859)],
    ids=["burma14", "P01", "ulysses16"],
)
def test_published_round_trips_have_their_published_length(rows: list[list[int]], least: int) -> None:
    """A round trip is a path whose first place is there again as its last."""
    path = opened(rows)
    places = len(path)
    nothing = (None,) * places
    problem = Problem(places, 1, paths_of(path), nothing, None, 1, Settled(first=(0,), last=(places - 1,)))
    (found,) = found_orders(problem, 1)
    assert (found.path_u, found.is_proven) == (least, True)


@pytest.mark.parametrize(("rows", "least"), [(rows_of(ESC07), 2125), (rows_of(ESC11), 2075)], ids=["ESC07", "ESC11"])
def test_published_orders_with_some_before_others_have_their_published_length(
    rows: list[list[int]], least: int
) -> None:
    """TSPLIB's sequential ordering problems: a path from the first to the last, one way, some before others."""
    pairs = paths_of(rows)
    before = tuple((j, i) for (i, j), length in pairs.items() if length < 0)
    paths = {pair: length for pair, length in pairs.items() if 0 <= length < 1_000_000}
    settled = Settled(first=(0,), last=(len(rows) - 1,), before=before)
    (found,) = found_orders(Problem(len(rows), 1, paths, (None,) * len(rows), None, 1, settled), 1)
    assert (found.path_u, found.is_proven) == (least, True)


@pytest.mark.parametrize("text", [BURMA14, ULYSSES16], ids=["burma14", "ulysses16"])
def test_the_path_through_published_places_is_that_of_dynamic_programming(text: str) -> None:
    """Where it begins and ends is free, as in a chain of houses; to sixteen places."""
    rows = geographical(text)
    paths = paths_of(rows)
    (found,) = found_orders(Problem(len(rows), 1, paths, (None,) * len(rows), None, 1, Settled()), 1)
    assert found.path_u == shortest_path(paths, len(rows))


def test_the_same_question_has_the_same_answer() -> None:
    """Also among orders that are as good: nothing is left to chance."""
    paths = dict.fromkeys(permutations(range(6), 2), 7)
    problem = Problem(6, 1, paths, ((0, 20), *(None,) * 5), None, 60, Settled())
    assert found_orders(problem, 4) == found_orders(problem, 4)


def give_up(patch: pytest.MonkeyPatch, *, after: int) -> None:
    """Let the solver answer so many times and give up then."""
    answer, asked = ordering_search._least, iter(range(after))

    def least(problem: Problem, widened: int | None, gone: list[Found]) -> Found | None:
        if next(asked, None) is None:
            raise SearchEnded
        return answer(problem, widened, gone)

    patch.setattr(ordering_search, "_least", least)


@pytest.mark.parametrize(("count", "found"), [(2, 2), (3, 3), (4, 3)])
def test_a_search_that_ends_by_itself_is_complete(count: int, found: int) -> None:
    """Three houses have three orders that are not one another turned about: with all asked for it is known."""
    problem = Problem(3, 1, dict.fromkeys(permutations(range(3), 2), 7), (None,) * 3, None, MINUTE_U, Settled())
    search = search_of(problem, count)
    assert (len(search.orders), search.is_complete) == (found, True)


def test_a_search_that_was_given_up_is_not_complete(monkeypatch: pytest.MonkeyPatch) -> None:
    """What was found till then is given, and that there may be more goes with it; with nothing found it is raised."""
    problem = Problem(3, 1, dict.fromkeys(permutations(range(3), 2), 7), (None,) * 3, None, MINUTE_U, Settled())
    (first,) = found_orders(problem, 1)
    give_up(monkeypatch, after=1)
    assert search_of(problem, 4) == Search((first,), is_complete=False)
    with pytest.raises(SearchEnded):
        search_of(problem, 4)


def test_an_order_is_not_proven_where_its_widening_is_not(monkeypatch: pytest.MonkeyPatch) -> None:
    """The least path in windows that may be wider than they need be is not the nearest to the times."""
    assert [found.is_proven for found in found_orders(LATE, 2)] == [True, True]
    answer = ordering_search._least

    def least(problem: Problem, widened: int | None, gone: list[Found]) -> Found | None:
        found = answer(problem, widened, gone)
        return found._replace(is_proven=False) if found is not None and widened is None else found

    monkeypatch.setattr(ordering_search, "_least", least)
    assert [found.is_proven for found in found_orders(LATE, 2)] == [False, False]


def test_the_nearest_order_is_not_lost_where_its_path_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """None meets the times, one is found that is nearest, and then the solver gives up on the least path."""
    give_up(monkeypatch, after=2)
    (found,) = found_orders(LATE, 1)
    assert (found.widened_min, found.is_proven) == (best_by_brute_force(LATE, 1)[0][0], False)
