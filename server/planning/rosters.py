"""Who does which duty: a search for a roster of so many people, exact where it ends before its limit.

A person's route is a sequence of duties, each begun in its window after the walk from the one before. Duties are taken
by their deadlines and put into a route wherever they fit. A walk is never longer than one with a stop between, so any
roster can be built so. A search through all such insertions that finds none has shown that there is none. After a
number of steps it is given up; then only the likeliest rosters are built, duty by duty. Where that finds none nothing
has been shown.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from server.planning.duties import Duty
from server.planning.site_model import Site

BESIDE_S: Final = 8.0  # chosen: from one projector to another of the same booth
UNTIMED_S: Final = 60.0  # chosen: from booth to booth, where nobody timed the walk
_STEPS: Final = 300  # chosen: of the search through everything; few duties need more to be shown impossible
_WIDTH: Final = 10  # chosen: so many rosters are built at once; four times as many found no better ones

Routes = tuple[tuple[int, ...], ...]


class Walks(NamedTuple):
    """How long people walk: `seconds[i][j]` from house to house, by `places`; and the pairs of booths untimed."""

    places: dict[tuple[str, str | None], int]
    seconds: list[list[float]]
    untimed: tuple[tuple[str, str], ...]

    def between(self, one: Duty, other: Duty) -> float:
        """Return the walk from one duty to another."""
        return self.seconds[self.places[one.house, one.booth]][self.places[other.house, other.booth]]


def walks_between(duties: Sequence[Duty], site: Site | None) -> Walks:
    """Work out the walks between the houses of these duties, by way of a third where that is shorter."""
    places = {place: k for k, place in enumerate(dict.fromkeys((duty.house, duty.booth) for duty in duties))}
    seconds: NDArray[np.float64] = np.full((len(places), len(places)), np.inf)
    for (house, booth), i in places.items():
        for (other, other_booth), j in places.items():
            if (house, booth) == (other, other_booth):
                seconds[i, j] = 0.0
            elif booth == other_booth:
                seconds[i, j] = BESIDE_S
            elif site is not None:
                walk_s = site.walk_s(booth, other_booth)
                seconds[i, j] = np.inf if walk_s is None else walk_s
    _shorten(seconds)
    untimed = _untimed(places, seconds)
    seconds[np.isinf(seconds)] = UNTIMED_S
    _shorten(seconds)
    return Walks(places, seconds.tolist(), untimed)


def _shorten(seconds: NDArray[np.float64]) -> None:
    """Every shortest way (R. W. Floyd, 1962; from memory)."""
    for k in range(len(seconds)):
        np.minimum(seconds, seconds[:, k, None] + seconds[k], out=seconds)


def _untimed(places: dict[tuple[str, str | None], int], seconds: NDArray[np.float64]) -> tuple[tuple[str, str], ...]:
    booths = {
        (min(pair), max(pair))
        for (_, one), i in places.items()
        for (_, other), j in places.items()
        if np.isinf(seconds[i, j])
        for pair in [(one or "", other or "")]
    }
    return tuple(sorted(booths))


class Search(NamedTuple):
    """What a search came to: routes, or None where there are none (`proved`) or none was found."""

    routes: Routes | None
    proved: bool


def roster(duties: Sequence[Duty], walks: Walks, people: int, steps: int = _STEPS, width: int = _WIDTH) -> Search:
    """Search for routes of so many people through all of the duties, which come by their deadlines.

    Routes hold indices of `duties`. Duties that lie so far apart that everybody can walk anywhere between are searched
    by themselves. A `width` of 0 leaves it at the search that is given up after `steps`.
    """
    routes: list[tuple[int, ...]] = [()] * people
    for cluster in clusters(duties, walks):
        found = _search(duties, walks, cluster, people, steps)
        if found.routes is None and not found.proved and width:
            found = _likeliest(duties, walks, cluster, people, width)
        if found.routes is None:
            return found
        routes = _joined(duties, walks, routes, found.routes)
    return Search(tuple(routes), proved=True)


def clusters(duties: Sequence[Duty], walks: Walks) -> Iterator[list[int]]:
    """Cut the duties, by their deadlines, wherever nobody is late by what came before."""
    longest_s = max((max(row) for row in walks.seconds), default=0.0)
    order = sorted(range(len(duties)), key=lambda d: duties[d].from_s)
    cluster: list[int] = []
    over_s = float("-inf")
    for d in order:
        if cluster and duties[d].from_s >= over_s + longest_s:
            yield sorted(cluster)
            cluster = []
        cluster.append(d)
        over_s = max(over_s, duties[d].by_s + duties[d].takes_s)
    if cluster:
        yield sorted(cluster)


def _search(duties: Sequence[Duty], walks: Walks, cluster: list[int], people: int, steps: int) -> Search:
    """Depth first through every way to put the duties in, the shortest walk first."""
    start: Routes = ((),) * people
    stack = [iter((start,))]
    for _ in range(steps):
        if not stack:
            return Search(None, proved=True)
        routes = next(stack[-1], None)
        if routes is None:
            stack.pop()
        elif len(stack) > len(cluster):
            return Search(routes, proved=True)
        else:
            stack.append(iter(_insertions(duties, walks, routes, cluster[len(stack) - 1])))
    return Search(None, proved=not stack)


def _likeliest(duties: Sequence[Duty], walks: Walks, cluster: list[int], people: int, width: int) -> Search:
    """Put the duties in one by one, and keep so many of the rosters whose people walk least and are free soonest."""
    kept: list[Routes] = [((),) * people]
    whole = True
    for d in cluster:
        # Who of the people has which route does not matter.
        longer = {tuple(sorted(way)): way for routes in kept for way in _insertions(duties, walks, routes, d)}
        ranked = sorted(longer.values(), key=lambda way: sum(_effort_s(duties, walks, route) for route in way))
        kept, whole = ranked[:width], whole and len(ranked) <= width
        if not kept:
            return Search(None, proved=whole)
    return Search(kept[0], proved=True)


def _effort_s(duties: Sequence[Duty], walks: Walks, route: tuple[int, ...]) -> float:
    """How much is walked on a route, and when its person is free again."""
    begins = begins_of(duties, walks, route)
    if not begins:
        return 0.0
    walked_s = sum(walks.between(duties[one], duties[other]) for one, other in pairwise(route))
    return walked_s + begins[-1] + duties[route[-1]].takes_s


def _insertions(duties: Sequence[Duty], walks: Walks, routes: Routes, duty: int) -> list[Routes]:
    """Every way to put a duty into the routes, the one with the least walking added first; of empty routes one."""
    ways: list[tuple[float, int, Routes]] = []
    for person, route in enumerate(routes):
        if not route and person and not routes[person - 1]:
            continue
        for place in range(len(route), -1, -1):
            longer = (*route[:place], duty, *route[place:])
            if begins_of(duties, walks, longer) is not None:
                ways.append(
                    (
                        _added_s(duties, walks, route, place, duty),
                        len(ways),
                        (*routes[:person], longer, *routes[person + 1 :]),
                    )
                )
            # Whoever has to begin before this duty can be over does not wait for it.
            if place and duties[route[place - 1]].by_s < duties[duty].from_s + duties[duty].takes_s:
                break
    return [way for _, _, way in sorted(ways)]


def begins_of(duties: Sequence[Duty], walks: Walks, route: Sequence[int]) -> list[float] | None:
    """Return when each duty of a route is begun, as early as can be; None where one would be late."""
    begins: list[float] = []
    free_s = float("-inf")
    before: Duty | None = None
    for d in route:
        duty = duties[d]
        begin_s = max(duty.from_s, free_s + (walks.between(before, duty) if before else 0.0))
        if begin_s > duty.by_s:
            return None
        begins.append(begin_s)
        free_s, before = begin_s + duty.takes_s, duty
    return begins


def _added_s(duties: Sequence[Duty], walks: Walks, route: tuple[int, ...], place: int, duty: int) -> float:
    """How much more is walked on a route with a duty put in at a place."""
    before = duties[route[place - 1]] if place else None
    after = duties[route[place]] if place < len(route) else None
    added_s = walks.between(before, duties[duty]) if before else 0.0
    if after:
        added_s += walks.between(duties[duty], after)
    return added_s - walks.between(before, after) if before and after else added_s


def _joined(
    duties: Sequence[Duty], walks: Walks, before: list[tuple[int, ...]], after: Routes
) -> list[tuple[int, ...]]:
    """Go on with the routes of a later cluster: each by the person who then stands nearest."""
    joined, free = list(before), list(range(len(before)))
    for route in sorted(after, key=len, reverse=True):
        if not route:
            break
        nearest = min(free, key=lambda person: _apart(duties, walks, before[person], route[0]))
        free.remove(nearest)
        joined[nearest] = (*before[nearest], *route)
    return joined


def _apart(duties: Sequence[Duty], walks: Walks, route: tuple[int, ...], duty: int) -> float:
    return walks.between(duties[route[-1]], duties[duty]) if route else UNTIMED_S
