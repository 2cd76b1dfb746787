"""Small plans and events for engine tests, written in seconds after the motors."""

from collections import deque
from collections.abc import Iterable
from datetime import timedelta

from server.timeline.engine import Engine, replay
from server.timeline.events import Event, at_us, event_from_json, order_key
from server.timeline.fold import Fold
from server.timeline.plan import Plan, parse_plan
from server.timeline.view import AlarmView, Level, PhaseRecord, Record

HEAD_S = 40.0
TRAILER_S = 140.0
FEATURE_S = 6000.0
TRANSIT_S = 100 * 0.3048 / 0.456

_PRINT = """
[[print]]
id = "leader"
kind = "leader"
feet = 60
[[print]]
id = "t1"
kind = "trailer"
duration = "2:20"
cue = true
[[print]]
id = "t2"
kind = "trailer"
duration = "2:20"
cue = true
[[print]]
id = "film"
kind = "feature"
duration = "1:40:00"
cue = true
[[print]]
id = "tail"
kind = "tail"
feet = 150
"""


def plan_of(houses: int = 3, *, timing: str = "", station: str = "", **inputs: str) -> Plan:
    """A chain `a>b>c…` over 100 ft paths; `inputs` hold for every station (motor, lamp, douser, cue)."""
    wired = {"motor": "contact", "lamp": "contact", "douser": "none", "cue": "tap"} | inputs
    line = ", ".join(f'{key} = "{value}"' for key, value in wired.items())
    stations = "".join(
        f'[[stations]]\nid = "{chr(97 + k)}"\nhouse = "{k + 1}"\n'
        + ("path_ft = 100\nrollers = 8\n" if k else "")
        + f"{station}\ninputs = {{ {line} }}\n"
        for k in range(houses)
    )
    head = f'format = "festoon-plan/1"\ntitle = "Story"\n[timing]\nmotors_at = 2026-03-14T23:50:00Z\n{timing}\n'
    return parse_plan(head + _PRINT + stations, "story.plan.toml")


def event(plan: Plan, at_s: float, kind: str, station: str | None = None, **more: object) -> Event:
    """One event of a contact unless `source` says otherwise; its id is made of what it says."""
    source = more.pop("source", "contact")
    told = {key: value for key, value in more.items() if value is not None}
    id_ = told.pop("id", f"{kind} {station or ''} {at_s} {source} {sorted(told.items())}")
    t = (plan.zero + timedelta(microseconds=round(at_s * 1e6))).isoformat()
    where = {"station": station} if station else {}
    return event_from_json({"id": id_, "t": t, "kind": kind, "source": source, **where, **told})


def starts(plan: Plan, at_s: float = 0.0) -> list[Event]:
    """Every motor starting at once."""
    return [event(plan, at_s, "motor_start", station.id) for station in plan.stations]


def lamps(plan: Plan) -> list[Event]:
    """Every lamp lit 50 s before the planned head."""
    return [
        event(plan, HEAD_S + plan.ahead_s[k] - 50.0, "lamp_lit", station.id) for k, station in enumerate(plan.stations)
    ]


def quiet(plan: Plan) -> list[Event]:
    """A show in which all goes well: every motor starting at once, every lamp lit in time."""
    return [*starts(plan), *lamps(plan)]


def played(plan: Plan, events: Iterable[Event], until_s: float | None = None) -> tuple[list[str], Fold]:
    """Replay in order; the changes as short lines such as `12.5 raised act start_missing:b`."""
    ordered = sorted(events, key=lambda one: order_key(one, plan))
    records, fold = replay(plan, ordered, None if until_s is None else round(until_s * 1e6))
    return [line_of(record) for record in records], fold


def alarms_of(plan: Plan, events: Iterable[Event], until_s: float | None = None) -> list[str]:
    """The alarm lines of a replay alone."""
    return [line for line in played(plan, events, until_s)[0] if " is " not in line]


def line_of(record: Record) -> str:
    """One change as a short line."""
    at_s = f"{record.at_us / 1e6:g}"
    if isinstance(record, PhaseRecord):
        return f"{at_s} {record.station} is {record.phase}"
    because = f" < {record.cause}" if record.cause else ""
    return f"{at_s} {record.state} {record.level} {record.key}{because}"


def live(plan: Plan, events: Iterable[Event], now_s: float) -> Engine:
    """An engine that got the events in the order given, all at one late instant."""
    engine = Engine(plan)
    for one in events:
        engine.take(one, round(now_s * 1e6))
    return engine


def alarm(engine: Engine, key: str) -> AlarmView:
    """One alarm of a run, on or returned."""
    return next(view for view in engine.view().alarms if view.key == key)


def levels(plan: Plan, events: Iterable[Event], key: str, *at_s: float) -> list[Level | None]:
    """The level of one alarm at some instants of a run that takes each event as it happens; None where it is off."""
    engine, found = Engine(plan), list[Level | None]()
    coming = deque(sorted(events, key=lambda one: order_key(one, plan)))
    for now_s in at_s:
        now_us = round(now_s * 1e6)
        while coming and at_us(coming[0], plan) <= now_us:
            one = coming.popleft()
            engine.take(one, at_us(one, plan))
        engine.advance(now_us)
        on = {view.key: view.level for view in engine.view().alarms if view.state != "returned"}
        found.append(on.get(key))
    return found
