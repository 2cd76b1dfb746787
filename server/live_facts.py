"""What a live run knows, for the feeds that ask (`adapters.base.RunFacts`)."""

from bisect import insort
from collections.abc import Collection, Sequence
from datetime import datetime
from math import sqrt
from statistics import median

from adapters.base import ExpectedPass
from server.live import LiveRun
from server.timeline.events import Event, order_key
from server.timeline.plan import Station
from server.timeline.view import StationView

EARLY_S = 60.0
"""Where no start is known of anywhere, a foil this long before the planned start can be that of a show. Chosen."""

UNKNOWN_SD_S = 86_400.0
"""How little is known of when a mark passes where no motor was seen to start."""


class LiveFacts:
    """The facts of one run, read off its events and its view; new events are read when somebody asks."""

    def __init__(self, run: LiveRun) -> None:
        self._run = run
        self._read = 0
        self._events: dict[str, list[Event]] = {station.id: [] for station in run.plan.stations}
        self._retractions: list[Event] = []
        self._void: frozenset[str] = frozenset()

    def standing(self, station: str) -> Sequence[Event]:
        """As `adapters.base.RunFacts`."""
        self._read_new()
        return [event for event in self._events[station] if event.id not in self._void]

    def passes(self, station: str) -> Sequence[ExpectedPass]:
        """As `adapters.base.RunFacts`."""
        place = self._run.plan.station_index[station]
        stations = self._run.view.stations
        seen = stations[place].passes if stations else {}
        view = stations[place] if stations and stations[place].started_s is not None else None
        timed = self._as_planned(place, seen) if view is None else _as_estimated(view, self._x_s())
        return [
            ExpectedPass(mark.id, mark.cue, round(seen.get(mark.id, at_s) * 1e6), sd_s)
            for mark, (at_s, sd_s) in zip(self._run.plan.marks, timed, strict=True)
        ]

    def heard_until(self, source: str) -> datetime | None:
        """As `adapters.base.RunFacts`: when it went down, or when the server last wrote anything if it was up."""
        for event in reversed(self._run.events[: self._run.stored]):
            if event.source == source and event.kind in {"feed_up", "feed_down"}:
                return event.t if event.kind == "feed_down" else self._run.left_off
        return None

    def any_running(self) -> bool:
        """As `adapters.base.RunFacts`."""
        return any(station.running for station in self._run.view.stations)

    def silent(self) -> Collection[str]:
        """As `adapters.base.RunFacts`."""
        return [source for source, up in self._run.view.sources.items() if not up]

    def _read_new(self) -> None:
        new = self._run.events[self._read :]
        self._read += len(new)
        for event in new:
            for station in self._stations_of(event):
                insort(self._events[station], event, key=self._key)
            if event.kind == "retract":
                insort(self._retractions, event, key=self._key)
                self._void = _void(self._retractions)

    def _key(self, event: Event) -> tuple[int, str]:
        return order_key(event, self._run.plan)

    def _stations_of(self, event: Event) -> Sequence[str]:
        if event.kind in {"chain_start", "chain_stop"}:
            return [station.id for station in self._run.plan.stations if station.inputs.motor != "contact"]
        return [event.station] if event.station is not None else []

    def _x_s(self) -> list[float]:
        return [mark.x_s for mark in self._run.plan.marks]

    def _as_planned(self, place: int, seen: dict[str, float]) -> list[tuple[float, float]]:
        """Every mark of a station whose motor was not seen to start: as late as the others started.

        Where no start was seen at all, the first cue of which nothing was seen may be passing now.
        """
        plan = self._run.plan
        station, now_s = plan.stations[place], self._run.now_s()
        at_s = [station.start_offset_s + x_s + plan.ahead_s[place] for x_s in self._x_s()]
        late = self._late_s(plan.stations)
        if late is None and now_s > station.start_offset_s - EARLY_S:
            cues = [at for at, mark in zip(at_s, plan.marks, strict=True) if mark.cue and mark.id not in seen]
            late = now_s - cues[0] if cues else None
        return [(at + (late or 0.0), UNKNOWN_SD_S if late is not None else 0.0) for at in at_s]

    def _late_s(self, stations: Sequence[Station]) -> float | None:
        starts = [
            view.started_s - station.start_offset_s
            for view, station in zip(self._run.view.stations, stations, strict=False)
            if view.started_s is not None
        ]
        return median(starts) if starts else None


class NoFacts:
    """The facts where there is no run: nothing is known."""

    def standing(self, station: str) -> Sequence[Event]:  # noqa: ARG002 - as adapters.base.RunFacts
        """Nothing."""
        return ()

    def passes(self, station: str) -> Sequence[ExpectedPass]:  # noqa: ARG002 - as above
        """Nothing."""
        return ()

    def heard_until(self, source: str) -> None:
        """Never."""

    def any_running(self) -> bool:
        """None."""
        return False

    def silent(self) -> Collection[str]:
        """None."""
        return ()


def _as_estimated(view: StationView, x_s: Sequence[float]) -> list[tuple[float, float]]:
    """Every mark as the run estimates it; where the motor stands, as if it went on."""
    a, b, c, w = view.eta_var
    rate = view.rate or 1.0
    timed = []
    for x in x_s:
        after_s = (x + view.ahead_s - view.count_s) / rate
        variance = a + after_s * (b + after_s * c) + max(0.0, w * after_s**3)
        timed.append((view.at_s + after_s, sqrt(max(variance, 0.0)) / rate))
    return timed


def _void(retractions: Sequence[Event]) -> frozenset[str]:
    """The ids that are taken back; a retraction may itself be, by a later one."""
    void: set[str] = set()
    for event in reversed(retractions):
        if event.retracts is not None and event.id not in void:
            void.add(event.retracts)
    return frozenset(void)
