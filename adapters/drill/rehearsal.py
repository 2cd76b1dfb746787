"""A drill in which somebody takes part: it goes on a little at a time, and what is done at the desks changes the rest.

It knows neither clock nor port: it is told the time, and what was reported. The chain is worked out to the end of the
show. Something done to it has it worked out again, with the same seed, from all that was done so far. What has happened
stays as it was.
"""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from heapq import heappop, heappush
from itertools import count, pairwise
from math import inf
from typing import Final, Literal, NamedTuple, TypeAlias, cast, get_args

from adapters.drill.catalogue import CATALOGUE, scenario_for
from adapters.drill.chance import Chance
from adapters.drill.crew import Work, work
from adapters.drill.duties import CrewKind, Duties
from adapters.drill.facts import Fact
from adapters.drill.manual import Act, ManualChain, MotorAct
from adapters.drill.motion import first_past_s
from adapters.drill.observers import SAID, Observers, way_of
from adapters.drill.pictures import PictureAct, Pictures
from adapters.drill.scenario import Scenario
from adapters.drill.sights import STANDS, TAKEN_UP, sight_of
from adapters.drill.simulate import check, passes_seen
from adapters.drill.truth import Truth
from server.timeline.events import Event
from server.timeline.plan import Plan

End: TypeAlias = Literal["out", "spilled"]

SPILL_S: Final = 60.0
"""Film on the floor, or pulled, past a reserve, at which there is nothing more to save: 90 ft of 35 mm. Chosen."""

CLEARED_S: Final = 120.0
"""From the last tail's end to the end of the drill: time to stop the motor and put the lamp out. Chosen."""

BEFORE_S: Final = 180.0
"""Who comes to a show that has begun finds all that was seen of it from so long before its motors. Chosen."""

LOOKOUT: Final = "lookout"
"""Whose notes tell what there is to be seen at a gate."""

_MOTOR_ACTS: Final = frozenset(get_args(MotorAct))
_PICTURE_ACTS: Final = frozenset(get_args(PictureAct))
# Chosen: film is taken up by hand within a second, and less of it was not moved.
_TAKEN_UP_S: Final = 2.0
_LEAST_SLACK_S: Final = 1e-6


def surprise(plan: Plan, seed: int, crew: CrewKind) -> Scenario:
    """One of the library's scenarios that trouble this plan, by chance; `clean` where none does."""
    duties = Duties(plan, crew)
    scenarios = [scenario_for(name, plan, seed) for name in CATALOGUE]
    fitting = [scenario for scenario in scenarios if duties.comes_about(scenario)]
    if not fitting:
        return scenario_for("clean", plan, seed)
    return fitting[int(Chance(seed).stream("surprise").integers(len(fitting)))]


class Done(NamedTuple):
    """Something that the person did or said at the desks; `changed` is false where all stayed as it was."""

    at_s: float
    event: Event
    changed: bool


class _Call(NamedTuple):
    """Something that the lookout calls out at `at_s`."""

    at_s: float
    text: str


class Rehearsal:
    """One rehearsal of a scenario on a plan, from `start_s` (seconds after `motors_at`) on.

    Where the chain was started before that, a full crew has seen to the show until then: `past` is what was written
    down of it. Raises ValueError where the scenario names what the plan does not have.
    """

    def __init__(self, plan: Plan, scenario: Scenario, seed: int, crew: CrewKind, start_s: float) -> None:
        check(plan, scenario)
        self.duties = Duties(plan, crew)
        self.scenario = scenario
        self.start_s = start_s
        self.end: End | None = None
        self.done: list[Done] = []
        self._plan = plan
        self._seed = seed
        self._chance = Chance(seed)
        self._observers = Observers(plan, scenario, self._chance, f"drill-{seed}")
        self._pushed: list[Act] = []
        self._called_s = -inf
        self._facts: list[Fact] = []
        self._numbers = count(1)
        self._written: list[tuple[float, int, Event]] = []
        began = start_s > scenario.late_s
        self._full_crew = began
        self._pictures = Pictures(Duties(plan, "all") if began else self.duties, scenario)
        self.at_s = scenario.late_s - BEFORE_S if began else start_s
        self._write(self._observers.feeds(self.at_s))
        self._draw()
        self.past = self._begun() if began else []

    def _begun(self) -> list[Event]:
        """Let the show go on without the person until they come to it."""
        events = self.advance(self.start_s)
        self._full_crew = False
        self._pictures.hand_over(self.duties)
        if self.duties.motors:
            self._pushed.append(Act(self.scenario.late_s, "chain_start"))
        self._draw()
        return events

    def advance(self, now_s: float) -> list[Event]:
        """Let everything up to `now_s` happen; what was written down of it by then, in order of time."""
        now_s = max(now_s, self.at_s)
        if self.end is not None:
            return []
        until_s, end = min(self._ends, default=(inf, None))
        while self._coming and self._coming[0].at_s <= min(now_s, until_s):
            self._happen(self._coming.pop(0))
        while self._calls and self._calls[0].at_s <= min(now_s, until_s):
            self._called_s = self._calls[0].at_s
            self._write(iter([self._note(*self._calls.pop(0))]))
        self._write(self._observers.found_after(now_s))
        self.at_s = min(now_s, until_s)
        if now_s >= until_s:
            self.end = end
        events = []
        while self._written and self._written[0][0] <= now_s:
            events.append(heappop(self._written)[2])
        return events

    def take(self, event: Event) -> None:
        """Let the person's report have its effect, from the time of the last `advance` on: a tap does what it says."""
        if self.end is not None:
            return
        k = None if event.station is None else self._plan.station_index[event.station]
        if event.kind in _MOTOR_ACTS:
            self._push(event, Act(self.at_s, cast("MotorAct", event.kind), k, event.seconds or 0.0))
        elif event.kind in _PICTURE_ACTS and k is not None:
            fact = self._pictures.act(cast("PictureAct", event.kind), k, self.at_s)
            if fact is not None:
                self._happen(fact, by_person=True)
                self._draw()
            self.done.append(Done(self.at_s, event, changed=fact is not None))
        elif event.kind == "ready":
            self.done.append(Done(self.at_s, event, changed=event.station not in self.running))

    def _push(self, event: Event, act: Act) -> None:
        """Something done to motors, film or start; who is to start the chain moves the start by saying so."""
        before, slacks_s = self._course.facts, self._slacks_s()
        self._pushed.append(act)
        self._draw()
        moved = any(abs(a - b) > _LEAST_SLACK_S for a, b in zip(slacks_s, self._slacks_s(), strict=True))
        said = act.kind == "hold" and not self.running
        self.done.append(Done(self.at_s, event, changed=said or moved or self._course.facts != before))

    def _slacks_s(self) -> list[float]:
        """What every link will hold once film that was taken up a moment ago is so."""
        counts_s = [curve.count_at(self.at_s + _TAKEN_UP_S) for curve in self._course.curves]
        return [up - down for up, down in pairwise(counts_s)]

    def next_s(self) -> float | None:
        """When `advance` is next to be asked, if nobody does anything; None where nothing more will happen."""
        coming_s = [*(fact.at_s for fact in self._coming[:1]), *(call.at_s for call in self._calls[:1])]
        written_s = [at_s for at_s, _, _ in self._written[:1]]
        return min([*coming_s, *written_s, *(at_s for at_s, _ in self._ends)], default=None)

    @property
    def running(self) -> list[str]:
        """The stations whose motors run now."""
        return [
            station.id
            for station, spells in zip(self._plan.stations, self._course.spells, strict=True)
            if any(spell.on_s <= self.at_s < spell.off_s for spell in spells)
        ]

    @property
    def truth(self) -> Truth:
        """What truly was so far. Its course goes on to where the film would have gone by itself."""
        facts = tuple(sorted(self._facts, key=lambda fact: fact.at_s))
        mistakes = tuple(self._observers.mistakes)
        return Truth(self._plan, self.scenario, self._seed, self._course, self._pictures.so_far(), facts, mistakes)

    def _draw(self) -> None:
        """Work out the rest of the show from all that was done so far."""
        duties = Duties(self._plan, "all") if self._full_crew else self.duties
        chain = ManualChain(duties, self.scenario, self._chance, self._pushed, self.at_s)
        self._course = chain.run()
        done = self._crew_work(chain.started_s)
        # Motors that are stopped together differ by chance, so one may have stopped a moment before the tap.
        motors = [fact for fact in self._course.facts if fact not in self._facts]
        passes = passes_seen(self._plan, self.scenario, self._course)
        others = [*passes, *(fact for fact in done.facts if fact.kind == "slack_read")]
        pictures = self._pictures.coming(done, self._course, self.at_s)
        facts = [*motors, *pictures, *(fact for fact in others if fact.at_s > self.at_s)]
        self._coming = sorted(facts, key=lambda fact: fact.at_s)
        calls = [
            *(_Call(at_s, STANDS) for at_s in chain.awaits_helpers_s),
            *(_Call(at_s, TAKEN_UP) for at_s in chain.rethreaded_s),
        ]
        self._calls = sorted(call for call in calls if call.at_s > self._called_s)
        self._ends = list(self._ends_s())

    def _crew_work(self, started_s: float) -> Work:
        """What the simulated crew does; it counts from when the chain was truly started."""
        if started_s == inf:
            return Work(self._pictures.so_far(), ())
        return work(self._plan, replace(self.scenario, late_s=started_s), self._course, self._chance)

    def _ends_s(self) -> Iterator[tuple[float, End]]:
        outs_s = self._course.tail_out_s
        if None not in outs_s:
            yield max(out_s for out_s in outs_s if out_s is not None) + CLEARED_S, "out"
        for i, link in enumerate(self._plan.links):
            up, down = self._course.curves[i : i + 2]
            out_s = outs_s[i]
            last_s = float(up.at_s[-1]) if out_s is None else out_s
            past = first_past_s(up, down, link.reserve_s + SPILL_S, self.start_s, last_s)
            if past is not None:
                yield past[0], "spilled"

    def _happen(self, fact: Fact, *, by_person: bool = False) -> None:
        if fact.kind in _PICTURE_ACTS and not self._pictures.take(fact):
            return
        self._facts.append(fact)
        self._write(self._seen(fact, by_person=by_person))

    def _seen(self, fact: Fact, *, by_person: bool) -> Iterator[Event]:
        """By contacts and by the simulated crew; what is left to the person is told as a sight, never as a tap."""
        station = None if fact.station is None else self._plan.stations[self._plan.station_index[fact.station]]
        way = way_of(fact, station) if station is not None else "tap" if self.duties.motors else "none"
        if way == "contact" or fact.kind in SAID or self.duties.crew == "all" or self._full_crew:
            yield from self._observers.see(fact)
        elif way == "tap" and not (by_person or fact.with_chain or fact.at_s in {act.at_s for act in self._pushed}):
            yield self._note(fact.at_s, sight_of(fact, self._plan))

    def _note(self, at_s: float, text: str) -> Event:
        return Event(
            id=f"drill-{self._seed}-sight-{next(self._numbers)}",
            t=self._plan.zero + timedelta(seconds=at_s),
            kind="note",
            source=f"tap:{LOOKOUT}",
            by=LOOKOUT,
            text=text,
        )

    def _write(self, events: Iterator[Event]) -> None:
        for event in events:
            at_s = (event.t - self._plan.zero).total_seconds()
            heappush(self._written, (at_s, next(self._numbers), event))
