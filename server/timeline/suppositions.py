"""What is not believed yet, but would spend a reserve if it were true: worth a look, and so a watch."""

from typing import NamedTuple

from server.timeline.estimate import Estimate, Outlook
from server.timeline.misfits import Misfits
from server.timeline.plan import Plan

# chosen: by how many standard deviations the latest observations must tell of a change for somebody to be told, and
# down to how many what was told stands
_SUPPOSED_SD = 3.0
_STILL_SUPPOSED_SD = 2.0
# chosen: a link of which less of the reserve is used at the horizon is no matter
_MATTERS = 0.4


class Supposed(NamedTuple):
    """The estimate by what is supposed, and whether enough speaks for that to tell somebody."""

    outlook: Outlook
    strong: bool


def suppositions(plan: Plan, estimate: Estimate, doubts: Misfits) -> dict[int, Supposed]:
    """Return, for each link that it matters to, what is supposed of either of its motors.

    That is that the latest pass that did not fit is true, where others do fit; or the change of a motor that its latest
    observations together tell of.
    """
    found: dict[int, Supposed] = {}
    for station, sd, links in estimate.suspects(_STILL_SUPPOSED_SD):
        strong = sd >= _SUPPOSED_SD
        matter = [i for i, slack_s, drift in links if _matters(plan, i, slack_s, drift)]
        if matter:
            _suppose(found, matter, Supposed(estimate.supposing(station).outlook(), strong))
    alone = doubts.suppose_alone(estimate)
    if alone is not None:
        station, supposing = alone
        links_beside = [i for i in (station - 1, station) if 0 <= i < len(plan.links)]
        _suppose(found, links_beside, Supposed(supposing.outlook(), strong=True))
    return found


def _suppose(found: dict[int, Supposed], links: list[int], supposed: Supposed) -> None:
    """Keep what is supposed of some links; what more speaks for stands."""
    for i in links:
        if i not in found or supposed.strong or not found[i].strong:
            found[i] = supposed


def _matters(plan: Plan, link: int, slack_s: float, drift: float) -> bool:
    later_s = slack_s + drift * plan.timing.forecast_horizon_s
    return max(abs(slack_s), abs(later_s)) >= _MATTERS * plan.links[link].reserve_s
