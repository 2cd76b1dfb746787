"""Going through a run from its first event to its last, once, and then to any instant of it at once."""

from bisect import bisect_right
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from server.review.account import Account, Arrival, Clock
from server.review.alarm_spans import AlarmSpan, AlarmSpans
from server.timeline.estimate import US_PER_S
from server.timeline.events import Event
from server.timeline.fold import Fold
from server.timeline.outlook import Outlook
from server.timeline.track import Track
from server.timeline.view import Phase

Array = NDArray[np.float64]

_HALTING_US = 30 * US_PER_S  # chosen: by then every motor of a stop of the chain has been seen to stand


class Instant(NamedTuple):
    """A run at one instant: its fold, the latest event known by then, and when something next changes by itself."""

    fold: Fold
    last: Event | None
    next_us: int | None


class Expected(NamedTuple):
    """When a mark was expected at a gate, and how sure that was, one standard deviation."""

    at_us: int
    sd_s: float


class Halt(NamedTuple):
    """A stop of the chain: when, and the stations whose film stood when it was known, in film order."""

    at_us: int
    stations: tuple[int, ...]


class _Stretch(NamedTuple):
    """From `from_us` on the links move by this outlook; those below the stations in `free` hold the film's end."""

    from_us: int
    outlook: Outlook
    free: tuple[bool, ...]


class Walk:
    """A run by one clock, gone through to the end of its span.

    `spans` are its alarms, `phases` each station's with the instants they began. `expected` is what was expected of
    each (station, mark): just before it was seen, else at the last. `halts` are the stops of the chain, each as often
    as more was known of it. `final` is the fold at the end.
    """

    def __init__(self, account: Account, clock: Clock) -> None:
        self._plan = account.plan
        self._arrivals: Sequence[Arrival] = account.arrivals(clock)
        self._known_us = [arrival.at_us for arrival in self._arrivals]
        self.span = account.span
        self.expected: dict[tuple[int, str], Expected] = {}
        self.phases: list[tuple[int, int, Phase]] = []
        self.halts: list[Halt] = []
        self._phase_now: list[Phase] = ["threaded"] * len(account.plan.stations)
        self._spans = AlarmSpans()
        self._stretches: list[_Stretch] = []
        self._seen: set[tuple[int, str]] = set()
        # Taking in an event takes milliseconds where many stations run, and a fold some 50 kB: one is kept for each.
        self._folds: list[Fold] = []
        self.final = self._go_through()
        self.spans: list[AlarmSpan] = self._spans.spans()

    def at(self, at_us: int) -> Instant:
        """The run at any instant, from the state kept after the last arrival before it."""
        count = bisect_right(self._known_us, at_us)
        fold = self._folds[count].copy()
        fold.advance(at_us)
        edges = [edge for edge in (fold.next_edge_us(), *self._known_us[count : count + 1]) if edge is not None]
        return Instant(fold, self._arrivals[count - 1].event if count else None, min(edges, default=None))

    def slack(self, at_us: Sequence[int]) -> tuple[Array, Array]:
        """Slack and its standard deviation, in seconds, a row an instant and a column a link.

        NaN once the film's end has left the gate above: a free end has no slack.
        """
        starts = [stretch.from_us for stretch in self._stretches]
        rows = [self._slack_at(self._stretches[max(bisect_right(starts, at) - 1, 0)], at) for at in at_us]
        both = np.asarray(rows, dtype=np.float64).reshape(len(rows), 2, -1)
        return both[:, 0, :], both[:, 1, :]

    def ran(self) -> list[bool]:
        """Whether each station's motor was ever known to run."""
        return [state.started_us is not None for state in self.final.evidence.stations]

    def last_drift(self, link: int) -> tuple[float, float] | None:
        """A link's drift and its standard deviation as last known while both motors ran; None where they never did."""
        for stretch in reversed(self._stretches):
            outlook = stretch.outlook
            if outlook.rate[link] > 0.0 and outlook.rate[link + 1] > 0.0 and not stretch.free[link]:
                return outlook.drift[link], max(outlook.slack_var[link][2], 0.0) ** 0.5
        return None

    def _slack_at(self, stretch: _Stretch, at_us: int) -> tuple[Array, Array]:
        outlook = stretch.outlook
        after_s = max(at_us - outlook.at_us, 0) / US_PER_S if any(outlook.rate) else 0.0
        a, b, c, w = np.asarray(outlook.slack_var, dtype=np.float64).reshape(-1, 4).T
        slack = np.asarray(outlook.slack) + after_s * np.asarray(outlook.drift)
        sd = np.sqrt(np.maximum(a + after_s * (b + after_s * (c + after_s * w)), 0.0))
        free = np.asarray(stretch.free[:-1], dtype=bool)
        return np.where(free, np.nan, slack), np.where(free, np.nan, sd)

    def _go_through(self) -> Fold:
        track = Track(self._plan)
        fold = track.tip.copy()
        self._folds.append(track.tip.copy())
        self._look(fold, self.span.from_us)
        for arrival in self._arrivals:
            if arrival.at_us > self.span.to_us:
                break
            self._pass_time(fold, arrival.at_us - 1)
            self._note_expected(fold, arrival.event)
            track.insert(arrival.event)
            fold = track.tip.copy()
            self._folds.append(track.tip.copy())
            fold.advance(arrival.at_us)
            self._look(fold, arrival.at_us, arrival.event)
        self._pass_time(fold, self.span.to_us)
        fold.conclude()
        self._look(fold, self.span.to_us)
        for k in range(len(self._plan.stations)):
            self._expect_unseen(fold, k)
        for arrival in self._arrivals[len(self._folds) - 1 :]:
            track.insert(arrival.event)
            self._folds.append(track.tip.copy())
        return fold

    def _pass_time(self, fold: Fold, to_us: int) -> None:
        while (edge := fold.next_edge_us()) is not None and edge <= to_us:
            fold.advance(edge)
            self._look(fold, edge)
        fold.advance(to_us)

    def _look(self, fold: Fold, at_us: int, event: Event | None = None) -> None:
        """Note what is different: alarms, phases, and how the links move."""
        self._spans.look(fold.board, at_us, event)
        for k, phase in enumerate(fold.phases):
            if self._phase_now[k] != phase:
                self._phase_now[k] = phase
                self.phases.append((at_us, k, phase))
        self._note_halt(fold, at_us)
        free = tuple(phase == "clear" for phase in fold.phases)
        outlook = fold.evidence.outlook
        if not self._stretches or self._stretches[-1].outlook is not outlook or self._stretches[-1].free != free:
            self._stretches.append(_Stretch(at_us, outlook, free))

    def _note_halt(self, fold: Fold, at_us: int) -> None:
        halt_us = fold.evidence.halt_us
        stood = tuple(k for k, phase in enumerate(fold.phases) if phase == "stopped")
        if halt_us is None or not stood:
            return
        is_new = not self.halts or self.halts[-1].at_us != halt_us
        if is_new or (at_us - halt_us <= _HALTING_US and self.halts[-1].stations != stood):
            self.halts.append(Halt(halt_us, stood))

    def _note_expected(self, fold: Fold, event: Event) -> None:
        match event.kind:
            case "mark_pass":
                x_s = self._plan.mark(event.mark or "").x_s
                for mark in self._plan.marks:
                    if mark.x_s == x_s:
                        self._expect(fold, self._plan.station_index[event.station or ""], mark.id, seen=True)
            case "motor_stop" | "film_trip":
                self._expect_unseen(fold, self._plan.station_index[event.station or ""])
            case "chain_stop":
                for k in range(len(self._plan.stations)):
                    self._expect_unseen(fold, k)
            case _:
                pass

    def _expect_unseen(self, fold: Fold, station: int) -> None:
        for mark in self._plan.marks:
            self._expect(fold, station, mark.id)

    def _expect(self, fold: Fold, station: int, mark: str, *, seen: bool = False) -> None:
        # The film's end is seen by what it does to a motor or a failsafe, which is no pass that somebody told of.
        if (station, mark) in self._seen or mark in fold.evidence.stations[station].passes:
            return
        eta = fold.evidence.prospect.eta_us(station, self._plan.mark(mark).x_s)
        if eta is not None:
            self.expected[station, mark] = Expected(*eta)
        if seen:
            self._seen.add((station, mark))
