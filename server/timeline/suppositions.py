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
    strong = set(estimate.suspects(_SUPPOSED_SD))
    for station in estimate.suspects(_STILL_SUPPOSED_SD):
        _suppose(found, plan, station, estimate.supposing(station), strong=station in strong)
    alone = doubts.suppose_alone(estimate)
    if alone is not None:
        _suppose(found, plan, *alone, strong=True)
    return found


def _suppose(found: dict[int, Supposed], plan: Plan, station: int, estimate: Estimate, *, strong: bool) -> None:
    links = [i for i in (station - 1, station) if 0 <= i < len(plan.links) and _matters(plan, i, estimate)]
    supposed = Supposed(estimate.outlook(), strong) if links else None
    for i in links:
        if supposed is not None and (i not in found or strong or not found[i].strong):
            found[i] = supposed


def _matters(plan: Plan, link: int, estimate: Estimate) -> bool:
    slack_s, drift = estimate.slack_and_drift(link)
    later_s = slack_s + drift * plan.timing.forecast_horizon_s
    return max(abs(slack_s), abs(later_s)) >= _MATTERS * plan.links[link].reserve_s
