"""What people were told in a show, and whether the truth bears it out."""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from adapters.drill import Truth
from server.timeline.condition import RANK
from server.timeline.estimate import US_PER_S
from server.timeline.view import AlarmRecord, Level, Record

# chosen: what a level gives away before an alarm is called false: an estimate is never exact
_LEAST_SHARE: dict[Level, float] = {"note": 0.0, "watch": 0.3, "act": 0.7}
_HORIZONS = 2.0
_NEAR_S = 15.0
_STOPS = ("film_trip", "motor_lost", "start_missing")
# chosen: a failsafe stops the film at the reserve itself, and an estimate is never exact
_SPENT_SHARE = 0.95
# chosen: beside a motor that stands slack grows by a second a second, and nobody stops a chain faster than in two
_SPENT_SOON_S = 2.0
# They ask for something of their own, whatever they follow from, so people are told of them beside it.
OWN = frozenset({"film_heat", "reserve_spent"})
# chosen: motors that stop together do so within a second, and each is dated by its own contact
_ONE_STOP_S = 2.0
# chosen: light that was on standing film as late as this before it was told of, or will be so soon
_LIGHT_S = 1.5
_LAMPS = ("strike_missed", "strike_unconfirmed", "dark_gate", "lamp_lost", "douser_heat")


class Telling(NamedTuple):
    """One telling of an alarm: when, which and how; whether it is a first-out, and whether it is true.

    `until_s` is when a first-out and all that was put under it had cleared, infinite where that never came.
    """

    at_s: float
    key: str
    level: Level
    first_out: bool
    true: bool
    until_s: float = math.inf


def tellings_of(records: Sequence[Record], truth: Truth) -> list[Telling]:
    """Every time that people were told: of what is raised by itself, gets worse, or no longer is under what it was.

    The last has a record of its own, at the same level.
    """
    found: list[Telling] = []
    on: dict[str, Level] = {}
    groups: dict[str, set[str]] = {}
    for record in sorted(records, key=lambda record: record.at_us):
        if not isinstance(record, AlarmRecord):
            continue
        at_s = record.at_us / US_PER_S
        if record.state == "cleared":
            on.pop(record.key, None)
            over = {first for first, keys in groups.items() if keys == {record.key}}
            found = [t._replace(until_s=min(t.until_s, at_s)) if t.key in over else t for t in found]
            groups = {first: keys - {record.key} for first, keys in groups.items() if first not in over}
        elif record.state != "acked":
            if record.told and (record.key not in on or RANK[record.level] >= RANK[on[record.key]]):
                first_out = record.cause is None and record.state == "raised"
                found.append(Telling(at_s, record.key, record.level, first_out, is_true(record, truth)))
            if record.key not in on and record.kind not in OWN:
                groups.setdefault(record.cause or record.key, set()).add(record.key)
            on[record.key] = record.level
    return found


def kind_of(telling: Telling) -> str:
    """The kind of alarm that was told."""
    return telling.key.partition(":")[0]


def calls(told: Sequence[Telling]) -> list[Telling]:
    """The tellings as people hear them: film that stands in the light in several houses is one call.

    It asks for one thing of all its houses, which desks show in one block and call for once: a house that comes to
    stand while it is there, or moments after, is one name more in it.
    """
    heard: list[Telling] = []
    block_s = -math.inf
    for telling in sorted(told, key=lambda telling: telling.at_s):
        heat = kind_of(telling) == "film_heat"
        if not heat or telling.at_s > block_s:
            heard.append(telling)
        if heat:
            block_s = max(block_s, telling.until_s, telling.at_s + _ONE_STOP_S)
    return heard


def at_once(told: Sequence[Telling]) -> list[Telling]:
    """The largest group of these that stood at one time."""
    groups = [[other for other in told if other.at_s <= one.at_s < other.until_s] for one in told]
    return max(groups, key=len, default=[])


def is_true(record: AlarmRecord, truth: Truth) -> bool:
    """Whether an alarm tells of what truly is so."""
    at_s = record.at_us / US_PER_S
    if record.kind in {"slack_tight", "slack_loose"}:
        reserve_s = next(link.reserve_s for link in truth.plan.links if link.id == record.subject)
        slack_s = float(truth.slack_s(record.subject, np.array(at_s)))
        return (slack_s if record.kind == "slack_loose" else -slack_s) >= _LEAST_SHARE[record.level] * reserve_s
    if record.kind == "slack_forecast":
        return _is_spent_soon(record.subject, truth, at_s)
    if record.kind == "reserve_spent":
        reserve_s = next(link.reserve_s for link in truth.plan.links if link.id == record.subject)
        about_s = truth.slack_s(record.subject, np.array([at_s, at_s + _SPENT_SOON_S]))
        return bool(np.any(np.abs(about_s) >= _SPENT_SHARE * reserve_s))
    if record.kind == "film_heat":
        return _is_in_the_light(record.subject, truth, at_s)
    if record.kind in _STOPS:
        return _is_true_of_motor(record.subject, truth, at_s)
    if record.kind in _LAMPS:
        pictures = truth.pictures[truth.plan.station_index[record.subject]]
        lit = any(span.from_s < at_s - 1.0 and at_s + 1.0 < span.until_s for span in pictures.lit)
        return lit is (record.kind == "douser_heat")
    return True


def _is_spent_soon(link: str, truth: Truth, at_s: float) -> bool:
    """Whether a link's reserve is gone before long, and not just because one of its motors stops before that."""
    planned_s = truth.gone_s[link]
    ends_s = [math.inf if planned_s is None else planned_s, *(one.at_s for one in truth.spent if one.link == link)]
    gone_s = min(ends_s)
    motors = (truth.plan.station_index[station] for station in link.split(">"))
    stops = any(at_s < spell.off_s < gone_s for k in motors for spell in truth.course.spells[k])
    return gone_s - at_s < _HORIZONS * truth.plan.timing.forecast_horizon_s and not stops


def _is_true_of_motor(station: str, truth: Truth, at_s: float) -> bool:
    """Whether a motor stands that has film, or stopped about then; one that has run out is as it should be."""
    out_s = truth.course.tail_out_s[truth.plan.station_index[station]]
    if out_s is not None and out_s <= at_s + _LIGHT_S:
        return False
    spells = truth.course.spells[truth.plan.station_index[station]]
    runs = any(spell.on_s + 1.0 < at_s < spell.off_s - _NEAR_S for spell in spells)
    return not runs


def _is_in_the_light(station: str, truth: Truth, at_s: float) -> bool:
    """Whether film stood in the light for longer than it can bear, about then."""
    limit_s = truth.plan.stations[truth.plan.station_index[station]].lamp.gate_limit_s
    return any(
        span.until_s - span.from_s >= limit_s and span.from_s - _LIGHT_S <= at_s <= span.until_s + _LIGHT_S
        for span in truth.in_the_light[station]
    )
