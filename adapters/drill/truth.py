"""What truly was in a drill, kept beside its events: the answer sheet for whoever estimates from them."""

from dataclasses import dataclass
from functools import cached_property
from math import inf

import numpy as np

from adapters.drill.course import Course, Spent, Trip
from adapters.drill.crew import Picture, Span, both, still_spans
from adapters.drill.facts import Fact
from adapters.drill.motion import Floats, first_past_s
from adapters.drill.observers import Mistake
from adapters.drill.scenario import Scenario
from server.timeline.plan import Link, Mark, Plan


@dataclass(frozen=True)
class Truth:
    """One drill as it truly went; all times are seconds after `motors_at`, all film seconds of film.

    `facts` are all that happened, in order of time. `pictures` are the lamps and dousers by station. `mistakes` are the
    events that are wrong, and the taps that were missed. `course` holds the motion itself.
    """

    plan: Plan
    scenario: Scenario
    seed: int
    course: Course
    pictures: tuple[Picture, ...]
    facts: tuple[Fact, ...]
    mistakes: tuple[Mistake, ...]

    def count_s(self, station: str, t_s: Floats) -> Floats:
        """Film fed by a station since threading, at each time."""
        return self.course.curves[self.plan.station_index[station]].count(t_s)

    def rate(self, station: str, t_s: Floats) -> Floats:
        """Film seconds a second at a station, at each time; 0.0 while it stands."""
        return self.course.curves[self.plan.station_index[station]].rate(t_s)

    def slack_s(self, link: str, t_s: Floats) -> Floats:
        """Film in a link over (+) or under (-) what was threaded; NaN once the film has left the gate that feeds it."""
        found = self._link(link)
        slack_s = self.count_s(found.upstream, t_s) - self.count_s(found.downstream, t_s)
        return np.where(t_s <= self._end_of_link_s(found), slack_s, np.nan)

    def drift(self, link: str, t_s: Floats) -> Floats:
        """How fast slack changes, film seconds a second."""
        found = self._link(link)
        return self.rate(found.upstream, t_s) - self.rate(found.downstream, t_s)

    def pass_s(self, station: str, mark: str) -> float | None:
        """When a mark went through a gate; None where it never did."""
        return self.passes[station].get(mark)

    @cached_property
    def passes(self) -> dict[str, dict[str, float]]:
        """For each station, when each mark went through its gate; marks that never did are absent."""
        return {
            station.id: {mark.id: at_s for mark in self.plan.marks if (at_s := self._pass_s(k, mark)) is not None}
            for k, station in enumerate(self.plan.stations)
        }

    def _pass_s(self, k: int, mark: Mark) -> float | None:
        """The tail's end is where it truly is, and what the plan has behind it is not there."""
        end_s, out_s = self.course.film_end_s, self.course.tail_out_s[k]
        if mark.id == "tail_end":
            return out_s
        place_s = self.course.place_s(mark.x_s)
        return self.course.curves[k].time_at(place_s + self.course.ahead_s[k]) if place_s <= end_s else None

    @cached_property
    def transit_s(self) -> dict[str, float]:
        """Each link's true path, as film at nominal rate."""
        steps = np.diff(self.course.ahead_s).tolist()
        return dict(zip((link.id for link in self.plan.links), steps, strict=True))

    @cached_property
    def starts_s(self) -> dict[str, float | None]:
        """When each motor first started; None where it never did."""
        return {
            station.id: spells[0].on_s if spells else None
            for station, spells in zip(self.plan.stations, self.course.spells, strict=True)
        }

    @cached_property
    def gone_s(self) -> dict[str, float | None]:
        """When slack of each link was first past the plan's reserve; None where it never was."""
        gone: dict[str, float | None] = {}
        for i, link in enumerate(self.plan.links):
            curves = self.course.curves[i : i + 2]
            past = first_past_s(curves[0], curves[1], link.reserve_s, 0.0, min(self._end_of_link_s(link), self.end_s))
            gone[link.id] = None if past is None else past[0]
        return gone

    @cached_property
    def in_the_light(self) -> dict[str, tuple[Span, ...]]:
        """For each station, when film stood in its gate with the lamp lit and the douser open, however shortly.

        That is film of any kind, from when it was threaded until its end has left the gate. `until_s` is inf where it
        stands so still.
        """
        return {
            station.id: tuple(both(still_spans(self.course, k), both(picture.lit, picture.open)))
            for k, (station, picture) in enumerate(zip(self.plan.stations, self.pictures, strict=True))
        }

    @property
    def spent(self) -> tuple[Spent, ...]:
        """Every link whose failsafe reserve was spent, in order of time; the first is the cause of the rest."""
        return self.course.spent

    @property
    def trips(self) -> tuple[Trip, ...]:
        """Every projector that tripped, in order of time."""
        return self.course.trips

    @property
    def end_s(self) -> float:
        """When the last thing happened."""
        return self.facts[-1].at_s if self.facts else 0.0

    def _link(self, link: str) -> Link:
        return next(found for found in self.plan.links if found.id == link)

    def _end_of_link_s(self, link: Link) -> float:
        out_s = self.course.tail_out_s[self.plan.station_index[link.upstream]]
        return inf if out_s is None else out_s
