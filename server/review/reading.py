"""The tables of a run, each from the same walk that its charts come from."""

from collections.abc import Iterator, Sequence
from functools import cached_property
from typing import Final

import numpy as np

from server.review.account import CORRECTION, Account, Clock, Observed
from server.review.figures import figures_of, figures_table
from server.review.passes import Pass, passes_of
from server.review.story import Story, story_of
from server.review.tables import Cell, Column, Table, rounded, seconds, table
from server.review.walk import Walk
from server.review.words import event_in_words, place_in_words, told_in_words
from server.timeline.estimate import US_PER_S
from server.timeline.event_kinds import EVENT_KINDS
from server.timeline.events import Event, at_us, rfc3339
from server.timeline.naming import alarm_of, link_of
from server.timeline.plan import Plan, Station
from server.timeline.schedule import StationSchedule, advertised_s, house_clock, schedule_from_plan

# chosen: a three-hour show in some forty rows a link
_SLACK_EVERY_US: Final = 300 * US_PER_S
_FINE: Final = 2000


class Reading:
    """One run by one clock, ready to be read; `walk` is gone through when it is first needed."""

    def __init__(self, account: Account, clock: Clock = "now") -> None:
        self.account = account
        self.clock = clock
        self.plan = account.plan

    @cached_property
    def walk(self) -> Walk:
        """The run gone through once."""
        return Walk(self.account, self.clock)

    @cached_property
    def story(self) -> Story:
        """What happened, in a few sentences."""
        return story_of(self.account, self.walk)

    @cached_property
    def passes(self) -> list[Pass]:
        """Every mark at every gate."""
        return passes_of(self.account, self.walk)

    @cached_property
    def schedules(self) -> tuple[StationSchedule, ...]:
        """What the plan says, a station each."""
        return schedule_from_plan(self.plan).stations

    @cached_property
    def tables(self) -> tuple[Table, ...]:
        """Every table, in the order in which a debrief goes through them."""
        return (
            self._summary(),
            self._starts(),
            self._houses(),
            self._links(),
            self._slack(),
            self._strikes(),
            self._passes(),
            self._alarms(),
            figures_table(figures_of(self.walk.spans, self.walk.span), self.plan),
            self._notes(),
            self._corrections(),
            self._events(),
        )

    def grid_us(self, points: int) -> list[int]:
        """That many instants, even over the span of the run."""
        return [int(at) for at in np.linspace(self.walk.span.from_us, self.walk.span.to_us, points)]

    def _summary(self) -> Table:
        spans, span = self.walk.spans, self.walk.span
        states = self.walk.final.evidence.stations
        seen = [one for one in self.passes if one.observed_us is not None]
        rows: list[tuple[Cell, ...]] = [
            ("Title", self.plan.title),
            ("Site", self.plan.site),
            ("Planned start", f"{house_clock(self.plan, 0.0):%Y-%m-%d %H:%M:%S}"),
            ("Stations", len(self.plan.stations)),
            ("Stations started", sum(state.started_us is not None for state in states)),
            ("Minutes from first to last", rounded((span.to_us - span.from_us) / 60e6, 1)),
            ("Events", len(self.account.observed)),
            ("Events taken back", len(self.account.retracted)),
            ("Marks seen", len(seen)),
            ("Of them believed", sum(one.believed for one in seen)),
            ("Alarms raised", sum(one.alone_us is not None for one in spans)),
            ("Of them at level act", sum(one.alone_us is not None and one.level == "act" for one in spans)),
            ("Seconds by which the start was moved", rounded(self._hold_s)),
            ("Houses said to be ready", len({e.station for e in self.account.standing if e.kind == "ready"})),
            ("Reports from the houses", sum(e.kind == "report" for e in self.account.standing)),
            ("Calls between booths", sum(e.kind == "call" for e in self.account.standing)),
            ("Houses where film stood in the light", len({one.subject for one in spans if one.kind == "film_heat"})),
        ]
        return table("summary", "Summary", (Column("what", "What"), Column("value", "Value", "number")), rows)

    @property
    def _hold_s(self) -> float:
        """By how much the first start was moved, as it stood when the first motor started."""
        return self.walk.final.evidence.hold_s

    def _starts(self) -> Table:
        columns = (
            Column("house", "House"),
            Column("planned_s", "Planned", "clock"),
            Column("held_s", "Moved to", "clock"),
            Column("ready_s", "Ready", "clock"),
            Column("ready_by", "said by"),
            Column("started_s", "Started", "clock"),
            Column("late_s", "Late", "s"),
            Column("source", "Told by"),
            Column("by", "Who"),
            Column("stopped_s", "Stopped", "clock"),
        )
        return table("starts", "Starts against plan", columns, self._start_rows())

    def _start_rows(self) -> Iterator[tuple[Cell, ...]]:
        """Late is against the plan, or against what the start was moved to."""
        states, hold_s = self.walk.final.evidence.stations, self._hold_s
        own = {e.station: e for e in reversed(self.account.standing) if e.kind == "motor_start"}
        together = next((e for e in self.account.standing if e.kind == "chain_start"), None)
        for station, times, state in zip(self.plan.stations, self.schedules, states, strict=True):
            event = own.get(station.id, together if state.started_us is not None else None)
            started_us = state.started_us if event is None else at_us(event, self.plan)
            due_s = times.start_s + hold_s
            late_s = None if started_us is None else rounded(started_us / US_PER_S - due_s)
            ready_s, ready_by = self._ready(station.id, started_us)
            told, by = (None, None) if event is None else (event.source, event.by)
            before = (station.house, times.start_s, due_s if hold_s else None, ready_s, ready_by)
            yield (*before, seconds(started_us), late_s, told, by, seconds(state.stopped_us))

    def _ready(self, station: str, started_us: int | None) -> tuple[float | None, str | None]:
        """When and by whom a house was last said to be ready before its motor started."""
        said = [(at_us(e, self.plan), e.by) for e in self.account.standing if (e.kind, e.station) == ("ready", station)]
        before = [one for one in said if started_us is None or one[0] <= started_us]
        return (before[-1][0] / US_PER_S, before[-1][1]) if before else (None, None)

    def _houses(self) -> Table:
        rows = []
        for station, times in zip(self.plan.stations, self.schedules, strict=True):
            head, end, clear = (self.reached_us(station.id, mark) for mark in ("head", "end", "tail_end"))
            due_s = _advertised_s(self.plan, station, times)
            late_s = None if due_s is None or head is None else rounded(head / US_PER_S - due_s)
            off_s = None if head is None else rounded(head / US_PER_S - times.passes["head"])
            row = (station.house, due_s, rounded(times.passes["head"], 6), seconds(head), off_s, late_s)
            rows.append((*row, rounded(times.passes["end"], 6), seconds(end), seconds(clear)))
        columns = (
            Column("house", "House"),
            Column("advertised_s", "Advertised", "clock"),
            Column("head_planned_s", "Head planned", "clock"),
            Column("head_s", "Head", "clock"),
            Column("head_late_s", "After plan", "s"),
            Column("advertised_late_s", "After advertised", "s"),
            Column("end_planned_s", "Lets out, planned", "clock"),
            Column("end_s", "Lets out", "clock"),
            Column("clear_s", "Clear", "clock"),
        )
        return table("houses", "Houses", columns, rows)

    def reached_us(self, station: str, mark: str) -> int | None:
        """When a mark was at a gate: as seen and believed, else as estimated, if it was by the end."""
        k = self.plan.station_index[station]
        reached = self.walk.final.evidence.reached_us(k, mark)
        return reached if reached is not None and reached <= self.walk.span.to_us else None

    def _links(self) -> Table:
        grid = self.grid_us(_FINE)
        slack, _ = self.walk.slack(grid)
        rows = []
        for i, link in enumerate(self.plan.links):
            known = np.flatnonzero(~np.isnan(slack[:, i]))
            low, high = (known[pick(slack[known, i])] if len(known) else None for pick in (np.argmin, np.argmax))
            tightest, loosest = (None if at is None else rounded(float(slack[at, i])) for at in (low, high))
            at_low, at_high = (None if at is None else seconds(grid[at]) for at in (low, high))
            most = max(abs(tightest or 0.0), abs(loosest or 0.0))
            used = rounded(100.0 * most / link.reserve_s, 1) if link.reserve_s else None
            drift, sd = (None if part is None else part * 1e6 for part in self.walk.last_drift(i) or (None, None))
            row = (link_of(self.plan, i), link.reserve_s, tightest, at_low, loosest, at_high, used)
            rows.append((*row, rounded(drift, 2), rounded(sd, 2)))
        columns = (
            Column("link", "Link"),
            Column("reserve_s", "Reserve", "s"),
            Column("tightest_s", "Tightest", "s"),
            Column("tightest_at_s", "at", "clock"),
            Column("loosest_s", "Loosest", "s"),
            Column("loosest_at_s", "at", "clock"),
            Column("used_percent", "Of the reserve", "percent"),
            Column("drift_ppm", "Drift at last", "ppm"),
            Column("drift_sd_ppm", "±", "ppm"),
        )
        return table("links", "Links", columns, rows)

    def _slack(self) -> Table:
        span = self.walk.span
        # One event with a wrong date makes a span of years.
        step_us = max(_SLACK_EVERY_US, (span.to_us - span.from_us) // _FINE)
        grid = [*range(span.from_us, span.to_us, step_us), span.to_us]
        slack, sd = self.walk.slack(grid)
        rows = (
            (seconds(at), link_of(self.plan, i), rounded(float(slack[n, i])), rounded(float(sd[n, i])), link.reserve_s)
            for n, at in enumerate(grid)
            for i, link in enumerate(self.plan.links)
        )
        columns = (
            Column("at_s", "At", "clock"),
            Column("link", "Link"),
            Column("slack_s", "Slack", "s"),
            Column("slack_sd_s", "±", "s"),
            Column("reserve_s", "Reserve", "s"),
        )
        return table("slack", "Slack over time", columns, rows)

    def _strikes(self) -> Table:
        columns = (
            Column("house", "House"),
            Column("opens_s", "Window opens", "clock"),
            Column("closes_s", "closes", "clock"),
            Column("lit_s", "Lit", "clock"),
            Column("before_head_s", "Before the head", "s"),
            Column("verdict", "Strike"),
            Column("douser_open_s", "Douser open", "clock"),
            Column("by", "Who"),
        )
        return table("strikes", "Strikes against their windows", columns, self._strike_rows())

    def _strike_rows(self) -> Iterator[tuple[Cell, ...]]:
        lit = {e.station: e for e in reversed(self.account.standing) if e.kind == "lamp_lit"}
        opened = {e.station: e for e in reversed(self.account.standing) if e.kind == "douser_open"}
        for station in self.plan.stations:
            head_us = self.reached_us(station.id, "head")
            strike, douser = lit.get(station.id), opened.get(station.id)
            lit_s = None if strike is None else at_us(strike, self.plan) / US_PER_S
            open_s = None if douser is None else at_us(douser, self.plan) / US_PER_S
            who = strike.by if strike is not None else None
            if head_us is None:
                yield station.house, None, None, lit_s, None, "no head", open_s, who
                continue
            head_s = head_us / US_PER_S
            opens_s = round(head_s - station.lamp.earliest_s, 6)
            closes_s = round(head_s - station.lamp.latest_s, 6)
            before_s = None if lit_s is None else rounded(head_s - lit_s)
            yield station.house, opens_s, closes_s, lit_s, before_s, _verdict(lit_s, opens_s, closes_s), open_s, who

    def _passes(self) -> Table:
        columns = (
            Column("house", "House"),
            Column("mark", "Mark"),
            Column("planned_s", "Planned", "clock"),
            Column("expected_s", "Expected", "clock"),
            Column("expected_sd_s", "±", "s"),
            Column("observed_s", "Observed", "clock"),
            Column("after_plan_s", "After plan", "s"),
            Column("after_expected_s", "After expected", "s"),
            Column("believed", "Believed"),
        )
        rows = (_pass_row(one, self.plan) for one in self.passes)
        return table("passes", "Passes planned, expected and observed", columns, rows)

    def _alarms(self) -> Table:
        rows = []
        for one in self.walk.spans:
            lasted = None if one.over_us is None else rounded((one.over_us - one.told_us) / US_PER_S)
            first_out = None if one.cause is None else alarm_of(self.plan, one.cause)
            what = (one.level, alarm_of(self.plan, one.key), one.text, first_out)
            row = (seconds(one.told_us), *what, seconds(one.since_us))
            rows.append((*row, seconds(one.act_us), seconds(one.seen_us), one.seen_by, seconds(one.over_us), lasted))
        columns = (
            Column("told_s", "Told", "clock"),
            Column("level", "Level"),
            Column("alarm", "Alarm"),
            Column("text", "What"),
            Column("first_out", "First-out"),
            Column("since_s", "True since", "clock"),
            Column("act_s", "At act", "clock"),
            Column("seen_s", "Seen", "clock"),
            Column("seen_by", "by"),
            Column("over_s", "Over", "clock"),
            Column("lasted_s", "Lasted", "s"),
        )
        return table("alarms", "Alarms", columns, rows)

    def _notes(self) -> Table:
        """What was written, and what was said of the start: who is ready, what was laced anew, when it is to be."""
        rows = [
            (at_us(e, self.plan) / US_PER_S, e.by, e.text if e.kind == "note" else self._said(e))
            for e in self.account.standing
            if EVENT_KINDS[e.kind].noted
        ]
        columns = (Column("at_s", "At", "clock"), Column("by", "Who"), Column("text", "What was written or said"))
        return table("notes", "Notes and readiness", columns, rows)

    def _said(self, event: Event) -> str:
        """What somebody said; a hold that came while motors ran moved nothing."""
        late = event.id in self.walk.final.evidence.late_holds
        return f"{told_in_words(event, self.plan)}: too late, motors ran" if late else told_in_words(event, self.plan)

    def _corrections(self) -> Table:
        rows = [self._correction(one) for one in corrections_of(self.account)]
        columns = (
            Column("arrived", "Made"),
            Column("by", "Who"),
            Column("where", "Where"),
            Column("what", "What"),
            Column("at_s", "Counts at", "clock"),
            Column("retracts", "Takes back"),
            Column("text", "Text"),
            Column("id", "Event"),
        )
        return table("corrections", "Corrections", columns, rows)

    def _correction(self, one: Observed) -> tuple[Cell, ...]:
        event = one.event
        at_s = None if event.kind == "retract" else at_us(event, self.plan) / US_PER_S
        arrived = rfc3339(self.account.arrived(one))
        return arrived, event.by, *self._in_words(event), at_s, event.retracts, event.text, event.id

    def _in_words(self, event: Event) -> tuple[str | None, str]:
        """Where it was and what it was."""
        return place_in_words(event, self.plan), event_in_words(event, self.plan, self.account.by_id)

    def _events(self) -> Table:
        rows = []
        for one in self.account.observed:
            event, at = one.event, at_us(one.event, self.plan)
            taken_back = self.account.retracted.get(event.id)
            when = (one.seq, at / US_PER_S, one.arrived_us / US_PER_S)
            what = (*self._in_words(event), event.seconds, event.text)
            rows.append((*when, *what, event.source, event.by, event.id, event.retracts, taken_back))
        columns = (
            Column("seq", "No.", "count"),
            Column("at_s", "Counts at", "clock"),
            Column("arrived_s", "Arrived", "clock"),
            Column("where", "Where"),
            Column("what", "What"),
            Column("seconds", "Seconds", "s"),
            Column("text", "Text"),
            Column("source", "Source"),
            Column("by", "Who"),
            Column("id", "Event"),
            Column("retracts", "Takes back"),
            Column("retracted_by", "Taken back by"),
        )
        return table("events", "Events", columns, rows)


def corrections_of(account: Account) -> Sequence[Observed]:
    """What was added in the debrief, in order of arrival."""
    return [one for one in account.observed if one.event.source.endswith(CORRECTION)]


def _verdict(lit_s: float | None, opens_s: float, closes_s: float) -> str:
    if lit_s is None:
        return "not seen"
    if lit_s < opens_s:
        return f"{opens_s - lit_s:.1f} s early"
    return "in its window" if lit_s <= closes_s else f"{lit_s - closes_s:.1f} s late"


def _advertised_s(plan: Plan, station: Station, times: StationSchedule) -> float | None:
    return None if station.advertised is None else advertised_s(plan, station.advertised, times.passes["head"])


def _pass_row(one: Pass, plan: Plan) -> tuple[Cell, ...]:
    def after(reference_us: int | None) -> float | None:
        if one.observed_us is None or reference_us is None:
            return None
        return rounded((one.observed_us - reference_us) / US_PER_S)

    times = (seconds(one.planned_us), seconds(one.expected_us), rounded(one.expected_sd_s), seconds(one.observed_us))
    believed = None if one.observed_us is None else "yes" if one.believed else "no"
    house, mark = plan.stations[plan.station_index[one.station]].house, plan.mark(one.mark).title
    return house, mark, *times, after(one.planned_us), after(one.expected_us), believed
