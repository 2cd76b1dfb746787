"""What has been seen so far: motors, lamps, dousers and passes, and the estimate that they feed.

Events go in one by one, in order of time; what comes out is the state after the latest. A copy taken before a late
event is how the engine goes back. Nothing here raises alarms.
"""

import copy
import math
from collections.abc import Sequence
from typing import Literal, Self

from server.timeline.cues import Cues
from server.timeline.diagnosis import Fault, Told, tail_was_short, tell_tail
from server.timeline.endings import OUT_SD, RUN_OUT_SD, Ending, Endings
from server.timeline.estimate import US_PER_S, Estimate
from server.timeline.events import Event, at_us, sigma_s
from server.timeline.feeds import Feeds
from server.timeline.misfits import WIDER, Misfits
from server.timeline.naming import house_of
from server.timeline.observed import SourceState, StationState, together_us
from server.timeline.outlook import Outlook
from server.timeline.people import People
from server.timeline.plan import Plan
from server.timeline.prospect import Prospect
from server.timeline.sights import take_pass, take_reading, take_relaced
from server.timeline.silence import Silence, silence_of
from server.timeline.spent import Spent

# chosen: two starts of one motor closer than this, or than what is not known of their times, are one start told twice
SAME_START_S = 5.0
SAME_START_SD = 2.0
# chosen: light is taken off the screen so shortly before an intermission, and no sooner
BEFORE_PAUSE_S = 20
# chosen: a motor that was found running started with the others where they did so within this of when it may have
_MAY_BE_WITH_SD = 2.0
# chosen: film that was taken through by hand is not known to a quarter of a minute, and is not out for that
_MOST_DOUBT_S = 10.0


class Evidence:
    """The state that a set of events leaves behind.

    `apply` takes events in order of time. `halt_us` is when the whole chain last stopped together, and
    `halted_mid_show` whether a head had passed by then; `clock_step` is the latest jump of the computer's clock as
    (when, seconds). `hold_s` is by how much the first start is moved, `restart_s` when the chain is to start again, as
    somebody said since it stands; `late_holds` are the events that would have moved a start while motors ran.
    """

    def __init__(self, plan: Plan, at_us: int) -> None:
        self.plan = plan
        self.stations = [StationState() for _ in plan.stations]
        self.sources: dict[str, SourceState] = {}
        self.halt_us: int | None = None
        self.halted_mid_show = False
        self.clock_step: tuple[int, float] | None = None
        self.hold_s = 0.0
        self.restart_s: float | None = None
        self.late_holds: frozenset[str] = frozenset()
        self.people = People()
        self.estimate = Estimate(plan, at_us)
        self.doubts = Misfits(plan)
        self.endings = Endings(plan)
        self.spent = Spent(plan)
        # What follows from the above, as far as it was asked for since that last changed.
        self._prospect: Prospect | None = None
        self._reached_us: dict[str, list[int | None]] = {}
        self.cues = Cues(plan)
        self.feeds = Feeds()
        self.told_faults: tuple[Told, ...] = ()
        # Of which a change is told already: the number of the change of motors believed last.
        self.told_change = 0
        # The stations whose state no other copy shares.
        self._owned: set[int] = set()

    def copy(self) -> Self:
        """Return a copy to go on with, while this one stays as it is; a station's state is copied when it changes."""
        # Whatever either of the two changes from now on it has to copy first.
        self._owned = set()
        twin = copy.copy(self)
        twin.disown()
        twin.stations = self.stations.copy()
        twin.sources = self.sources.copy()
        twin.estimate = self.estimate.copy()
        twin.doubts = self.doubts.copy()
        twin.endings = self.endings.copy()
        twin.spent = self.spent.copy()
        twin.cues = self.cues.copy()
        twin.feeds = self.feeds.copy()
        return twin

    def disown(self) -> None:
        """Take every station's state for shared."""
        self._owned = set()

    @property
    def faults(self) -> frozenset[Fault]:
        """The faults that were told as what they are."""
        return frozenset(told.fault for told in self.told_faults)

    @property
    def prospect(self) -> Prospect:
        """What is to come, as of the latest event that moved the estimate."""
        if self._prospect is None:
            self._prospect = Prospect(self.plan, self.estimate)
        return self._prospect

    @property
    def outlook(self) -> Outlook:
        """The estimate as of the latest event that moved it."""
        return self.prospect.outlook

    def back_from_spent(self) -> frozenset[int]:
        """Return the links whose reserve was spent, and is not any more by what is known, though nobody has looked."""
        return self.spent.back(self.estimate)

    def reached_us(self, station: int, mark: str) -> int | None:
        """Return when a mark was or will be at a gate: as seen, else as estimated; None if it is not on its way."""
        return self.all_reached_us(mark)[station]

    def all_reached_us(self, mark: str) -> list[int | None]:
        """Return the same for every station."""
        if mark not in self._reached_us:
            arrivals_us = self.prospect.arrivals_us(mark)
            self._reached_us[mark] = [
                state.passes.get(mark, state.gone_by.get(mark, arrival_us))
                for state, arrival_us in zip(self.stations, arrivals_us, strict=True)
            ]
        return self._reached_us[mark]

    def picture_mark(self, station: int, at: int) -> str:
        """Return the mark at which the picture comes to a gate, or came: the head, or what follows an intermission.

        That is one that has begun at the gate by an instant, or is about to.
        """
        begun_us = ((after.id, self.reached_us(station, pause.id)) for pause, after in self.plan.intermissions)
        begun = [mark for mark, us in begun_us if us is not None and us - BEFORE_PAUSE_S * US_PER_S <= at]
        return begun[-1] if begun else "head"

    def told_us(self, station: int) -> int:
        """When anything was last told of a station's light, or of what moved the estimate."""
        state = self.stations[station]
        return max(us for us in (self.outlook.at_us, state.lamp_us, state.douser_us) if us is not None)

    def silence(self, station: int, what: Literal["lamp", "mark", "motor"]) -> Silence | None:
        """Return which source is known to be silent that would tell of this of a station, and since when."""
        id_ = self.plan.stations[station].id
        return silence_of(id_, what, self.stations[station].contacts, self.sources)

    def is_out(self, station: int, mark: str) -> bool:
        """Whether `mark` has passed a gate, as of the latest event that moved the estimate; in doubt it has."""
        state = self.stations[station]
        x_s = self.plan.mark(mark).x_s
        if state.latest_x_s >= x_s:
            return True
        sure_sd = OUT_SD if x_s < self.plan.print_s else RUN_OUT_SD
        sigma_s = math.sqrt(max(self.outlook.pass_var(station, x_s)[0], 0.0))
        passed = self.prospect.left_s(station, x_s) <= min(sure_sd * sigma_s, _MOST_DOUBT_S)
        # In doubt the film is out only once its last picture is, where anything comes after that.
        return passed and (x_s < self.plan.print_s or self.plan.tail_s <= 0.0 or self.is_out(station, "end"))

    def apply(self, event: Event) -> None:
        """Take one event; it is not before the latest, and was accepted by `events.refusal`."""
        at = at_us(event, self.plan)
        match event.kind:
            case "chain_start":
                self._turn(self._off_contact(running=False), at, event, running=True, alone=False)
            case "chain_stop":
                self._turn(self._off_contact(running=True), at, event, running=False, alone=False)
                if any(state.started_us is not None for state in self.stations):
                    self._halt(at)
            case "feed_up" | "feed_down":
                self._source(event, at)
            case "clock_step":
                self.clock_step = (at, event.seconds or 0.0)
            case "hold":
                self._hold(event, at)
            case "call" | "ack" | "report" | "report_over":
                self.people = self.people.after(event, at, self.plan)
            case "retract" | "shelve" | "note":
                pass
            case _:
                self._apply_at_station(event, at)

    def _hold(self, event: Event, at: int) -> None:
        """A start is moved while the chain stands; nobody moves that of motors that run."""
        seconds = event.seconds or 0.0
        if self.any_runs(at):
            self.late_holds |= {event.id}
            return
        if any(state.started_us is not None for state in self.stations):
            self.restart_s = seconds
            return
        if seconds > self.hold_s:
            self.people = self.people.start_settled(event, at)
        self.hold_s = seconds

    def _source(self, event: Event, at: int) -> None:
        """A source that says again what it said before has been so since then."""
        up, before = event.kind == "feed_up", self.sources.get(event.source)
        since = at if before is None or before.up is not up else before.since_us
        self.sources[event.source] = SourceState(up, since, event.text or "", event.station)

    def _apply_at_station(self, event: Event, at: int) -> None:
        station = self.plan.station_index[event.station or ""]
        state = self._own(station)
        if event.source.startswith("contact"):
            state.contacts = state.contacts | {event.kind.partition("_")[0]: event.source}
        match event.kind:
            case "motor_start" | "motor_stop":
                self._motor(station, at, event)
            case "lamp_lit" | "lamp_out":
                self._lamp(station, at, event)
            case "douser_open" | "douser_shut":
                self._douser(station, at, is_open=event.kind == "douser_open")
            case "mark_pass":
                take_pass(self, station, at, event)
            case "slack_read":
                state.link_known = ("read", at)
                take_reading(self, station, at, event)
            case "relaced":
                state.link_known = ("relaced", at)
                take_relaced(self, station, at, event)
            case "ready":
                state.ready = None if state.running else (at, event.by)
            case "film_trip":
                self._trip(station, at, event)
            case _:
                raise AssertionError(f"{event.kind} is not an event of one station")

    def _douser(self, station: int, at: int, *, is_open: bool) -> None:
        """A douser that nobody told of was shut before the picture came, and open once it had."""
        state = self.stations[station]
        state.to_open = False
        if is_open:
            state.douser, state.douser_us = "open", at
            return
        if state.douser == "open" or (state.douser == "unknown" and self._head_is_by(station, at)):
            state.douser_us = at
        state.douser = "shut"

    def _head_is_by(self, station: int, at: int) -> bool:
        """Whether the head has been at a gate by an instant."""
        head_us = self.reached_us(station, "head")
        return head_us is not None and head_us <= at

    def _own(self, station: int) -> StationState:
        """Return a station's state to change, which no other copy of the evidence shares."""
        if station not in self._owned:
            self.stations[station] = self.stations[station].copy()
            self._owned.add(station)
        self._reached_us = {}
        self.cues.forget(station)
        return self.stations[station]

    def _off_contact(self, *, running: bool) -> list[int]:
        """Stations that nobody but a `chain_start` or `chain_stop` may tell of, with their motor as given.

        That is also so of those whose contact is known to be silent.
        """
        return [
            k
            for k, (station, state) in enumerate(zip(self.plan.stations, self.stations, strict=True))
            if state.running is running and (station.inputs.motor != "contact" or self.silence(k, "motor") is not None)
        ]

    def _motor(self, station: int, at: int, event: Event) -> None:
        starts, state = event.kind == "motor_start", self.stations[station]
        if starts:
            state.trip_us = None
            self.endings.started(station)
        if state.running is starts:
            self._told_again(station, at, event, starts=starts)
            return
        if not starts:
            self._stop_group(station, at, event)
            self.ends(station, at, event)
        self._turn([station], at, event, running=starts, alone=True)

    def _stop_group(self, station: int, at: int, event: Event) -> None:
        """Motors that are wired to stop with this one have stopped too, where no contact tells of them."""
        off_contact = self._off_contact(running=True)
        others = [k for k in self.plan.stopped_with[station] if k in off_contact]
        if others:
            self._turn(others, at, event, running=False, alone=False)

    def _trip(self, station: int, at: int, event: Event) -> None:
        """A failsafe finds no film, or film too tight; at the film's end it finds none as it should.

        Its motor stops with it, and those that are wired to it: where a contact tells of a motor, that says when.
        """
        if self.ends(station, at, event):
            return
        state = self._own(station)
        state.ready = None
        state.trip_us = at if state.trip_us is None else state.trip_us
        if state.running:
            self._stop_group(station, at, event)
            if station in self._off_contact(running=True):
                self._turn([station], at, event, running=False, alone=True)

    def ends(self, station: int, at: int, event: Event) -> bool:
        """Whether a trip, a stop or a pass is the film running out; the station is clear then, and its tail is learned.

        Nobody can say of a stop without a trip how long after the film's end it was; a contact's near to where the end
        should be is taken for it.
        """
        state, seen = self.stations[station], event.kind != "motor_stop"
        is_over = state.latest_x_s >= self.plan.print_s
        if is_over or state.started_us is None or not (state.running or (seen and _has_just_stopped(state, at))):
            return is_over
        self.advance(at)
        error, estimate = sigma_s(event, self.plan), self.estimate
        if self.endings.is_end(station, error, estimate):
            near_s = RUN_OUT_SD * self.endings.sd_s(station, error, estimate)
            near = not event.is_tap and abs(self.endings.planned_s(station, estimate)) <= near_s
            before_it = estimate.ahead_of_pass_s(station, self.plan.print_s) > 0.0
            if seen or near:
                self.endings.learn(station, error, estimate, sure=seen)
            self._has_ended(station, at, may_hold_film=before_it)
            return True
        # Who stops a motor in its tail may have any reason; a failsafe has two.
        if not seen or not self.endings.in_tail(station, estimate):
            return False
        standing = [k for k, other in enumerate(self.stations) if not other.running or other.trip_us is not None]
        alike = self.endings.too_early(station, at, error, estimate, standing)
        for other, ending in alike.items():
            self._ended_early(other, ending, at)
        if alike:
            self._has_ended(station, at, may_hold_film=True)
        return bool(alike)

    def _has_ended(self, station: int, at: int, *, may_hold_film: bool) -> None:
        state, out_s = self._own(station), self.plan.print_s
        for mark in self.plan.marks:
            if mark.x_s >= out_s:
                state.passes.setdefault(mark.id, at)
        state.latest_x_s = max(state.latest_x_s, out_s)
        state.trip_us, state.may_hold_film = None, may_hold_film
        tell_tail(self, station, at)

    def _ended_early(self, station: int, ending: Ending, at: int) -> None:
        """What was a trip turns out to have been the film's end, since another house shows the same short tail."""
        tail_was_short(self, station, at, -ending.longer_s)
        self._has_ended(station, ending.at_us, may_hold_film=True)

    def _turn(self, stations: Sequence[int], at: int, event: Event, *, running: bool, alone: bool) -> None:
        timing = self.plan.timing
        gone_by = {} if running else {k: self._gone_by(k, at) for k in stations}
        since, error = self._with_the_others(stations[0], at, event) if running and alone else (at, None)
        error = sigma_s(event, self.plan) if error is None else error
        self.advance(at)
        if running:
            self.people = self.people.start_settled(event, at)
        for k in stations:
            state = self._own(k)
            state.running = running
            self.doubts.turned(k, at, running=running)
            state.turn_base, state.turn_sigma_s = self.estimate.count(k), error
            if running:
                state.started_us = since
                state.trip_us = None
                state.may_hold_film = False
                self._forget_douser(k)
                self.restart_s = None
            else:
                state.stopped_us = at
                state.gone_by = gone_by[k]
                state.may_hold_film |= self.estimate.ahead_of_pass_s(k, self.plan.print_s) > 0.0
            state.ready = None
        runup = timing.runup_sigma_s if running else 0.0
        spread = 0.0 if alone else timing.start_spread_s
        shift = (at - since) / US_PER_S - timing.runup_loss_s if running else timing.coast_s
        own, common = math.hypot(runup, spread, error if alone else 0.0), 0.0 if alone else error
        self.estimate.turn(stations, running=running, shift_s=shift, common_sigma_s=common, own_sigma_s=own)
        if not running and alone:
            self._note_halt(at)

    def _with_the_others(self, station: int, at: int, event: Event) -> tuple[int, float | None]:
        """When a motor started that was only found running, and how sure that is: with the others, where it may be so.

        What its contact tells is weighed against when it was due, by their variances.
        """
        timing, error_s = self.plan.timing, sigma_s(event, self.plan)
        first = not self.halted_mid_show
        others = together_us(self.plan, self.stations, self.halt_us, first=first)
        if event.is_tap or others is None or error_s <= timing.start_grace_s:
            return at, None
        due = others + round((self.plan.stations[station].start_offset_s if first else 0.0) * US_PER_S)
        if abs(due - at) > _MAY_BE_WITH_SD * error_s * US_PER_S:
            return at, None
        own = error_s**2 / (error_s**2 + timing.start_spread_s**2)
        return at + round(own * (due - at)), own**0.5 * timing.start_spread_s

    def _forget_douser(self, station: int) -> None:
        """With a picture in the gate a douser is opened as the motor starts: that it was said to be shut is over."""
        state, head_s = self.stations[station], self.plan.mark("head").x_s
        told = self.plan.stations[station].inputs.douser == "contact"
        in_gate = state.latest_x_s >= head_s or self.estimate.ahead_of_pass_s(station, head_s) <= 0.0
        if state.douser == "shut" and not told and in_gate:
            state.douser, state.douser_us, state.to_open = "unknown", None, True

    def any_runs(self, at: int) -> bool:
        """Whether any motor runs whose film is not out by an instant."""
        outs_us = self.all_reached_us("tail_end")
        return any(
            state.running and (out_us is None or out_us > at)
            for state, out_us in zip(self.stations, outs_us, strict=True)
        )

    def _gone_by(self, station: int, at: int) -> dict[str, int]:
        """When the head, the end and the tail's end went by, of those that have; what is later moves with the stop."""
        arrivals = {mark: self.reached_us(station, mark) for mark in ("head", "end", "tail_end")}
        return {mark: us for mark, us in arrivals.items() if us is not None and us <= at}

    def _halt(self, at: int) -> None:
        self.halt_us = at
        self.halted_mid_show = any(self.is_out(k, "head") for k in range(len(self.stations)))

    def _note_halt(self, at: int) -> None:
        """All running motors stopping together are a stop of the chain, whether or not anybody said so."""
        if self.any_runs(at):
            return
        since = at - round(self.plan.timing.start_grace_s * US_PER_S)
        stopped = [
            (state.stopped_us or 0) >= since
            for k, state in enumerate(self.stations)
            if state.stopped_us is not None and not self.is_out(k, "tail_end")
        ]
        if sum(stopped) > 1:
            self._halt(at)

    def _told_again(self, station: int, at: int, event: Event, *, starts: bool) -> None:
        """A second source tells of the start or stop that is known: one fact, with the better time."""
        state = self.stations[station]
        known, error_s = state.started_us if starts else state.stopped_us, sigma_s(event, self.plan)
        if known is None:
            return
        surer = error_s < state.turn_sigma_s
        if not surer and not _is_same_turn(at - known, state.turn_sigma_s, error_s):
            return
        self.advance(at)
        timing, apart_s = self.plan.timing, (at - known) / US_PER_S
        base_s, base_var = state.turn_base
        count_s = base_s + (-timing.runup_loss_s if starts else timing.coast_s + apart_s)
        count_sigma_s = math.hypot(error_s, timing.runup_sigma_s if starts else 0.0, base_var**0.5)
        fits = self.estimate.see_count(station, count_s, count_sigma_s)
        if not fits:
            what = "start" if starts else "stop"
            text = f"{self._house(station)} was told to {what} twice, {apart_s:.1f} s apart"
            self.misfit(station, at, f"{text}; the surer time stands" if surer else text)
        if not fits and surer:
            self.estimate.open(station, WIDER * apart_s, 0.0)
            self.estimate.see_count(station, count_s, count_sigma_s)
        if fits or surer:
            self._keep_better_time(station, at, error_s, starts=starts)

    def _keep_better_time(self, station: int, at: int, error_s: float, *, starts: bool) -> None:
        """Date a start or stop by whichever of its sources is surer of its time."""
        state = self._own(station)
        if error_s >= state.turn_sigma_s:
            return
        state.turn_sigma_s = error_s
        if starts:
            state.started_us = at
        else:
            state.stopped_us = at

    def _lamp(self, station: int, at: int, event: Event) -> None:
        lit = event.kind == "lamp_lit"
        state = self.stations[station]
        if state.lit is lit:
            return
        state.lit, state.lamp_us, state.lamp_sigma_s = lit, at, sigma_s(event, self.plan)
        state.lamp_lost = not lit and self._is_showing(station, at)

    def _is_showing(self, station: int, at: int) -> bool:
        if not self.stations[station].running:
            return False
        head, end = self.reached_us(station, self.picture_mark(station, at)), self.reached_us(station, "end")
        return head is not None and head <= at and (end is None or at < end)

    def _house(self, station: int) -> str:
        return house_of(self.plan, station)

    def misfit(self, station: int, at: int, text: str, todo: str = "") -> None:
        """Have said what did not fit, or what was learned; `todo` where it is not what any misfit asks for."""
        state = self._own(station)
        state.misfit_us, state.misfit_text, state.misfit_todo = at, text, todo

    def advance(self, at: int) -> None:
        """Move the estimate on; what comes next changes it, and nothing looks ahead before that is done."""
        self.spent.learned(self.estimate)
        self.estimate.advance(at)
        self.spent.moved(self.estimate)
        self._prospect = None
        self._reached_us = {}


def _has_just_stopped(state: StationState, at: int) -> bool:
    """Whether a motor stopped moments ago: the contacts of one stop close in any order."""
    return state.stopped_us is not None and at - state.stopped_us <= SAME_START_S * US_PER_S


def _is_same_turn(apart_us: int, first_sigma_s: float, second_sigma_s: float) -> bool:
    """Whether two starts, or two stops, of one motor so far apart can be one that two sources tell of."""
    return apart_us <= US_PER_S * max(SAME_START_S, SAME_START_SD * math.hypot(first_sigma_s, second_sigma_s))
