"""One drill: a plan, a scenario and a seed in; events, and the truth beside them, out."""

from dataclasses import dataclass

from adapters.drill.chain import Chain
from adapters.drill.chance import Chance
from adapters.drill.course import Course
from adapters.drill.crew import work
from adapters.drill.facts import Fact
from adapters.drill.observers import Observers
from adapters.drill.scenario import FoilMissing, Scenario
from adapters.drill.truth import Truth
from server.timeline.events import Event
from server.timeline.plan import Mark, Plan, Station


@dataclass(frozen=True)
class Drill:
    """A simulated show: its events as a recording has them, by the time each was written down, and its truth."""

    events: list[Event]
    truth: Truth


def simulate(plan: Plan, scenario: Scenario, seed: int) -> Drill:
    """Run a whole show; the same three arguments always give the same drill.

    Raises ValueError where the scenario names a station, link, mark or booth that the plan does not have.
    """
    check(plan, scenario)
    chance = Chance(seed)
    course = Chain(plan, scenario, chance).run()
    done = work(plan, scenario, course, chance)
    facts = sorted([*course.facts, *done.facts, *passes_seen(plan, scenario, course)], key=lambda fact: fact.at_s)
    observers = Observers(plan, scenario, chance, f"{scenario.name}-{seed}")
    events = observers.observe(facts)
    truth = Truth(plan, scenario, seed, course, done.pictures, tuple(facts), tuple(observers.mistakes))
    return Drill(events, truth)


def check(plan: Plan, scenario: Scenario) -> None:
    """Raise ValueError where a scenario names what the plan does not have."""
    known: dict[str, set[str | None]] = {
        "station": set(plan.station_index),
        "as_station": set(plan.station_index),
        "link": {link.id for link in plan.links},
        "mark": set(plan.marks_by_id),
        "booth": {station.booth for station in plan.stations},
    }
    for fault in scenario.faults:
        for key, names in known.items():
            name: str | None = getattr(fault, key, None)
            if name is not None and name not in names:
                raise ValueError(f"{scenario.name}: {type(fault).__name__}: {key}: found {name!r}, not in the plan")


def passes_seen(plan: Plan, scenario: Scenario, course: Course) -> list[Fact]:
    """The passes that somebody or something is there to see."""
    missing = {fault.mark for fault in scenario.of(FoilMissing)}
    facts = []
    for k, station in enumerate(plan.stations):
        for mark in _marks_seen(plan, station, missing):
            place_s = course.place_s(mark.x_s)
            if place_s > course.film_end_s:
                continue
            at_s = course.curves[k].time_at(place_s + course.ahead_s[k])
            if at_s is not None:
                facts.append(Fact(at_s, "mark_pass", station.id, mark.id))
    return facts


def _marks_seen(plan: Plan, station: Station, missing: set[str]) -> list[Mark]:
    """Foil cues for a contact; for people also the head and the end. Two marks at one point are one sight.

    Where a foil is missing people see the picture all the same.
    """
    by_people = station.inputs.cue == "tap"
    by_x = {mark.x_s: mark for mark in plan.marks if mark.cue and (by_people or mark.id not in missing)}
    if by_people:
        by_x |= {mark.x_s: mark for mark in (plan.mark("head"), plan.mark("end"))}
    return list(by_x.values())
