"""Troubles in words: what went wrong, what was done about it and when, and how it ended, as the account knows it."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Final, NamedTuple

import numpy as np

from server.review.account import Account
from server.review.alarm_spans import AlarmSpan
from server.review.troubles import Stop, Trouble
from server.review.walk import Walk
from server.timeline.alarm_kinds import ALARM_KINDS, OF_LINKS
from server.timeline.blame import motor_off
from server.timeline.estimate import US_PER_S
from server.timeline.event_kinds import EventKind
from server.timeline.events import Event, at_us
from server.timeline.naming import house_of, houses_of, place_of
from server.timeline.people import TROUBLE_WORDS
from server.timeline.plan import Plan

_NAMED: Final = 4  # chosen: more houses than that are counted, not named
_POINTS: Final = 400  # chosen: the most a link held is looked for at so many instants
_NEAR_US: Final = 120 * US_PER_S  # chosen: what came so soon is told to the second
_LEAST_S: Final = 0.05  # chosen: less of a reserve is not told
_EARLY_US: Final = 5 * US_PER_S  # chosen: a tap counts a little before it was made


class Moment(NamedTuple):
    """An instant within a sentence, in microseconds after the plan's zero, and whether its seconds matter."""

    at_us: int
    seconds: bool = False


Part = str | Moment

_LEADS: Final = {
    "film_trip": "{place}'s failsafe tripped",
    "start_missing": "{place}'s motor had not started though the others had",
    "motor_lost": "{place}'s motor stopped before its tail was out",
    "film_heat": "film stood in the light in {place}",
    "strike_missed": "{place}'s strike window closed with the lamp not lit",
    "strike_unconfirmed": "{place}'s strike window closed and nobody had confirmed the lamp",
    "dark_gate": "{place}'s picture came to its gate with the lamp not lit",
    "lamp_lost": "{place}'s lamp went out with the picture on screen",
    "douser_heat": "{place}'s lamp had burned against a shut douser for too long",
    "feed_silent": "nothing more came from {place}",
}
_LEADS_OF_SEVERAL: Final = {
    "film_trip": "the failsafes of {places} tripped",
    "start_missing": "the motors of {places} had not started though the others had",
    "motor_lost": "the motors of {places} stopped before their tails were out",
    "film_heat": "film stood in the light in {places}",
    "strike_missed": "the strike windows of {places} closed with the lamps not lit",
    "strike_unconfirmed": "the strike windows of {places} closed and nobody had confirmed the lamps",
    "dark_gate": "the picture came to the gates of {places} with the lamps not lit",
    "lamp_lost": "the lamps of {places} went out with the picture on screen",
    "douser_heat": "the lamps of {places} had burned against shut dousers for too long",
}
ALIKE: Final = frozenset(_LEADS_OF_SEVERAL)
"""The kinds of alarm that are told of several houses in one sentence."""
_SLACK_LEADS: Final = {
    "slack_tight": "{place} ran tight",
    "slack_loose": "{place} ran loose",
    "slack_forecast": "{place} was going to spend its reserve",
    "reserve_spent": "{place} spent its reserve",
}
_LIT: Final[dict[EventKind, str]] = {"lamp_lit": "lit"}
_STARTED: Final[dict[EventKind, str]] = {"motor_start": "started again", "chain_start": "started again"}
_ENDS: Final[dict[str, dict[EventKind, str]]] = {
    "film_trip": _STARTED,
    "motor_lost": _STARTED,
    "start_missing": {"motor_start": "started", "chain_start": "started"},
    "film_heat": {"douser_shut": "the douser was shut", "lamp_out": "the lamp was out", "motor_start": "it ran again"},
    "strike_missed": _LIT,
    "strike_unconfirmed": _LIT,
    "dark_gate": _LIT,
    "lamp_lost": {"lamp_lit": "lit again"},
    "douser_heat": {"douser_open": "the douser was opened", "lamp_out": "the lamp was put out"},
}
"""What ends a trouble, as it is seen at the same station."""

_MOTORS: Final = frozenset({"film_trip", "motor_lost", "start_missing"})
_OVER: Final = {"feed_silent": "it was back", "house_report": "seen to"}
_READ: Final[dict[EventKind, str]] = {"slack_read": "read", "relaced": "laced anew"}


def parts_of(*parts: Part) -> tuple[Part, ...]:
    """Parts of a sentence, neighbouring texts as one."""
    joined: list[Part] = []
    for part in parts:
        if isinstance(part, str) and joined and isinstance(joined[-1], str):
            joined[-1] += part
        elif part != "":
            joined.append(part)
    return tuple(joined)


def named(plan: Plan, stations: Sequence[int]) -> str:
    """Houses by their names where they are few, else how many."""
    return houses_of(plan, stations) if len(stations) <= _NAMED else f"{len(stations)} houses"


def told(trouble: Trouble, account: Account, walk: Walk) -> tuple[Part, ...]:
    """A trouble in one sentence: its moment, what it was, what was done about it in order of time, how it ended."""
    if trouble.told or trouble.stop is None:
        return _Telling(trouble, account, walk).parts()
    return _stop_alone(account.plan, trouble.stop, trouble.brought)


def _stop_alone(plan: Plan, stop: Stop, brought: Sequence[AlarmSpan]) -> tuple[Part, ...]:
    film = f" the chain was stopped{_by(stop)} with film in {named(plan, stop.stations)}"
    lit = stations_of(plan, [one for one in brought if one.kind == "film_heat"])
    light = f"; film stood in the light in {named(plan, lit)}" if lit else ""
    return parts_of("At ", Moment(stop.at_us, seconds=True), film, light, "; ", *_again(stop), ".")


def _by(stop: Stop) -> str:
    return f" by {stop.by}" if stop.by else ""


def stations_of(plan: Plan, spans: Iterable[AlarmSpan]) -> list[int]:
    """The stations that alarms are about, by their indices, in film order."""
    return sorted({plan.station_index[one.subject] for one in spans if one.subject in plan.station_index})


def _again(stop: Stop) -> tuple[Part, ...]:
    if stop.again_us is None:
        return ("it was not started again",)
    return "it was started again at ", Moment(stop.again_us, seconds=stop.again_us - stop.at_us < _NEAR_US)


class _Clause(NamedTuple):
    """A part of the sentence, and when it was: those with a moment go in its order, the others come last."""

    at_us: int | None
    parts: tuple[Part, ...]


class _Telling:
    """One trouble that was told by an alarm."""

    def __init__(self, trouble: Trouble, account: Account, walk: Walk) -> None:
        self._trouble = trouble
        self._first = trouble.told[0]
        self._account = account
        self._walk = walk
        self._plan = account.plan
        self._end_us = walk.span.to_us if trouble.over_us is None else trouble.over_us

    def parts(self) -> tuple[Part, ...]:
        """The sentence."""
        clauses = [*self._seen(), *self._done(), *self._brought(), *self._stop(), *self._ended()]
        timed = sorted((one for one in clauses if one.at_us is not None), key=lambda one: one.at_us or 0)
        last = [one for one in clauses if one.at_us is None]
        lead: tuple[Part, ...] = ("At ", Moment(self._trouble.at_us, seconds=True), " ", self._lead())
        return parts_of(*lead, *(part for clause in [*timed, *last] for part in ("; ", *clause.parts)), ".")

    @property
    def _is_slack(self) -> bool:
        return self._first.kind in OF_LINKS

    @property
    def _are_several(self) -> bool:
        return len(self._trouble.subjects) > 1

    @property
    def _link(self) -> int:
        return next(i for i, link in enumerate(self._plan.links) if link.id == self._first.subject)

    def _at(self, words: str, at: int) -> _Clause:
        near = abs(at - self._trouble.at_us) < _NEAR_US
        return _Clause(at, (f"{words} at ", Moment(at, seconds=near)))

    def _lead(self) -> str:
        if self._are_several:
            places = named(self._plan, stations_of(self._plan, self._trouble.told))
            return _LEADS_OF_SEVERAL[self._first.kind].format(places=places)
        place = place_of(self._plan, self._first.subject)
        if self._is_slack:
            return _SLACK_LEADS[self._slack_kind()].format(place=place) + self._who_is_off()
        if self._first.kind == "house_report":
            return f"{place} reported {self._reported()}"
        if self._first.kind == "mark_overdue":
            return f"{place} had {self._mark()} overdue at its gate"
        # A kind without words of its own is told by its name: whoever adds an alarm need not write them.
        named_only = f'{{place}} had the alarm "{ALARM_KINDS[self._first.kind].name}"'
        return _LEADS.get(self._first.kind, named_only).format(place=place)

    def _slack_kind(self) -> str:
        """What it came to, before the reserve was spent."""
        kinds = [one.kind for one in self._trouble.told]
        return next((kind for kind in ("slack_tight", "slack_loose", *kinds) if kind in kinds), kinds[0])

    def _mark(self) -> str:
        """The mark by its title, as the alarm names it."""
        return next((mark.title for mark in self._plan.marks if f": {mark.title} " in self._first.text), "a mark")

    def _reported(self) -> str:
        for event in self._account.standing:
            said = event.what if (event.kind, event.station) == ("report", self._first.subject) else None
            if said is not None and abs(at_us(event, self._plan) - self._first.since_us) <= US_PER_S:
                return TROUBLE_WORDS[said]
        return "that something was wrong"

    def _who_is_off(self) -> str:
        """Which of a link's two motors was off, where the account tells, as soon as it does."""
        told_us = [one.told_us for one in self._trouble.told]
        act_us = [one.act_us for one in self._trouble.told if one.act_us is not None]
        return next(filter(None, map(self._off_at, sorted({*told_us, *act_us}))), "")

    def _off_at(self, at: int) -> str:
        """The same as was known at an instant."""
        off = motor_off(self._walk.at(at).fold.evidence, self._link)
        if off is None:
            return ""
        return f", {house_of(self._plan, off.station)} running {'fast' if off.rate > 0.0 else 'slow'}"

    def _seen(self) -> Iterator[_Clause]:
        seen = [(one.seen_us, one.seen_by) for one in self._trouble.told if one.seen_us is not None]
        if seen and not self._are_several:
            at, by = seen[0]
            yield self._at(f"acknowledged by {by}", at)
        elif seen and len(seen) == len(self._trouble.told):
            yield self._at("all acknowledged", max(at for at, _ in seen))

    def _events(self, kinds: dict[EventKind, str], station: str) -> Iterator[tuple[int, Event]]:
        """What was seen there of these kinds while it was told."""
        first_us, end_us = self._trouble.at_us - _EARLY_US, self._end_us + _EARLY_US
        for event in self._account.standing:
            at = at_us(event, self._plan)
            if event.kind in kinds and event.station in {station, None} and first_us <= at <= end_us:
                yield at, event

    def _done(self) -> Iterator[_Clause]:
        """The first reading of a link, and the first time that it was laced anew."""
        if not self._is_slack:
            return
        done: set[EventKind] = set()
        for at, event in self._events(_READ, self._plan.stations[self._link + 1].id):
            if event.kind not in done and at > self._trouble.at_us:  # what it was told by is no answer to it
                done.add(event.kind)
                yield self._at(_READ[event.kind], at)

    def _brought(self) -> Iterator[_Clause]:
        """What came of it that somebody would want to know."""
        own = stations_of(self._plan, self._trouble.told)
        by_kind: dict[str, list[AlarmSpan]] = {}
        for one in self._trouble.brought:
            by_kind.setdefault(one.kind, []).append(one)
        for kind, words in (("dark_gate", "the picture came to a dark gate"), ("film_heat", "film stood in the light")):
            if kind in by_kind:
                places = stations_of(self._plan, by_kind[kind])
                where = "" if places == own else f" in {named(self._plan, places)}"
                yield self._at(f"{words}{where}", by_kind[kind][0].told_us)
        stopped = [one for kind in ("motor_lost", "film_trip") for one in by_kind.get(kind, ())]
        others = [k for k in stations_of(self._plan, stopped) if k not in own]
        if others:
            yield self._at(f"{named(self._plan, others)} stopped too", min(one.told_us for one in stopped))
        if not self._is_slack and "reserve_spent" in by_kind:
            first = by_kind["reserve_spent"][0]
            yield self._at(f"{place_of(self._plan, first.subject)} spent its reserve", first.told_us)

    def _stop(self) -> Iterator[_Clause]:
        stop = self._trouble.stop
        if stop is not None:
            stopped = self._at(f"the chain was stopped{_by(stop)}", stop.at_us)
            yield stopped._replace(parts=(*stopped.parts, ", and ", *_again(stop)))

    def _ended(self) -> Iterator[_Clause]:
        """How it ended; where a stop of the chain ended it that is all."""
        if self._is_slack:
            yield self._reserve()
        elif self._trouble.stop is None or self._first.kind not in _MOTORS:
            yield self._stayed() if self._trouble.over_us is None else self._at(*self._end())
        times = len(self._trouble.told)
        if times > 1 and not self._is_slack and not self._are_several:
            yield _Clause(None, (f"it was raised {times} times",))

    def _stayed(self) -> _Clause:
        """That it never was over, and where, if not everywhere."""
        left = stations_of(self._plan, [one for one in self._trouble.told if one.over_us is None])
        everywhere = stations_of(self._plan, self._trouble.told)
        return _Clause(None, ("it stayed so" if left == everywhere else f"it stayed so in {named(self._plan, left)}",))

    def _end(self) -> tuple[str, int]:
        if self._are_several:
            return "the last was over", self._end_us
        kind, over_us = self._first.kind, self._first.over_us or self._end_us
        if kind in _OVER:
            return _OVER[kind], over_us
        ends = _ENDS.get(kind, {})
        seen = [(abs(at - over_us), ends[e.kind], at) for at, e in self._events(ends, self._first.subject)]
        _, words, at = min(seen, default=(0, "over", over_us))
        return (words, at) if abs(at - over_us) <= _NEAR_US else ("over", over_us)

    def _reserve(self) -> _Clause:
        """Whether the reserve lasted, and how much of it was used at most."""
        link = self._plan.links[self._link]
        spent = next(
            (one for one in (*self._trouble.told, *self._trouble.brought) if one.kind == "reserve_spent"), None
        )
        if spent is not None:
            how = "taut" if "taut" in spent.text else "on the floor"
            if spent is self._first:
                return _Clause(None, (f"film was {how}",))
            clause = self._at("the reserve was spent", spent.told_us)
            return clause._replace(parts=(*clause.parts, f" (film {how})"))
        grid = np.linspace(self._trouble.at_us, self._end_us, _POINTS).astype(int).tolist()
        slack = self._walk.slack(grid)[0][:, self._link]
        most_s = 0.0 if np.isnan(slack).all() else float(np.nanmax(np.abs(slack)))
        if most_s < _LEAST_S:
            return _Clause(None, ("the reserve lasted",))
        return _Clause(None, (f"the reserve lasted, {most_s:.1f} s of {link.reserve_s:.1f} s used at most",))
