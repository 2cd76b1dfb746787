"""What is not believed yet, but would spend a reserve if it were true: worth a look, and so a watch."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from server.timeline.estimate import Array, Estimate, Suspects
from server.timeline.outlook import LinkOutlook, Slacks
from server.timeline.plan import Plan

# chosen: by how many standard deviations the latest observations must tell of a change for somebody to be told, and
# down to how many what was told stands: the next one seldom says quite the same
SUPPOSED_SD = 3.0
_STILL_SUPPOSED_SD = 1.0
# chosen: what is supposed matters to a link while so much of its reserve is used by it at the horizon
MATTERS = 0.25


class Supposed(NamedTuple):
    """What is supposed of a motor, as one link beside it shows it.

    `sd` is how many standard deviations speak for it, `strong` whether that is enough to tell somebody.
    """

    station: int
    sd: float
    strong: bool
    link: LinkOutlook


def suppositions(plan: Plan, estimate: Estimate, now: Slacks) -> dict[int, Supposed]:
    """Return, for each link that it matters to, what most speaks for of either of its motors.

    That is the change of a motor that its latest observations together tell of, where they tell less of its neighbours
    and of what is no motor's. `now` is what the estimate says of the links.
    """
    found: dict[int, Supposed] = {}
    suspects = estimate.suspects(now, _STILL_SUPPOSED_SD)
    matters = np.flatnonzero(_matters(plan, suspects))
    others = _most_of_others(suspects, matters, len(plan.stations))
    for j in matters.tolist():
        sd, var = float(suspects.sd[j]), suspects.slack_var[j].tolist()
        link = LinkOutlook(int(suspects.links[j]), float(suspects.slack[j]), float(suspects.drift[j]), tuple(var))
        station = int(suspects.stations[j])
        strong = bool(sd >= SUPPOSED_SD and suspects.odds[j] >= others[station])
        _suppose(found, Supposed(station, sd, strong, link))
    return found


def _most_of_others(suspects: Suspects, matters: NDArray[np.intp], stations: int) -> Array:
    """How much likelier a change of either neighbour, or of what is no motor, makes what was seen; of each station.

    What one motor does makes its neighbours look as if they had done the other half of it. `matters` are the pairs of
    suspect and link that are taken into account.
    """
    odds = np.full(stations + 2, -np.inf)
    odds[suspects.stations[matters] + 1] = suspects.odds[matters]
    most: Array = np.maximum(np.maximum(odds[:-2], odds[2:]), suspects.others)
    return most


def _suppose(found: dict[int, Supposed], supposed: Supposed) -> None:
    before = found.get(supposed.link.link)
    if before is None or supposed.sd > before.sd:
        found[supposed.link.link] = supposed


def _matters(plan: Plan, suspects: Suspects) -> NDArray[np.bool_]:
    reserves_s = np.asarray([link.reserve_s for link in plan.links])[suspects.links]
    later_s = suspects.slack + suspects.drift * plan.timing.forecast_horizon_s
    return np.asarray(np.maximum(np.abs(suspects.slack), np.abs(later_s)) >= MATTERS * reserves_s)
