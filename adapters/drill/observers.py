"""From what happens to what is observed: by contacts, by taps, or not at all, as each station's inputs say."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from itertools import count
from math import inf
from typing import NamedTuple

import numpy as np

from adapters.drill.bounce import changes, foil_s
from adapters.drill.chance import Chance
from adapters.drill.crew import Span
from adapters.drill.facts import Fact
from adapters.drill.people import tap_after_s
from adapters.drill.scenario import FeedLost, Scenario, WrongTap
from server.timeline.event_kinds import EVENT_KINDS, EventKind
from server.timeline.events import Event
from server.timeline.plan import InputKind, Plan, Station

# Chosen.
_CONTACTS_UP_BEFORE_S = 10.0
_HEARTBEAT_S = 1.0
_LATE_BY_S = (3.0, 12.0)
_TWICE_AFTER_S = (0.8, 3.0)
_TAKES_BACK_AFTER_S = (4.0, 15.0)

_OPPOSITE: dict[str, EventKind] = {
    "motor_start": "motor_stop",
    "motor_stop": "motor_start",
    "lamp_lit": "lamp_out",
    "lamp_out": "lamp_lit",
    "douser_open": "douser_shut",
    "douser_shut": "douser_open",
}
_OF_A_LINK = frozenset(kind for kind, row in EVENT_KINDS.items() if row.place == "link")
SAID = _OF_A_LINK | {"ready", "hold"}
"""What is known only because somebody says so, whatever is on a contact."""

_CLOSING = frozenset({"motor_start", "lamp_lit", "douser_open", "mark_pass", "film_trip"})


class Mistake(NamedTuple):
    """An event that is not what truly happened, or a missed one (`event_id` None), in a few words."""

    event_id: str | None
    station: str
    text: str


@dataclass(frozen=True)
class _Tap:
    """What somebody is about to tap, and what they will do wrong with it."""

    at_s: float
    kind: EventKind
    station: Station
    mark: str | None
    slip: WrongTap


def source_of(way: str, booth: str | None) -> str:
    """The source that a booth's taps or contacts carry."""
    return f"{way}:{re.sub('[^a-z0-9]+', '-', (booth or 'booth').lower()).strip('-') or 'booth'}"


class Observers:
    """Everybody and everything that watches the chain."""

    def __init__(self, plan: Plan, scenario: Scenario, chance: Chance, prefix: str) -> None:
        self._plan = plan
        self._scenario = scenario
        self._crew = scenario.crew
        self._chance = chance
        self._prefix = prefix
        self._numbers = count(1)
        self._streams: dict[tuple[str, str], np.random.Generator] = {}
        self._slips = {(slip.station, slip.mark): slip for slip in scenario.of(WrongTap)}
        self._unseen: dict[tuple[str, str, Span], list[Fact]] = {}
        self.mistakes: list[Mistake] = []

    def observe(self, facts: Sequence[Fact]) -> list[Event]:
        """The events of a whole show, by the time each was written down."""
        ordered = sorted(facts, key=lambda fact: fact.at_s)
        events = [*self.feeds(ordered[0].at_s - _CONTACTS_UP_BEFORE_S)] if ordered else []
        for fact in ordered:
            events += self.see(fact)
        events += self.found_after(inf)
        return sorted(events, key=lambda event: (event.t, event.id))

    def see(self, fact: Fact) -> Iterator[Event]:
        """What one fact is seen as; ask in order of time, and once for each."""
        if fact.kind == "hold":
            yield self._said(fact, self._plan.stations[0])
            return
        if fact.station is None:
            if any(station.inputs.motor != "contact" for station in self._plan.stations):
                yield self._tapped_for_chain(fact)
            return
        station = self._plan.stations[self._plan.station_index[fact.station]]
        if fact.kind in SAID:
            yield self._said(fact, station)
            return
        way = way_of(fact, station)
        if way == "contact":
            yield from self._by_contact(fact, station)
        elif way == "tap" and not fact.with_chain:
            yield from self._by_tap(fact, station)

    def _by_contact(self, fact: Fact, station: Station) -> Iterator[Event]:
        source = source_of("contact", station.booth)
        outages = [span for span in self._outages(station.booth) if span.from_s <= fact.at_s < span.until_s]
        if outages:
            self._unseen.setdefault((station.id, fact.kind.partition("_")[0], outages[0]), []).append(fact)
            return
        if self._crew.exact:
            yield self._event(fact.at_s, fact.kind, source, station=station.id, mark=fact.mark)
            return
        closing = fact.kind in _CLOSING
        found = changes(self._stream(station.id, fact.kind), self._closes_s(fact, station), closed=closing)
        for change in found if fact.kind in _OPPOSITE else found[:1]:
            kind = fact.kind if change.closed is closing else _OPPOSITE[fact.kind]
            yield self._event(change.at_s, kind, source, station=station.id, mark=fact.mark)

    def _closes_s(self, fact: Fact, station: Station) -> float:
        if fact.kind != "mark_pass":
            return fact.at_s
        return fact.at_s + foil_s(self._stream(station.id, "foil"), self._plan.film.frame_rate)

    def found_after(self, now_s: float) -> Iterator[Event]:
        """What a contact box finds changed when it answers again: some time in the gap, nobody knows when."""
        for (station_id, what, gap), facts in list(self._unseen.items()):
            if gap.until_s > now_s:
                continue
            del self._unseen[station_id, what, gap]
            if facts[-1].kind in _OPPOSITE and len(facts) % 2 == 1:
                station = self._plan.stations[self._plan.station_index[station_id]]
                source = source_of("contact", station.booth)
                middle_s, sigma_s = 0.5 * (gap.from_s + gap.until_s), (gap.until_s - gap.from_s) / 12.0**0.5
                yield self._event(middle_s, facts[-1].kind, source, station=station_id, sigma_s=sigma_s)

    def _by_tap(self, fact: Fact, station: Station) -> Iterator[Event]:
        slip = self._slips.get((station.id, fact.mark or "")) or self._slip(fact, station)
        if slip.missed:
            self.mistakes.append(Mistake(None, station.id, f"{fact.kind} {fact.mark or ''} was not tapped"))
            return
        tap = _Tap(self._tapped_s(fact, station.id) + slip.late_s, fact.kind, station, fact.mark, slip)
        yield from self._tap(tap)
        if slip.twice:
            again_s = tap.at_s + float(self._stream(station.id, "twice").uniform(*_TWICE_AFTER_S))
            yield from self._tap(replace(tap, at_s=again_s))

    def _tap(self, tap: _Tap) -> Iterator[Event]:
        """One tap, and its retraction where whoever made it notices."""
        slip = tap.slip
        where = slip.as_station or tap.station.id
        source = source_of("tap", tap.station.booth)
        by = f"{tap.station.booth or 'booth'} runner"
        event = self._event(tap.at_s, tap.kind, source, station=where, mark=tap.mark, by=by)
        yield event
        if slip.as_station or slip.late_s or slip.twice:
            self.mistakes.append(Mistake(event.id, where, _told(slip, tap.station.id)))
        if slip.takes_back_s is not None:
            yield self._event(tap.at_s + slip.takes_back_s, "retract", source, retracts=event.id, by=by)

    def _slip(self, fact: Fact, station: Station) -> WrongTap:
        """What goes wrong with one tap by chance; mostly nothing."""
        crew, rng = self._crew, self._stream(station.id, "slips")
        right = WrongTap(station.id, fact.mark or "")
        missed, late, twice, wrong, notices = rng.random(5)
        if missed < crew.missed:
            return replace(right, missed=True)
        if wrong < crew.wrong_house and (neighbours := self._neighbours(station)):
            takes_back_s = float(rng.uniform(*_TAKES_BACK_AFTER_S)) if notices < crew.takes_back else None
            other = neighbours[int(rng.integers(len(neighbours)))]
            return replace(right, as_station=other, takes_back_s=takes_back_s)
        late_s = float(rng.uniform(*_LATE_BY_S)) if late < crew.late else 0.0
        return replace(right, late_s=late_s, twice=bool(twice < crew.twice))

    def _neighbours(self, station: Station) -> list[str]:
        k = self._plan.station_index[station.id]
        return [self._plan.stations[n].id for n in (k - 1, k + 1) if 0 <= n < len(self._plan.stations)]

    def _tapped_for_chain(self, fact: Fact) -> Event:
        booth = self._plan.stations[0].booth
        by = f"{booth or 'booth'} runner"
        return self._event(self._tapped_s(fact, "chain"), fact.kind, source_of("tap", booth), by=by)

    def _said(self, fact: Fact, station: Station) -> Event:
        """What somebody at a station says of a link, of the station or of the start: each once, and none by mistake."""
        by, source = f"{station.booth or 'booth'} runner", source_of("tap", station.booth)
        seconds, sigma_s = fact.seconds, None
        if fact.kind in _OF_A_LINK:
            rng, exact = self._stream(station.id, "reads"), self._crew.exact
            error_s = 0.0 if exact else self._crew.read_sd_s * float(rng.standard_normal())
            seconds, sigma_s = (fact.seconds or 0.0) + error_s, self._crew.read_sd_s
        tapped_s = self._tapped_s(fact, station.id)
        return self._event(tapped_s, fact.kind, source, station=fact.station, seconds=seconds, sigma_s=sigma_s, by=by)

    def _tapped_s(self, fact: Fact, who: str) -> float:
        if self._crew.exact:
            return fact.at_s + self._plan.timing.tap_lag_s
        rng = self._stream(who, fact.kind)
        return fact.at_s + tap_after_s(rng, self._crew.attention_sd_s, surprise=fact.surprise)

    def feeds(self, up_s: float) -> Iterator[Event]:
        """Each booth's contacts come up before the show, and go and come back with every outage."""
        booths = dict.fromkeys(station.booth for station in self._plan.stations if "contact" in _ways(station))
        for booth in booths:
            source = source_of("contact", booth)
            yield self._event(up_s, "feed_up", source)
            for outage in self._outages(booth):
                yield self._event(
                    outage.from_s + _HEARTBEAT_S, "feed_down", source, text="the contact box does not answer"
                )
                if outage.until_s < inf:
                    yield self._event(outage.until_s, "feed_up", source)

    def _outages(self, booth: str | None) -> list[Span]:
        faults = [fault for fault in self._scenario.of(FeedLost) if fault.booth in (None, booth)]
        return [Span(fault.at_s, fault.at_s + fault.for_s) for fault in faults]

    def _event(
        self,
        at_s: float,
        kind: EventKind,
        source: str,
        *,
        station: str | None = None,
        mark: str | None = None,
        seconds: float | None = None,
        sigma_s: float | None = None,
        retracts: str | None = None,
        by: str | None = None,
        text: str | None = None,
    ) -> Event:
        return Event(
            id=f"{self._prefix}-{next(self._numbers):04d}",
            t=self._plan.zero + timedelta(microseconds=round(at_s * 1e6)),
            kind=kind,
            station=station,
            source=source,
            sigma_s=sigma_s,
            by=by,
            mark=mark,
            seconds=seconds,
            retracts=retracts,
            text=text,
        )

    def _stream(self, who: str, what: str) -> np.random.Generator:
        """Chance of one kind at one station, so that a fault in one place leaves all others as they were."""
        key = (who, what)
        if key not in self._streams:
            self._streams[key] = self._chance.stream("seen", who, what)
        return self._streams[key]


def way_of(fact: Fact, station: Station) -> InputKind:
    """How a fact of that station is known."""
    inputs = station.inputs
    if fact.kind in ("lamp_lit", "lamp_out"):
        return inputs.lamp
    if fact.kind in ("douser_open", "douser_shut"):
        return inputs.douser
    return inputs.cue if fact.kind == "mark_pass" else inputs.motor


def _ways(station: Station) -> tuple[InputKind, ...]:
    inputs = station.inputs
    return inputs.motor, inputs.lamp, inputs.douser, inputs.cue


def _told(slip: WrongTap, station: str) -> str:
    if slip.as_station:
        return f"tapped at {slip.as_station} for {station}"
    return f"tapped {slip.late_s:.1f} s late" if slip.late_s else "tapped twice"
