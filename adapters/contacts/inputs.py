"""The inputs of one feed, pure: readings and the time go in, events come out."""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from math import hypot
from typing import Final, NamedTuple

from adapters.base import EventIds, RunFacts
from adapters.contacts.cues import WINDOW_S, mark_of_pulse, same_foil
from adapters.contacts.flicker import Flicker
from adapters.contacts.kinds import FeedWiring, Input, What
from adapters.contacts.parts import Parts
from adapters.contacts.rollcall import RollCall
from adapters.contacts.sampling import Sampling
from adapters.contacts.settling import Change, Settling
from server.timeline.event_kinds import EventKind
from server.timeline.events import Event
from server.timeline.plan import Plan

KINDS: Final[dict[What, tuple[EventKind, EventKind]]] = {
    "motor": ("motor_start", "motor_stop"),
    "lamp": ("lamp_lit", "lamp_out"),
    "douser": ("douser_open", "douser_shut"),
}
"""What is told when a contact comes on and goes off. A cue and a failsafe tell of their coming on only."""

FOUND_US: Final = 60_000_000
"""How long a contact may have been on that was so when it was first seen. Chosen."""

EARLIER_US: Final = 2_000_000
"""No motor starts earlier than this before the first of the others: the film would tear. Chosen: a usual reserve."""

END_SDS: Final = 3.0
"""By how many standard deviations before its estimate a show may have ended. Chosen."""

WIDE_US: Final = 2_000_000
"""An edge that is known no better is told with a note. Chosen."""

_ON_KINDS: Final = frozenset({"motor_start", "lamp_lit", "douser_open", "mark_pass", "film_trip"})
_UNIFORM_SD: Final = 12**-0.5
_DAY_S: Final = 86_400.0  # the most that an event's sigma_s may be
_MICROSECOND: Final = timedelta(microseconds=1)


@dataclass(slots=True)
class Wire:
    """One input: its level, and what is remembered of it.

    `read_us` is when it was last read; `blind_us` until when its level was last known before what is known now (None:
    never). `was_on` says that this contact has come on in this run, so that its word is worth something. `posted` are
    the marks that a cue detector has had. `muted` is the change to its level, where a roll call kept it from the run.
    """

    wired: Input
    settling: Settling
    flicker: Flicker
    read_us: int | None = None
    blind_us: int | None = None
    on_since_us: int | None = None
    was_on: bool = False
    posted: dict[str, int] = field(default_factory=dict)
    muted: Change | None = None

    @property
    def on(self) -> bool | None:
        """Whether the contact says yes; None where that is not known."""
        closed = self.settling.closed
        return None if closed is None else closed is not self.wired.normally_closed


class _Known(NamedTuple):
    """What the run's log says of the thing at a wire (None: nothing), and the event that says so."""

    on: bool | None
    event: Event | None


class InputBank:
    """All inputs of one feed: takes readings, and makes events of what is new in them.

    `facts` is what the run knows, `started` the run's time, `roll` the roll call of the run. While that is on, contacts
    go to it and make no events. What is ready to be posted is in `events`.
    """

    def __init__(self, feed: FeedWiring, plan: Plan, facts: RunFacts, roll: RollCall, started: datetime) -> None:
        self.feed = feed
        self.events: deque[Event] = deque()
        self.wires = {each.place: Wire(each, Settling(each.debounce_us), Flicker(each.what)) for each in feed.inputs}
        self.sampling = Sampling()
        self._strays: dict[str, bool] = {}
        self._plan = plan
        self._facts = facts
        self._roll = roll
        self._ids = EventIds(feed.source, started)
        self._parts = Parts(feed.source, self._ids.new, ())
        self._back_us: dict[str, int] = {}
        self._lives = 0

    def begin(self) -> None:
        """The port is open (again): no level is known until it has been read."""
        heard = None
        if not self._lives:
            heard = self._facts.heard_until(self.feed.source)
            self._parts = Parts(self.feed.source, self._ids.new, self._facts.silent())
        self._lives += 1
        for wire in self.wires.values():
            self._remember(wire)
            self._forget(wire, None if heard is None else self.us(heard))

    def read(self, place: str, early_us: int, late_us: int, *, closed: bool | None) -> None:
        """Take a reading of one place, as `kinds.Receiver` says."""
        wire = self.wires.get(place)
        if wire is None:
            self._read_stray(place, closed, late_us)
        elif closed is None:
            self._forget(wire, None)
        else:
            self._read(wire, early_us, late_us, closed=closed)

    def _read(self, wire: Wire, early_us: int, late_us: int, *, closed: bool) -> None:
        if not self.feed.kind.polled:
            # What was read before has held until now, also where both came in one breath.
            self._settle(wire, late_us)
        change = wire.settling.see(early_us - self.feed.sampling_us, late_us, closed=closed)
        wire.read_us = late_us
        if change is not None:
            self._settled(wire, change, late_us)

    def _settle(self, wire: Wire, now_us: int) -> None:
        change = wire.settling.settle(now_us)
        if change is not None:
            self._settled(wire, change, now_us)

    def forget(self, places: Sequence[str]) -> None:
        """Nothing is known of these places any more, until they are read again."""
        for place in places:
            if place in self.wires:
                self._forget(self.wires[place], None)

    def silence(self, part: str, why: str | None, now_us: int) -> None:
        """A part of the feed is silent, and why, or it is back (None); it is told as a feed of its own.

        That it is back is told by `come_back`.
        """
        if why is None:
            if self._parts.is_silent(part):
                self._back_us.setdefault(part, now_us)
            return
        self._back_us.pop(part, None)
        self.forget([place for place in self.wires if place.startswith(f"{part}/")])
        self._say(part, why, now_us)

    def come_back(self, now_us: int, wait_us: int) -> None:
        """Tell which parts are back: their levels are known, and what was found is told; or have not been for long."""
        for part, since_us in list(self._back_us.items()):
            if self.is_known(f"{part}/") or now_us - since_us >= wait_us:
                del self._back_us[part]
                self._say(part, None, now_us)

    def is_known(self, part: str = "") -> bool:
        """Whether every level is known, of the places that begin so."""
        return all(wire.settling.closed is not None for place, wire in self.wires.items() if place.startswith(part))

    def _say(self, part: str, why: str | None, now_us: int, station: str | None = None) -> None:
        event = self._parts.say(part, why, self.time(now_us), station)
        if event is not None:
            self.events.append(event)

    def settle(self, now_us: int) -> None:
        """Let what was read last count where it has held for long enough; not for a port that is polled."""
        for wire in self.wires.values():
            self._settle(wire, now_us)

    def due_us(self) -> int | None:
        """When the next level settles."""
        return min((due for wire in self.wires.values() if (due := wire.settling.due_us) is not None), default=None)

    def look(self, now_us: int) -> None:
        """Have contacts that flickered count again once they are steady; to be called about once a second."""
        for wire in self.wires.values():
            since_us, closed = wire.flicker.since_us, wire.settling.closed
            if since_us is None or closed is None or not wire.flicker.is_steady(now_us):
                continue
            if not self._roll.on:
                self._found(wire, Change(closed, since_us, wire.flicker.last_us), now_us)
            self._is_steady(wire, now_us)

    def _is_steady(self, wire: Wire, now_us: int) -> None:
        wire.flicker.forget()
        self._say(wire.wired.place, None, now_us, wire.wired.station)

    def _flickers(self, wire: Wire, now_us: int) -> None:
        """A contact that flickers is told as silent, and held as it was: what it says is not known."""
        held = f"held {'off' if wire.on else 'on'}" if wire.wired.what in KINDS else "not heeded"
        why = f"the {wire.wired.words} flickers: {wire.flicker.in_words()}; it is {held} until it is steady"
        self._say(wire.wired.place, why, now_us, wire.wired.station)

    def reconcile(self, since_us: int, now_us: int, motor_us: int | None = None) -> None:
        """Post what is otherwise than the log says, now that contacts count again; from `since_us` on they did not.

        `motor_us` is since when a motor runs that came on meanwhile, on whichever feed; None where none does.
        """
        for wire in self.wires.values():
            closed, muted = wire.settling.closed, wire.muted
            wire.muted = None
            if closed is None:
                continue
            if wire.flicker.since_us is not None:
                self._flickers(wire, now_us)
                continue
            wire.blind_us = since_us
            if muted is None or muted.found:
                muted = Change(closed, now_us, now_us, found=True)
            self._found(wire, muted, now_us, motor_us)

    def muted_motor_us(self) -> int | None:
        """Since when a motor's contact is on that came on in a roll call, the first of them; None where none is."""
        motors = [wire for wire in self.wires.values() if wire.wired.what == "motor" and wire.on]
        return min((wire.muted.early_us for wire in motors if wire.muted is not None), default=None)

    def known(self, wire: Wire) -> _Known:
        """What the run's log says of a motor, lamp or douser, or of whether a failsafe has tripped since the start."""
        kinds = KINDS.get(wire.wired.what, ("film_trip", "motor_start"))
        for event in reversed(self._facts.standing(wire.wired.station)):
            kind = event.kind.replace("chain_", "motor_")
            if kind in kinds:
                return _Known(kind == kinds[0], event)
        return _Known(None, None)

    def note(self, source: str, text: str, at_us: int) -> None:
        """Have something written down for the debrief."""
        self.events.append(Event(id=self._ids.new(), t=self.time(at_us), kind="note", source=source, text=text[:2000]))

    def _forget(self, wire: Wire, heard_us: int | None) -> None:
        if wire.settling.closed is not None or wire.blind_us is None:
            wire.blind_us = wire.settling.sure_us if wire.settling.sure_us is not None else wire.read_us
            wire.blind_us = heard_us if wire.blind_us is None else wire.blind_us
        wire.settling.forget()
        wire.flicker.forget()
        wire.on_since_us = wire.muted = None

    def _remember(self, wire: Wire) -> None:
        """What the log has of this very contact."""
        own = [event for event in self._facts.standing(wire.wired.station) if event.source == wire.wired.source]
        wire.was_on = wire.was_on or any(event.kind in _ON_KINDS for event in own)
        wire.posted |= {event.mark: self.us(event.t) for event in own if event.mark is not None}

    def _settled(self, wire: Wire, change: Change, now_us: int) -> None:
        wire.on_since_us = change.early_us if wire.on else None
        if change.found:
            self._roll.level(wire.wired, change)
        else:
            self.sampling.see(change.early_us + self.feed.sampling_us, change.late_us)
            wire.flicker.see(change)
            self._roll.moved(wire.wired, change, now_us, flickers=wire.flicker.since_us is not None)
        wire.muted = change if self._roll.on else None
        if not self._roll.on:
            self._new(wire, change, now_us)
        if change.found:
            self._is_steady(wire, now_us)

    def _new(self, wire: Wire, change: Change, now_us: int) -> None:
        """Have the run know of a level."""
        if wire.flicker.since_us is not None:
            self._flickers(wire, now_us)
        elif change.found:
            self._found(wire, change, now_us)
        elif wire.wired.what in KINDS:
            self._post(wire, self._kind(wire), change.early_us, change.late_us)
        elif wire.on:
            self._pulse(wire, change)

    def _kind(self, wire: Wire) -> EventKind:
        return KINDS[wire.wired.what][0 if wire.on else 1]

    def _pulse(self, wire: Wire, change: Change) -> None:
        if wire.wired.what == "failsafe":
            self._post(wire, "film_trip", change.early_us, change.late_us)
            return
        at_us = (change.early_us + change.late_us) // 2
        if same_foil(at_us, wire.posted) is not None:
            wire.settling.spare_edges += 1
            return
        mark = mark_of_pulse(at_us, self._facts.passes(wire.wired.station), wire.posted)
        if mark is None:
            self.note(wire.wired.source, f"The {wire.wired.words} saw a foil where no cue mark is expected.", at_us)
        else:
            wire.posted[mark] = at_us
            self._post(wire, "mark_pass", change.early_us, change.late_us, mark)

    def _found(self, wire: Wire, change: Change, now_us: int, motor_us: int | None = None) -> None:
        """Post a level at which a contact was found, where the run's log says otherwise."""
        known, what = self.known(wire), wire.wired.what
        if what == "cue" and change.found:
            self._missed_foils(wire, now_us)
        if what == "cue" or known.on is wire.on or (known.on is None and not wire.on and what != "douser"):
            return
        if not change.found and known.event is not None and change.early_us < self.us(known.event.t):
            # What the log says is newer than the edge: it went over again without being seen.
            change = Change(change.closed, now_us, now_us, found=True)
        if what == "failsafe":
            self._found_tripped(wire, change, motor_us)
        elif known.on and not wire.was_on:
            return  # a contact that never came on in this run takes nothing back; that they differ is told elsewhere
        else:
            self._post_found(wire, self._kind(wire), known, change)

    def _missed_foils(self, wire: Wire, now_us: int) -> None:
        """Say which foils were due while the detector was not heard."""
        since_us = wire.blind_us
        if since_us is None or not self._facts.any_running():
            return
        missed = [
            self._plan.mark(each.mark).title
            for each in self._facts.passes(wire.wired.station)
            if each.cue and each.sd_s < WINDOW_S and each.mark not in wire.posted and since_us < each.at_us < now_us
        ]
        if missed:
            away = f"from {self.clock(since_us)} to {self.clock(now_us)}"
            text = f"The {wire.wired.words} was not heard {away}: the foil of {', '.join(missed)} was due then."
            self.note(wire.wired.source, text, now_us)

    def _found_tripped(self, wire: Wire, change: Change, motor_us: int | None) -> None:
        if not wire.on:
            return
        # A motor that came on in the roll call is not on the log yet.
        ran = motor_us is not None and not change.found and change.late_us >= motor_us
        if ran or self._facts.any_running():
            self._post_found(wire, "film_trip", _Known(None, None), change)
        else:
            self.note(wire.wired.source, f"The {wire.wired.words} was tripped when first seen.", change.late_us)

    def _post_found(self, wire: Wire, kind: EventKind, known: _Known, change: Change) -> None:
        """Post what nobody saw happen: in the middle of the time in which it must have, give or take half of that.

        An edge that was seen, and kept from the run, is posted as what it is; so is one that came of a flicker.
        """
        late_us = change.late_us
        if not change.found:
            self._post(wire, kind, self._not_before_us(wire, change.early_us, late_us), late_us)
            return
        early_us = self._not_before_us(wire, self._blind_from_us(wire, known, late_us), late_us)
        self._post(wire, kind, early_us, late_us, sigma_s=(late_us - early_us) / 2e6)
        if known.on is None and not wire.on:
            return  # nothing was missed: it is at rest
        level = "closed" if change.closed else "open"
        self.note(
            wire.wired.source,
            f"The {wire.wired.words} was found {level} at {self.clock(late_us)}; nobody saw it change."
            f" It is taken for a {kind} since {self.clock(early_us)}.",
            late_us,
        )

    def _blind_from_us(self, wire: Wire, known: _Known, late_us: int) -> int:
        before = [
            us for us in (wire.blind_us, None if known.event is None else self.us(known.event.t)) if us is not None
        ]
        if before:
            return min(max(before), late_us)
        if not wire.on:
            return late_us  # it is at rest
        since_us = self._first_start_us(wire) if wire.wired.what == "motor" else None
        return late_us - FOUND_US if since_us is None or since_us > late_us else since_us

    def _first_start_us(self, wire: Wire) -> int:
        """When a motor can have started that nobody saw: along with the others, or else as planned."""
        own_us = self._offset_us(wire.wired.station)
        starts_us = [
            self.us(event.t) + min(0, own_us - self._offset_us(station.id))
            for station in self._plan.stations
            for event in self._facts.standing(station.id)
            if event.kind in {"motor_start", "chain_start"}
        ]
        return min(starts_us) - EARLIER_US if starts_us else own_us

    def _offset_us(self, station: str) -> int:
        return round(self._plan.stations[self._plan.station_index[station]].start_offset_s * 1e6)

    def _not_before_us(self, wire: Wire, early_us: int, late_us: int) -> int:
        """From when on a contact may have gone off: not in mid-show, where the show ended meanwhile."""
        over = {"motor": "tail_end", "lamp": "end", "douser": "end"}.get(wire.wired.what)
        if wire.on or over is None:
            return early_us
        passes = [each for each in self._facts.passes(wire.wired.station) if each.mark == over]
        ends_us = [each.at_us - round(END_SDS * each.sd_s * 1e6) for each in passes]
        return max([early_us, *(at_us for at_us in ends_us if at_us < late_us)])

    def _post(
        self, wire: Wire, kind: EventKind, early_us: int, late_us: int, mark: str | None = None, sigma_s: float = 0.0
    ) -> None:
        width_us = late_us - early_us
        own_s = self._plan.timing.contact_sigma_s
        wire.was_on = wire.was_on or kind in _ON_KINDS
        self.events.append(
            Event(
                id=self._ids.new(),
                t=self.time((early_us + late_us) // 2),
                kind=kind,
                station=wire.wired.station,
                source=wire.wired.source,
                mark=mark,
                sigma_s=min(hypot(own_s, sigma_s or width_us / 1e6 * _UNIFORM_SD), _DAY_S) if width_us else None,
            )
        )
        if not sigma_s and width_us > WIDE_US:
            times = f"between {self.clock(early_us)} and {self.clock(late_us)}"
            self.note(
                wire.wired.source, f"The {wire.wired.words} changed {times}; nothing was heard of it then.", late_us
            )

    def _read_stray(self, place: str, closed: bool | None, now_us: int) -> None:
        if closed is not None and self._strays.get(place, closed) is not closed:
            self._roll.moved_unwired(f"{self.feed.id}/{place}", now_us)
        if closed is not None:
            self._strays[place] = closed

    def us(self, moment: datetime) -> int:
        """Microseconds of a moment after the plan's zero."""
        return (moment - self._plan.zero) // _MICROSECOND

    def time(self, at_us: int) -> datetime:
        """The moment that is so many microseconds after the plan's zero."""
        return self._plan.zero + at_us * _MICROSECOND

    def clock(self, at_us: int) -> str:
        """That instant on the house's clock."""
        return f"{self.time(at_us).astimezone(self._plan.zone):%H:%M:%S}"
