"""Paths that cannot be as they are written, and loops that cannot hold their reserve.

Crow's rules: film goes no shorter way than there is, and nobody laces it a much longer way than there is.
"""

from collections.abc import Iterator
from itertools import pairwise
from typing import Final

from server.planning.findings import Finding
from server.planning.loops import loop_for
from server.planning.site_model import Path, Site
from server.timeline.film import FOOT_M
from server.timeline.naming import link_of
from server.timeline.plan import Plan

BOOTH_M: Final = 2.5  # chosen: up from one machine, over to its neighbour in a narrow booth, and down again
EYE_M: Final = 1.5  # chosen: from about that height film goes up to its rollers, and comes down again to it
DOOR_M: Final = 2.1  # chosen: under it people walk into film that crosses a doorway
OVER_DOOR_M: Final = 4.0  # chosen: film that high crosses a wall, not a doorway
LEAST_ROLLER_M: Final = 0.3  # chosen: rollers closer than that on the average are no path's
MOST_ROLLER_M: Final = 12.0  # chosen: film that spans more than that on the average hangs into the room
ROUNDABOUT: Final = 1.25  # chosen: a path so many times as long as the way by a third house is measured wrong
TAPE_PERCENT: Final = 10.0  # chosen: a plan's path that differs by more from the site's is another path
TAPE_SDS: Final = 3.0  # chosen: one that differs by more of the site's own standard deviations is too
SLIP_PERCENT: Final = 8.0  # chosen: how near two lengths are to feet for metres to be taken for that


def route_findings(plan: Plan, site: Site | None) -> Iterator[Finding]:
    """Say of every link what is implausible, and of its loop what it cannot hold."""
    for i in range(len(plan.links)):
        path = None if site is None else site.path(plan.stations[i].house, plan.stations[i + 1].house)
        yield from _length(plan, i, path)
        yield from _rollers(plan, i)
        if path is not None:
            yield from _against_site(plan, i, path)
            yield from _height(plan, i, path)
            yield from _loop(plan, i, path)
    if site is not None:
        yield from _triangles(plan, site)


def _of(plan: Plan, i: int, code: str, text: str, cause: str, remedy: str, *, fault: bool = False) -> Finding:
    ends = (plan.stations[i].id, plan.stations[i + 1].id)
    return Finding(code, "fault" if fault else "warning", link_of(plan, i), ends, text, cause, remedy)


def _length(plan: Plan, i: int, path: Path | None) -> Iterator[Finding]:
    name, path_m = link_of(plan, i), plan.links[i].path_m
    if 0.0 < path_m < BOOTH_M:
        yield _of(
            plan,
            i,
            "path_short",
            f"{name}: a path of {_both(path_m)} is shorter than a booth is wide.",
            f"Film goes up from a machine, across and down again: {_both(BOOTH_M)} is about the least.",
            _slip(path_m),
        )
    high_m = None if path is None else path.height_m
    if high_m is not None and BOOTH_M <= path_m < 2.0 * (high_m - EYE_M):
        yield _of(
            plan,
            i,
            "path_short",
            f"{name}: a path of {_both(path_m)} cannot go up to {high_m:g} m and down again.",
            "The highest roller, by the site file, is further from the gates than the path is long.",
            "Measure the path, or the height of its highest roller, again.",
        )


def _slip(path_m: float) -> str:
    """What a path this short may have been meant for."""
    metres = path_m / FOOT_M
    if metres >= BOOTH_M:
        return f"Measure it again. If {metres:.4g} is metres and not feet, write path_m = {metres:.4g}."
    return "Measure it again, from gate to gate along the film."


def _rollers(plan: Plan, i: int) -> Iterator[Finding]:
    name, path_m, rollers = link_of(plan, i), plan.links[i].path_m, plan.stations[i + 1].rollers
    if not rollers or path_m < BOOTH_M:
        return
    apart_m = path_m / rollers
    if apart_m < LEAST_ROLLER_M:
        yield _of(
            plan,
            i,
            "path_in_metres",
            f"{name}: {rollers} rollers on {_both(path_m)} stand {apart_m * 100:.0f} cm apart.",
            "No path has its rollers so close: the length may be in metres, written as feet.",
            f"If {path_m / FOOT_M:.4g} is metres, write path_m = {path_m / FOOT_M:.4g}. Else count the rollers again.",
        )
    elif apart_m > MOST_ROLLER_M:
        yield _of(
            plan,
            i,
            "path_in_feet",
            f"{name}: {rollers} rollers on {_both(path_m)} stand {apart_m:.0f} m apart.",
            "Film that spans so much hangs into the room: the length may be in feet, written as metres.",
            f"If {path_m:.4g} is feet, write path_ft = {path_m:.4g}. Else count the rollers again.",
        )


def _against_site(plan: Plan, i: int, path: Path) -> Iterator[Finding]:
    path_m = plan.links[i].path_m
    ratio = path_m / path.path_m if path.path_m else 1.0
    if path.rollers and not plan.stations[i + 1].rollers:
        yield _of(
            plan,
            i,
            "rollers_not_counted",
            f"{link_of(plan, i)}: the plan has no rollers; the site file has {path.rollers}.",
            "Without them a pull looks easier than it is.",
            f"Write rollers = {path.rollers}.",
        )
    if not path_m or abs(ratio - 1.0) * 100.0 <= min(TAPE_PERCENT, TAPE_SDS * path.path_tolerance_percent):
        return
    if _near(ratio, FOOT_M):
        slip = f"{path_m / FOOT_M:.4g} looks like metres, written as feet: write path_m = {path_m / FOOT_M:.4g}."
    elif _near(ratio, 1.0 / FOOT_M):
        slip = f"{path_m:.4g} looks like feet, written as metres: write path_ft = {path_m:.4g}."
    else:
        slip = "Take the site's length, or measure the path again."
    yield _of(
        plan,
        i,
        "path_not_sites",
        f"{link_of(plan, i)}: the plan has a path of {_both(path_m)}; the site file has {_both(path.path_m)}.",
        "Every time after this link goes by the path's length.",
        slip,
    )


def _near(ratio: float, slip: float) -> bool:
    return abs(ratio / slip - 1.0) * 100.0 <= SLIP_PERCENT


def _height(plan: Plan, i: int, path: Path) -> Iterator[Finding]:
    if path.height_m is None or not path.doorways:
        return
    name = link_of(plan, i)
    if path.height_m < DOOR_M:
        yield _of(
            plan,
            i,
            "doorway_low",
            f"{name}: film crosses a doorway, and no roller of its path is over {path.height_m:g} m.",
            "People walk into film at that height, and it narrows a way out.",
            f"Lead it over the doorway, above {DOOR_M:g} m, and ask the local fire authority.",
        )
    elif path.height_m > OVER_DOOR_M:
        yield _of(
            plan,
            i,
            "doorway_high",
            f"{name}: the path has a doorway, and a roller at {path.height_m:g} m.",
            "A doorway is lower: the film passes over its wall, comes down to the doorway, or the height is in feet.",
            f"Look at the path. If {path.height_m:.4g} is feet, write height_ft = {path.height_m:.4g}.",
        )


def _loop(plan: Plan, i: int, path: Path) -> Iterator[Finding]:
    """Whether the loop has its reserve twice: once to give, and once more to take."""
    link = plan.links[i]
    if path.loop_span_m is None or path.loop_drop_m is None or not link.reserve_s:
        return
    loop = loop_for(path.loop_span_m, path.loop_drop_m, link.reserve_s, plan.film.speed_m_per_s)
    if loop.full_sag_m <= path.loop_drop_m:
        return
    yield _of(
        plan,
        i,
        "loop_too_small",
        f"{link_of(plan, i)}: its loop holds {loop.holds_s:.2f} s of film either way; the plan has a reserve of "
        f"{link.reserve_s:g} s.",
        f"Over {path.loop_span_m:.2f} m, with {path.loop_drop_m:.2f} m of room below, no more film hangs.",
        f"Give it {loop.full_sag_m:.2f} m of room and let it hang {loop.rest_sag_m:.2f} m at rest, "
        f"or write reserve_s = {int(loop.holds_s * 10.0) / 10.0:g}.",
        fault=True,
    )


def _triangles(plan: Plan, site: Site) -> Iterator[Finding]:
    """A measured path that is much longer than the way by a third house, which film could go as well."""
    neighbours = {frozenset((a.house, b.house)): i for i, (a, b) in enumerate(pairwise(plan.stations))}
    for pair, i in neighbours.items():
        if len(pair) < 2:
            continue
        one, other = plan.stations[i].house, plan.stations[i + 1].house
        direct = site.path(one, other)
        ways = [
            (first.path_m + second.path_m, house)
            for house in site.by_house
            if (first := site.path(one, house)) and (second := site.path(house, other))
        ]
        if direct is None or not ways or direct.path_m <= ROUNDABOUT * min(ways)[0]:
            continue
        least_m, house = min(ways)
        yield _of(
            plan,
            i,
            "path_roundabout",
            f"{link_of(plan, i)}: the path of {_both(direct.path_m)} is longer than the way by House {house}, "
            f"{_both(least_m)}.",
            "Of three houses one path is measured wrong, or film is laced the long way round.",
            f"Measure it, and both paths of House {house}, again.",
        )


def _both(metres: float) -> str:
    return f"{metres:.1f} m ({metres / FOOT_M:.0f} ft)"
