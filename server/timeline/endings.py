"""The film running out: which trips and stops in a tail are the film's end, and how long the tail then was.

All houses show one film, so its end is at every gate after the same length of tail. That length is one more unknown of
the estimate; a trip that comes too early to be the film's end is kept, until another house shows the same length.
"""

import math
from collections.abc import Collection
from typing import NamedTuple

from server.timeline.estimate import Estimate
from server.timeline.plan import Plan

OUT_SD = 2.0
"""A motor that stops so many standard deviations before its tail is out may as well have stopped after."""

RUN_OUT_SD = 3.0
"""How many standard deviations before the film's end a trip or a stop may be that end."""

# chosen: how far apart failsafes are in finding that no film is left, one standard deviation
_FINDS_SIGMA_S = 0.3
# chosen: two houses show the same length of tail where they differ by no more than this many standard deviations
_ALIKE_SD = 3.0


class Ending(NamedTuple):
    """A trip in a tail that came too early: when, known to `error_s`, and how much longer than planned the tail is."""

    at_us: int
    error_s: float
    longer_s: float


class Endings:
    """What is known of the film's end, beside the estimate of it; station arguments are indices in film order."""

    __slots__ = ("_early", "_plan")

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._early: dict[int, Ending] = {}

    def copy(self) -> "Endings":
        """Return an independent copy."""
        twin = Endings(self._plan)
        twin._early = self._early.copy()
        return twin

    def in_tail(self, station: int, estimate: Estimate) -> bool:
        """Whether a station's last picture frame has passed by now; a print without a tail is in it as it ends."""
        if self._plan.tail_s <= 0.0:
            return self.planned_s(station, estimate) <= RUN_OUT_SD * self.sd_s(station, 0.0, estimate)
        return estimate.ahead_of_pass_s(station, self._plan.mark("end").x_s) <= 0.0

    def is_end(self, station: int, error_s: float, estimate: Estimate) -> bool:
        """Whether a trip or a stop of this moment, known to `error_s`, is the film's end.

        It is where the tail is as planned, or as other houses have shown it to be: a motor that somebody stopped late
        has shown too long a tail.
        """
        if not self.in_tail(station, estimate):
            return False
        out_s = self._plan.print_s
        ahead_s = estimate.ahead_of_pass_s(station, out_s)
        known_s = math.hypot(error_s, _FINDS_SIGMA_S, estimate.pass_sigma_s(station, out_s))
        return ahead_s <= RUN_OUT_SD * known_s or self.planned_s(station, estimate) <= RUN_OUT_SD * self.sd_s(
            station, error_s, estimate
        )

    def planned_s(self, station: int, estimate: Estimate) -> float:
        """Return how much film is left before the end of a tail as long as planned."""
        return estimate.ahead_of_pass_s(station, self._plan.print_s) - estimate.tail_s()

    def sd_s(self, station: int, error_s: float, estimate: Estimate) -> float:
        """Return one standard deviation of that: of the tail, of the count and the paths, and of what was seen."""
        tail_s = self._plan.timing.tail_sigma_s if self._plan.tail_s > 0.0 else 0.0
        return math.hypot(tail_s, error_s, _FINDS_SIGMA_S, estimate.pass_sigma_s(station))

    def learn(self, station: int, error_s: float, estimate: Estimate, *, sure: bool) -> None:
        """Learn that the film's end is at a gate now; `sure` where nobody can have stopped it later than that.

        An end that comes before what others have shown puts them right, as they may have stopped late.
        """
        out_s, error_s = self._plan.print_s, math.hypot(error_s, _FINDS_SIGMA_S)
        if self._plan.tail_s <= 0.0 or estimate.see_pass(station, out_s, error_s):
            return
        if sure or estimate.ahead_of_pass_s(station, out_s) > 0.0:
            estimate.open_tail(max(abs(self.planned_s(station, estimate)), self._plan.timing.tail_sigma_s))
            estimate.see_pass(station, out_s, error_s)

    def too_early(
        self, station: int, at_us: int, error_s: float, estimate: Estimate, standing: Collection[int]
    ) -> dict[int, Ending]:
        """Keep a trip in a tail that is not the film's end, and return those that show the same length.

        Where there are any, all of them are the end of a tail that is not as long as planned, which is learned. Only
        those count whose film has stood since, which are among the `standing`: what went on was no end.
        """
        now = Ending(at_us, error_s, -self.planned_s(station, estimate))
        self._early = {other: one for other, one in self._early.items() if other in standing}
        alike = {
            other: one
            for other, one in self._early.items()
            if other != station and self._alike(other, one, station, now, estimate)
        }
        if alike:
            self._early = {other: one for other, one in self._early.items() if other not in alike}
            self.learn(station, error_s, estimate, sure=True)
        else:
            self._early.setdefault(station, now)
        return alike

    def _alike(self, other: int, one: Ending, station: int, now: Ending, estimate: Estimate) -> bool:
        """Whether two houses show one length of tail, by what is known now of the film that the first has fed.

        What both counts are wrong by alike tells nothing: the common rate is most of it.
        """
        apart_s = self.planned_s(other, estimate) - self.planned_s(station, estimate)
        known_s = math.hypot(one.error_s, now.error_s, math.sqrt(2.0) * _FINDS_SIGMA_S)
        return abs(apart_s) <= _ALIKE_SD * math.hypot(known_s, estimate.apart_sigma_s(other, station))

    def early(self, station: int) -> Ending | None:
        """Return the trip in a station's tail before the film's end was due, if there was one."""
        return self._early.get(station)

    def started(self, station: int) -> None:
        """A motor started again: what stopped it was not the film's end."""
        self._early.pop(station, None)
