"""The leader of a chain to the foot, and the stretches it is pulled in."""

import math
from collections.abc import Iterator
from typing import Final, NamedTuple

from server.planning.pull import MOST_N, Effort, effort_of, pull_n
from server.planning.rolls import USUAL_DECK, deck_of
from server.planning.site_model import Path, Site
from server.timeline.film import FOOT_M
from server.timeline.plan import Plan, ThreadingRules
from server.timeline.threading import Stretch, pullable

END_FT: Final = 20.0  # chosen: from a roll over to its projector and up to the gate, or from there to a take-up's core
WRAPS: Final = 4  # chosen: so many about the core hold without a knot

_SAME: Final = 1e-6  # chosen: what is nearer to a limit is at it


class Part(NamedTuple):
    """One part of the leader, in tape-measure feet."""

    what: str
    feet: float


class Pull(NamedTuple):
    """One stretch of leader, pulled by its free end from the house it begins at to that where it ends.

    `first` and `last` are station ids; `pull_n` newtons at the free end; `people` how many hands in pairs it takes.
    `doorways` are those it crosses, `height_m` its highest roller, None where nobody measured one.
    """

    first: str
    last: str
    from_house: str
    to_house: str
    path_ft: float
    rollers: int
    turns_deg: float
    doorways: int
    height_m: float | None
    pull_n: float
    effort: Effort


def leader_parts(plan: Plan, site: Site | None) -> tuple[Part, ...]:
    """Return what the leader is made of, from the payout to the last take-up.

    A plan whose `ends_ft` is not the format's default has its ends measured, and they are taken as they are. One house
    alone has no path.
    """
    rules = plan.threading
    path_ft = math.fsum(link.path_m for link in plan.links) / FOOT_M
    spare_ft = path_ft * rules.spare_percent / 100.0
    paths = [
        Part("the paths from gate to gate", path_ft),
        Part(f"{rules.spare_percent:g} % of them to spare", spare_ft),
    ]
    chain = paths if plan.links else []
    if rules.ends_ft != ThreadingRules().ends_ft:
        return (*chain, Part("both ends, as the plan has them", rules.ends_ft))
    deck = deck_of(site, plan.stations[-1].house) or USUAL_DECK
    wraps_ft = WRAPS * math.pi * deck.core_mm / 1000.0 / FOOT_M
    head_ft = plan.film.tape_ft_from_s(plan.mark("head").x_s)
    return (
        Part("the print's head leader, from its roll to the first gate", head_ft),
        *chain,
        Part("from the last gate to the take-up", END_FT),
        Part(f"{WRAPS} wraps on the take-up's core", wraps_ft),
    )


def past_first_gate_ft(plan: Plan, site: Site | None) -> float:
    """Return the leader from the first gate on, which is taken up before the print."""
    head_ft = plan.film.tape_ft_from_s(plan.mark("head").x_s)
    parts = leader_parts(plan, site)
    whole_ft = math.fsum(part.feet for part in parts)
    return whole_ft - head_ft if plan.threading.ends_ft == ThreadingRules().ends_ft else whole_ft


def pulls_of(plan: Plan, site: Site | None) -> tuple[Pull, ...]:
    """Cut the chain into as few stretches as can be pulled, and of those ways the one whose hardest pull is least.

    Each is within the plan's `stretch_ft` and `stretch_rollers`, and its pull within what one pair of hands does. A
    path that is too much even alone is a stretch by itself. They are joined at stations.
    """
    n = len(plan.links)
    best: list[tuple[int, float, int]] = [(0, 0.0, 0)]  # to each station: stretches, hardest pull, where the last began
    for end in range(1, n + 1):
        ways = [
            (best[start][0] + 1, max(best[start][1], pull.pull_n), start)
            for start in range(end)
            for pull in [_pull(plan, site, start, end)]
            if end - start == 1 or _can_be_pulled(plan, pull)
        ]
        best.append(min(ways))
    return tuple(reversed(list(_walked_back(plan, site, best))))


def _walked_back(plan: Plan, site: Site | None, best: list[tuple[int, float, int]]) -> Iterator[Pull]:
    end = len(plan.links)
    while end:
        start = best[end][2]
        yield _pull(plan, site, start, end)
        end = start


def _can_be_pulled(plan: Plan, pull: Pull) -> bool:
    stretch = Stretch(pull.first, pull.last, pull.path_ft, pull.rollers)
    return pullable(stretch, plan) and pull.pull_n <= MOST_N + _SAME


def _pull(plan: Plan, site: Site | None, start: int, end: int) -> Pull:
    first, last = plan.stations[start], plan.stations[end]
    paths = [path for k in range(start, end) if (path := _path(plan, site, k))]
    rollers = sum(station.rollers for station in plan.stations[start + 1 : end + 1])
    turns_deg = math.fsum(path.turns_deg for path in paths)
    pull = pull_n(rollers, turns_deg)
    return Pull(
        first=first.id,
        last=last.id,
        from_house=first.house,
        to_house=last.house,
        path_ft=math.fsum(link.path_m for link in plan.links[start:end]) / FOOT_M,
        rollers=rollers,
        turns_deg=turns_deg,
        doorways=sum(path.doorways for path in paths),
        height_m=max((path.height_m for path in paths if path.height_m is not None), default=None),
        pull_n=pull,
        effort=effort_of(pull),
    )


def _path(plan: Plan, site: Site | None, link: int) -> Path | None:
    return None if site is None else site.path(plan.stations[link].house, plan.stations[link + 1].house)


def cut_ft(feet: float) -> int:
    """Return the whole feet of leader to cut for so many: rounded up, as one that is too short is no use."""
    return math.ceil(feet - _SAME)
