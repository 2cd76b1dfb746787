"""The alarms of a run as spans of time, read off the board each time it may have changed."""

from dataclasses import dataclass
from typing import NamedTuple

from server.timeline.alarms import Alarm, AlarmBoard
from server.timeline.condition import RANK
from server.timeline.events import Event
from server.timeline.people import HOUSE_REPORT
from server.timeline.view import Level


class AlarmSpan(NamedTuple):
    """One alarm from when it was told to when its condition was over, in microseconds after the plan's zero.

    `level` is the highest it had, `text` and `todo` what was told then, `act_us` when it first was `act`. `cause` is
    the first-out alarm it was put under at the last, `under` the one that it was put under first. `alone_us` is when
    people were first told of it by itself, None where it only ever stood under its cause. `seen_us` and `seen_by` are
    None while nobody acknowledged it, `over_us` where it was still on at the end.
    """

    key: str
    kind: str
    subject: str
    level: Level
    cause: str | None
    text: str
    todo: str
    since_us: int
    told_us: int
    alone_us: int | None
    act_us: int | None
    seen_us: int | None
    seen_by: str | None
    over_us: int | None
    under: str | None = None


@dataclass(slots=True)
class _Open:
    """A span that is still written to."""

    alarm: Alarm
    told_us: int
    level: Level
    text: str
    todo: str
    act_us: int | None
    alone_us: int | None = None
    seen_us: int | None = None
    seen_by: str | None = None
    over_us: int | None = None
    under: str | None = None

    def see(self, event: Event, at_us: int) -> None:
        """Whoever acknowledged it or saw to it has seen it, unless somebody had before."""
        if self.seen_us is None:
            self.seen_us, self.seen_by = at_us, event.by or "somebody"

    def span(self) -> AlarmSpan:
        alarm = self.alarm
        return AlarmSpan(
            key=alarm.key,
            kind=alarm.kind,
            subject=alarm.subject,
            level=self.level,
            cause=alarm.cause,
            text=self.text,
            todo=self.todo,
            since_us=alarm.since_us,
            told_us=self.told_us,
            alone_us=self.alone_us,
            act_us=self.act_us,
            seen_us=self.seen_us,
            seen_by=self.seen_by,
            over_us=self.over_us,
            under=self.under,
        )


class AlarmSpans:
    """The spans of one run; `look` is called in order of time, whenever the board may have changed."""

    def __init__(self) -> None:
        self._all: list[_Open] = []
        self._latest: dict[str, _Open] = {}

    def spans(self) -> list[AlarmSpan]:
        """Every span so far, in the order in which they were told."""
        return [one.span() for one in self._all]

    def look(self, board: AlarmBoard, at_us: int, event: Event | None = None) -> None:
        """Note how the board stands at an instant; `event` is what was taken at it, if anything was."""
        for key, alarm in board.alarms.items():
            if alarm.on:
                self._on(key, alarm, at_us)
                if self._latest[key].alone_us is None and board.is_told(alarm):
                    self._latest[key].alone_us = at_us
        for key, one in self._latest.items():
            if one.over_us is None and not board.is_on(key):
                one.over_us = at_us
                if event is not None and key.startswith(f"{HOUSE_REPORT}:") and key not in board.alarms:
                    one.see(event, at_us)
        if event is not None and event.kind == "ack":
            self._acknowledged(event, at_us)

    def _on(self, key: str, alarm: Alarm, at_us: int) -> None:
        one = self._latest.get(key)
        if one is None or one.over_us is not None or _told_anew(one.alarm, alarm):
            if one is not None and one.over_us is None:
                one.over_us = at_us
            one = _Open(alarm, at_us, alarm.level, alarm.text, alarm.todo, at_us if alarm.level == "act" else None)
            self._all.append(one)
            self._latest[key] = one
        elif alarm is not one.alarm:
            _update(one, alarm, at_us)
        one.under = one.under or alarm.cause
        if alarm.acked_by is not None and one.seen_us is None:
            one.seen_us, one.seen_by = at_us, alarm.acked_by

    def _acknowledged(self, ack: Event, at_us: int) -> None:
        """An alarm that was over before anybody saw it is gone from the board once it is seen."""
        one = self._latest.get(ack.alarm or "")
        if one is not None and one.over_us is not None:
            one.see(ack, at_us)


def _told_anew(before: Alarm, now: Alarm) -> bool:
    """A note that is on is told again for each new cause; other levels stay one alarm while they are on."""
    return now.level == "note" and now.since_us != before.since_us


def _update(one: _Open, alarm: Alarm, at_us: int) -> None:
    if one.alarm.ack_id is not None and alarm.ack_id is None and RANK[alarm.level] <= RANK[one.alarm.level]:
        one.seen_us = one.seen_by = None  # the acknowledgement was taken back
    if RANK[alarm.level] > RANK[one.level]:
        one.level, one.text, one.todo = alarm.level, alarm.text, alarm.todo
    if alarm.level == "act" and one.act_us is None:
        one.act_us = at_us
    one.alarm = alarm
