"""What people do at the projectors: lamps struck by the planned clock, dousers, and what is shut down when film stands.

The crew reads the plan and the clock, not the film: it strikes when the planned window opens, however the show really
runs. It does know for how long the whole chain was stopped, and shifts the plan by that.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import inf
from typing import NamedTuple

import numpy as np

from adapters.drill.chance import Chance
from adapters.drill.course import Course
from adapters.drill.facts import Fact, FactKind
from adapters.drill.scenario import DouserForgotten, HardLamp, LampOut, LateStrike, NoFireDouser, Scenario
from server.timeline.plan import Plan, Station

# All chosen.
_STRIKE_SPREAD = 0.5
_LEAST_BEFORE_CLOSING_S = 10.0
_BETWEEN_STRIKES_S = (3.0, 6.0)
_FLICKERS = 0.3
_FLICKER_S = (0.2, 1.5)
_OPENS_BEFORE_S = (0.4, 1.6)
_SHUTS_AFTER_S = (0.3, 1.5)
_SHUTS_SPREAD = 0.35
FAILSAFE_SHUTS_S = 0.2
_REOPENS_AFTER_S = (0.3, 1.0)
_LAMP_OUT_AFTER_S = (20.0, 90.0)
_STAYS_LIT_S = 30.0
_DARK_AFTER_S = (15.0, 40.0)
_RELIT_BEFORE_S = (10.0, 25.0)
_WALK_S = 20.0


class Span(NamedTuple):
    """A time from `from_s` until `until_s`, which may be inf."""

    from_s: float
    until_s: float


class Picture(NamedTuple):
    """One station's lamp and douser as they truly were: the spans lit, the spans open."""

    lit: tuple[Span, ...]
    open: tuple[Span, ...]


class Work(NamedTuple):
    """What the crew did: pictures by station, every lamp and douser fact, and the links it read."""

    pictures: tuple[Picture, ...]
    facts: tuple[Fact, ...]


def work(plan: Plan, scenario: Scenario, course: Course, chance: Chance) -> Work:
    """Let the crew do a whole show."""
    pictures: list[Picture] = []
    facts: list[Fact] = []
    for k, station in enumerate(plan.stations):
        projectionist = _Projectionist(plan, k, scenario, course, chance)
        picture = projectionist.picture()
        pictures.append(picture)
        facts += _facts(station.id, picture.lit, "lamp_lit", "lamp_out", projectionist.surprises_s)
        facts += _facts(station.id, picture.open, "douser_open", "douser_shut", frozenset())
    facts += _readings(plan, scenario, course)
    return Work(tuple(pictures), tuple(facts))


def standing_spans(course: Course, k: int) -> list[Span]:
    """The times after its first start in which a station's motor stood with film in it."""
    spells = course.spells[k]
    spans = [Span(before.off_s, after.on_s) for before, after in pairwise(spells)]
    if spells and course.tail_out_s[k] is None and spells[-1].off_s < inf:
        spans.append(Span(spells[-1].off_s, inf))
    return spans


def still_spans(course: Course, k: int) -> list[Span]:
    """All times in which film stands still in a station's gate, from when it was threaded until its end is out."""
    out_s = course.tail_out_s[k]
    spans = [Span(-inf, inf if out_s is None else out_s)]
    for spell in course.spells[k]:
        spans = without(spans, Span(spell.on_s, spell.off_s + 2.0 * spell.coast_s))
    return spans


def both(some: Sequence[Span], others: Sequence[Span]) -> list[Span]:
    """Where both are."""
    parts = [Span(max(a.from_s, b.from_s), min(a.until_s, b.until_s)) for a in some for b in others]
    return [part for part in parts if part.from_s < part.until_s]


def without(spans: Sequence[Span], gap: Span) -> list[Span]:
    """What is left of the spans outside the gap."""
    parts = [
        part
        for span in spans
        for part in (
            span._replace(until_s=min(span.until_s, gap.from_s)),
            span._replace(from_s=max(span.from_s, gap.until_s)),
        )
    ]
    return [part for part in parts if part.from_s < part.until_s]


def _facts(
    station: str, spans: Sequence[Span], on: FactKind, off: FactKind, surprises_s: frozenset[float]
) -> list[Fact]:
    facts = []
    for span in spans:
        facts.append(Fact(span.from_s, on, station))
        if span.until_s < inf:
            facts.append(Fact(span.until_s, off, station, surprise=span.until_s in surprises_s))
    return facts


def _readings(plan: Plan, scenario: Scenario, course: Course) -> list[Fact]:
    """Somebody walks the chain now and then and reads every link that still has film coming."""
    every_s = scenario.crew.reads_every_s
    if every_s is None:
        return []
    facts = []
    for i, link in enumerate(plan.links):
        out_s, first_s = course.tail_out_s[i], scenario.late_s + every_s + _WALK_S * i
        last_s = course.spells[i][-1].off_s if out_s is None and course.spells[i] else out_s or first_s
        for t_s in np.arange(first_s, last_s, every_s).tolist():
            slack_s = course.curves[i].count_at(t_s) - course.curves[i + 1].count_at(t_s)
            facts.append(Fact(t_s, "slack_read", link.downstream, seconds=slack_s))
    return facts


class _Projectionist:
    """Whoever looks after one station."""

    def __init__(self, plan: Plan, k: int, scenario: Scenario, course: Course, chance: Chance) -> None:
        self._plan = plan
        self._k = k
        self._station: Station = plan.stations[k]
        self._scenario = scenario
        self._course = course
        self._rng = chance.stream("lamp", self._station.id)
        self._shuts_rng = chance.stream("shuts", self._station.id)
        self._head_s = self._pass_s("head")
        self._end_s = self._pass_s("end")
        self._standing = standing_spans(course, k)
        self._lamp_faults = [fault for fault in scenario.of(LampOut) if fault.station == self._station.id]

    @property
    def surprises_s(self) -> frozenset[float]:
        """When the lamp goes out by itself."""
        return frozenset(fault.at_s for fault in self._lamp_faults)

    def picture(self) -> Picture:
        """Strike, open, shut and put out, and do it again around every stop."""
        strike_s = self._strike_s()
        if strike_s is None:
            return Picture((), ())
        lit = [*self._flickers(strike_s), *self._lit(strike_s)]
        return Picture(tuple(lit), tuple(self._open()))

    def _lit(self, strike_s: float) -> list[Span]:
        out_s = inf if self._end_s is None else self._end_s + self._between(_LAMP_OUT_AFTER_S)
        lit = [Span(strike_s, out_s)]
        for stand in self._standing:
            dark = Span(stand.from_s + self._between(_DARK_AFTER_S), stand.until_s - self._between(_RELIT_BEFORE_S))
            if stand.until_s - stand.from_s > _STAYS_LIT_S and dark.from_s < dark.until_s:
                lit = without(lit, dark)
        for fault in self._lamp_faults:
            lit = without(lit, Span(fault.at_s, inf if fault.for_s is None else fault.at_s + fault.for_s))
        return lit

    def _open(self) -> list[Span]:
        if self._head_s is None:
            return []
        forgotten_s = [
            fault.late_s for fault in self._scenario.of(DouserForgotten) if fault.station == self._station.id
        ]
        open_s = self._head_s + (forgotten_s[0] if forgotten_s else -self._between(_OPENS_BEFORE_S))
        spans = [Span(open_s, inf if self._end_s is None else self._end_s + self._between(_SHUTS_AFTER_S))]
        for stand in self._standing:
            shut = Span(stand.from_s + self._shuts_s(), stand.until_s + self._between(_REOPENS_AFTER_S))
            spans = without(spans, shut) if shut.from_s < stand.until_s else spans
        return spans

    def _shuts_s(self) -> float:
        """How long after its film stopped the douser is shut: by itself, or by somebody who goes to it."""
        if not self._scenario.lacks(NoFireDouser, self._station.id):
            return FAILSAFE_SHUTS_S
        crew = self._scenario.crew
        return crew.shuts_after_s * (1.0 if crew.exact else float(self._shuts_rng.lognormal(0.0, _SHUTS_SPREAD)))

    def _strike_s(self) -> float | None:
        """When the lamp catches, or None where it is never struck."""
        late = [fault.late_s for fault in self._scenario.of(LateStrike) if fault.station == self._station.id]
        if late and self._head_s is not None:
            return self._head_s - self._station.lamp.latest_s + late[0]
        opens_s = self._planned_head_s() - self._station.lamp.earliest_s
        struck_s = self._on_crew_clock(opens_s + self._delay_s())
        stops_s = self._standing[-1].from_s if self._standing and self._standing[-1].until_s == inf else inf
        return struck_s if struck_s is not None and struck_s < stops_s else None

    def _delay_s(self) -> float:
        """How long after the window opens the lamp catches, further strikes included."""
        lamp, crew = self._station.lamp, self._scenario.crew
        if crew.exact:
            return 0.0
        first_s = crew.strike_after_s * float(self._rng.lognormal(0.0, _STRIKE_SPREAD))
        latest_s = max(0.0, lamp.earliest_s - lamp.latest_s - _LEAST_BEFORE_CLOSING_S)
        return min(first_s, latest_s) + sum(self._between(_BETWEEN_STRIKES_S) for _ in range(self._failed_strikes()))

    def _failed_strikes(self) -> int:
        hard = [fault.strikes - 1 for fault in self._scenario.of(HardLamp) if fault.station == self._station.id]
        return hard[0] if hard else int(self._rng.geometric(1.0 - self._scenario.crew.strike_fails)) - 1

    def _flickers(self, strike_s: float) -> list[Span]:
        """Strikes that caught for a moment, just before the one that held."""
        if self._scenario.crew.exact or self._rng.random() >= _FLICKERS * self._scenario.crew.strike_fails:
            return []
        from_s = strike_s - self._between(_BETWEEN_STRIKES_S)
        return [Span(from_s, from_s + self._between(_FLICKER_S))]

    def _planned_head_s(self) -> float:
        """When the plan has the head at this gate, counted from when the chain was truly started."""
        head_s = self._plan.mark("head").x_s + self._plan.ahead_s[self._k] + self._plan.timing.runup_loss_s
        return self._scenario.late_s + self._station.start_offset_s + head_s

    def _on_crew_clock(self, at_s: float) -> float | None:
        """Shift a planned time by every stop of the chain before it; None where the chain never went on."""
        for stopped_s, started_s in self._course.chain_stops:
            if at_s > stopped_s:
                if started_s is None:
                    return None
                at_s += started_s - stopped_s
        return at_s

    def _pass_s(self, mark: str) -> float | None:
        place_s = self._course.place_s(self._plan.mark(mark).x_s)
        return self._course.curves[self._k].time_at(place_s + self._course.ahead_s[self._k])

    def _between(self, bounds_s: tuple[float, float]) -> float:
        low_s, high_s = bounds_s
        return 0.5 * (low_s + high_s) if self._scenario.crew.exact else float(self._rng.uniform(low_s, high_s))
