"""How the film's end, light on standing film and spent reserves were told of, held to the truth."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from adapters.drill import Truth
from adapters.drill.scenario import FeedLost
from server.timeline.estimate import US_PER_S
from server.timeline.outlook import Outlook, variance_at
from server.timeline.view import AlarmRecord, Record
from tests.bench.truth.shows import WIRED
from tests.bench.truth.tellings import Telling

# A tail is within its tolerance by so many of its plan's `tail_sigma_s`, as the engine has it (model, "Running out").
TOLERATED_SD = 3.0
# chosen: a trip of the film's end is seen a moment after it, a tap of it seconds later
_AROUND_END_S = (-2.0, 60.0)
# chosen: the next house has shown it once its own end was seen, by a tap seconds later
_SHOWN_S = 15.0
# chosen: what is told of light within this of when it could be known was told in time
IN_TIME_S = 1.0
# chosen: nobody is asked to tell of light that was too much by less
_TOO_MUCH_S = 0.2
# A stop and a lamp or douser are each dated to their plan's `contact_sigma_s`; almost all are within three of both.
_CONTACT_SDS = 3.0 * 2.0**0.5
_PAST_SD = 2.0
_TELLS_OF_TO_COME = frozenset({"slack_forecast", "slack_tight", "slack_loose"})


class RunOut(NamedTuple):
    """The film's end at one gate: by how much longer the tail was than planned, and whether it was told as an act."""

    station: str
    longer_s: float
    at_act: bool


class Light(NamedTuple):
    """Film that stood in the light for too long, where contacts could tell: how late that was told, infinite if never.

    It is late after the moment at which it was too much and could be known.
    """

    station: str
    late_s: float


class Spent(NamedTuple):
    """One telling of slack that is to come or growing, and whether the reserve was surely past when it was told."""

    told: Telling
    past: bool


def run_outs_of(truth: Truth, told: Sequence[Telling]) -> list[RunOut]:
    """Every gate that lost the film."""
    longer_s = truth.course.film_end_s - truth.plan.print_s
    found = []
    for station, out_s in zip(truth.plan.stations, truth.course.tail_out_s, strict=True):
        if out_s is not None:
            found.append(RunOut(station.id, longer_s, bool(_acts_at_end(station.id, out_s, told))))
    return found


def _acts_at_end(station: str, out_s: float, told: Sequence[Telling]) -> list[Telling]:
    keys, (early_s, late_s) = {f"film_trip:{station}", f"motor_lost:{station}"}, _AROUND_END_S
    return [t for t in told if t.key in keys and t.level == "act" and early_s <= t.at_s - out_s <= late_s]


def is_tolerated(longer_s: float, truth: Truth) -> bool:
    """Whether a tail is not shorter than its plan takes for possible."""
    return longer_s >= -TOLERATED_SD * truth.plan.timing.tail_sigma_s


def short_tail_told(truth: Truth, told: Sequence[Telling], cleared: Sequence[tuple[float, str]]) -> bool | None:
    """Whether a tail that is too short was an act at the first house alone, and over once the next one showed it.

    None where it was not too short, or did not come. `cleared` is when which alarm cleared.
    """
    outs_s = [out_s for out_s in truth.course.tail_out_s if out_s is not None]
    longer_s = truth.course.film_end_s - truth.plan.print_s
    if len(outs_s) < len(truth.plan.stations) or is_tolerated(longer_s, truth):
        return None
    acts = [_acts_at_end(station.id, out_s, told) for station, out_s in zip(truth.plan.stations, outs_s, strict=True)]
    over = {(key, at_s <= outs_s[1] + _SHOWN_S) for at_s, key in cleared if at_s > outs_s[0]}
    return not any(acts[1:]) and all((telling.key, True) in over for telling in acts[0])


def cleared_of(records: Sequence[Record]) -> list[tuple[float, str]]:
    """When alarms cleared, and which."""
    alarms = [record for record in records if isinstance(record, AlarmRecord)]
    return [(alarm.at_us / US_PER_S, alarm.key) for alarm in alarms if alarm.state == "cleared"]


def lights_of(truth: Truth, wired: str, told: Sequence[Telling]) -> list[Light]:
    """Every time that film stood in the light for too long, where contacts tell of motor, lamp and douser."""
    if WIRED[wired][:3] != ("contact",) * 3 or truth.scenario.of(FeedLost):
        return []
    slack_s = _CONTACT_SDS * truth.plan.timing.contact_sigma_s
    found = []
    for station in truth.plan.stations:
        at_s = [t.at_s for t in told if t.key == f"film_heat:{station.id}"]
        for span in truth.in_the_light[station.id]:
            known_s = span.from_s + station.lamp.gate_limit_s
            if span.until_s > known_s + _TOO_MUCH_S:
                late_s = [t - known_s for t in at_s if span.from_s - slack_s <= t <= span.until_s]
                found.append(Light(station.id, max(0.0, min(late_s, default=np.inf) - slack_s)))
    return found


def sds_s(outlook: Outlook, at_s: float) -> list[float]:
    """One standard deviation of the slack of every link at an instant, as it was known."""
    after_s = max(0.0, at_s - outlook.at_us / US_PER_S) if any(outlook.rate) else 0.0
    return [max(variance_at(variance, after_s), 0.0) ** 0.5 for variance in outlook.slack_var]


def is_of_slack(key: str) -> bool:
    """Whether an alarm tells of a reserve that is going, and not that it is gone."""
    return key.partition(":")[0] in _TELLS_OF_TO_COME


def is_past(telling: Telling, truth: Truth, sds: Sequence[float]) -> bool:
    """Whether a link's true slack was past the reserve by more than two standard deviations when it was told of."""
    link = telling.key.partition(":")[2]
    i = next(i for i, found in enumerate(truth.plan.links) if found.id == link)
    slack_s = abs(float(truth.slack_s(link, np.array(telling.at_s))))
    return slack_s - truth.plan.links[i].reserve_s > _PAST_SD * sds[i]
