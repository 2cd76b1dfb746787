"""Why there is no order: paths that nobody measured, or wishes that cannot all be kept."""

from collections.abc import Iterator

from server.planning.ordering_problem import problem_from_wanted
from server.planning.ordering_search import found_orders
from server.planning.ordering_wanted import Fixed, Wanted, wish_text
from server.planning.site_model import Site
from server.timeline.faults import both

_Wish = tuple[str, tuple[str, ...]]


def conflicts_of(site: Site, wanted: Wanted) -> Iterator[str]:
    """Say why there is no order, a sentence each; times are no reason, since the nearest order is given then.

    Raises SearchEnded.
    """
    untimed = wanted._replace(advertised={}, start=None)
    if not _can_be(site, untimed._replace(fixed=Fixed())):
        yield from _unmeasured(site, wanted)
        return
    least = list(wanted.fixed.groups)
    for wish in list(least):
        without = [each for each in least if each != wish]
        if not _can_be(site, untimed._replace(fixed=_fixed(without))):
            least = without
    wishes = "; ".join(wish_text(said, houses) for said, houses in least)
    if len(least) == 1:
        yield f"No order along the measured paths keeps this: {wishes}."
    else:
        yield f"No order along the measured paths keeps all of these: {wishes}."


def _can_be(site: Site, wanted: Wanted) -> bool:
    return bool(found_orders(problem_from_wanted(site, wanted), 1))


def _unmeasured(site: Site, wanted: Wanted) -> Iterator[str]:
    parts = _parts(site, wanted)
    if len(parts) > wanted.chains:
        yield (
            f"No path is measured between {' and '.join(_named(part) for part in parts[:2])}: "
            f"measure one, or leave houses out."
        )
        return
    chains = "one chain" if wanted.chains == 1 else "two chains of two houses or more"
    yield f"The measured paths make no {chains} through all of these houses: measure more, or leave houses out."


def _parts(site: Site, wanted: Wanted) -> list[list[str]]:
    """The houses that film can get to from one another, in any number of paths."""
    parts: list[list[str]] = []
    left = list(wanted.houses)
    while left:
        part = [left.pop(0)]
        for one in part:
            part += [other for other in left if site.path(one, other) is not None]
            left = [other for other in left if other not in part]
        parts.append(part)
    return parts


def _named(houses: list[str]) -> str:
    return f"House{'s' if len(houses) > 1 else ''} {both(houses)}"


def _fixed(wishes: list[_Wish]) -> Fixed:
    def of(said: str) -> list[tuple[str, ...]]:
        return [houses for each, houses in wishes if each == said]

    return Fixed(
        first=tuple(house for (house,) in of("first")),
        last=tuple(house for (house,) in of("last")),
        together=tuple(of("together")),
        before=tuple((one, other) for one, other in of("before")),
        right_before=tuple((one, other) for one, other in of("right before")),
    )
