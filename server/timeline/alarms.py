"""The alarms of a run and their states, after ANSI/ISA-18.2: normal, unacknowledged, acknowledged, returned.

What follows from an alarm that is open comes up acknowledged under it, after sequence F of ISA-18.1 (first-out).
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from server.timeline.condition import RANK, Condition, wanted_level
from server.timeline.estimate import US_PER_S
from server.timeline.view import AlarmRecord, Level, RecordState

# chosen: a tap counts a little earlier than it was made, and so perhaps before the alarm that it acknowledges
EARLY_ACK_S = 2.0
# chosen: contacts of one fault may close in any order, and a start is missed only after its grace
ADOPT_S = 2.0
_FORECAST = "slack_forecast"
_SLACK = ("slack_tight", "slack_loose")


@dataclass(frozen=True, slots=True)
class Alarm:
    """One alarm that is on, or returned and not yet acknowledged.

    `cause` is the first-out alarm of its group, `follows` the one of them that it directly follows from. `acked` is
    also true of one that came up under its cause; `acked_by` and `ack_id` only after somebody saw it.
    """

    kind: str
    subject: str
    level: Level
    since_us: int
    text: str
    cause: str | None
    causes: tuple[str, ...] = ()
    follows: str | None = None
    on: bool = True
    acked: bool = False
    acked_by: str | None = None
    ack_id: str | None = None
    shelved_until_us: int | None = None

    @property
    def key(self) -> str:
        return f"{self.kind}:{self.subject}"


class AlarmBoard:
    """All alarms of a run; `step` moves them to an instant and says what changed."""

    def __init__(self) -> None:
        self.alarms: dict[str, Alarm] = {}
        self._early: dict[str, tuple[int, str, str]] = {}
        self._cleared_us: dict[str, int] = {}

    def copy(self) -> "AlarmBoard":
        """Return an independent board with the same alarms."""
        twin = AlarmBoard()
        twin.alarms = self.alarms.copy()
        twin._early = self._early.copy()
        twin._cleared_us = self._cleared_us.copy()
        return twin

    def open_keys(self) -> list[str]:
        """Keys of the alarms that are on."""
        return [key for key, alarm in self.alarms.items() if alarm.on]

    def is_on(self, key: str | None) -> bool:
        """Whether that alarm is on."""
        return key in self.alarms and self.alarms[key].on

    def is_told(self, alarm: Alarm) -> bool:
        """Whether people are told of an alarm by itself: it is under no other, or is worse than what it follows from.

        Worse is a higher level, film that stopped where its slack was told of before, or a reserve that will be gone
        where it was slack and no more.
        """
        if alarm.follows is None or not self.is_on(alarm.cause):
            return True
        before = self.alarms[alarm.follows]
        if RANK[alarm.level] > RANK[before.level] or (_is_of_slack(before.key) and not _is_of_slack(alarm.key)):
            return True
        return alarm.kind == _FORECAST and before.kind in _SLACK and before.since_us < alarm.since_us

    def step(self, conditions: Iterable[Condition], at_us: int) -> list[AlarmRecord]:
        """Turn alarms on and off as the conditions say at `at_us`; those that others follow from come first."""
        wanted: dict[str, tuple[Condition, Level]] = {}
        for condition in conditions:
            blocked = any(key in wanted and wanted[key][1] == "act" for key in condition.blocked_by)
            level = wanted_level(condition, self._level(condition.key), at_us, blocked=blocked)
            if level is not None:
                wanted[condition.key] = (condition, level)
        gone = [key for key in reversed(self.open_keys()) if key not in wanted]
        records: list[AlarmRecord] = []
        # What comes on in the moment in which its cause goes off was told of by that: it is no first-out.
        for condition, level in wanted.values():
            records.extend(self._want(condition, level, at_us))
        records = [self._adopted(record) for record in records]
        records.extend(self._clear(key, at_us) for key in gone)
        self._end_shelving(at_us)
        return records

    def _level(self, key: str) -> Level | None:
        return self.alarms[key].level if self.is_on(key) else None

    def _clear(self, key: str, at_us: int) -> AlarmRecord:
        alarm = self.alarms[key]
        self._cleared_us[key] = at_us
        if alarm.acked or alarm.level == "note":
            del self.alarms[key]
        else:
            self.alarms[key] = replace(alarm, on=False)
        for other in self.alarms.values():
            if other.cause == key:
                # What it was told under is gone: it stands for itself now, and wants to be seen.
                self.alarms[other.key] = replace(other, cause=None, follows=None, acked=other.acked_by is not None)
            elif other.follows == key:
                self.alarms[other.key] = replace(other, follows=other.cause)
        return self._record(alarm, "cleared", at_us)

    def _want(self, condition: Condition, level: Level, at_us: int) -> Iterable[AlarmRecord]:
        current = self._level(condition.key)
        if current is None:
            yield self._raise(condition, level, at_us)
            yield from self._acknowledge_early(condition.key, at_us)
        elif current != level:
            yield self._move(self.alarms[condition.key], condition, level, at_us)
        elif (
            level == "note"
            and condition.since_us is not None
            and condition.since_us > self.alarms[condition.key].since_us
        ):
            yield self._clear(condition.key, at_us)
            yield self._raise(condition, level, at_us)
        elif condition.text != self.alarms[condition.key].text:
            self.alarms[condition.key] = replace(self.alarms[condition.key], text=condition.text)

    def _raise(self, condition: Condition, level: Level, at_us: int) -> AlarmRecord:
        since_us = condition.since_us if condition.since_us is not None else at_us
        follows, cause = self._first_out(condition, since_us)
        if since_us <= self._cleared_us.get(condition.key, since_us - 1):
            since_us = at_us  # it was told and cleared before: what has come back has come back now
        text, causes = condition.text, condition.causes
        alarm = Alarm(condition.kind, condition.subject, level, since_us, text, cause, causes, follows)
        alarm = replace(alarm, acked=not self.is_told(alarm))
        self.alarms[alarm.key] = alarm
        self._adopt(alarm)
        return self._record(alarm, "raised", since_us)

    def _adopt(self, first: Alarm) -> None:
        """Put what this alarm explains, and what was told moments before it, under it."""
        for key, alarm in self.alarms.items():
            if key in {first.key, first.cause}:
                continue
            follows = first.key in alarm.causes and alarm.on and alarm.cause is None and alarm.acked_by is None
            if follows and alarm.since_us >= first.since_us - ADOPT_S * US_PER_S:
                self.alarms[key] = replace(alarm, cause=first.cause or first.key, follows=first.key, acked=True)

    def _adopted(self, record: AlarmRecord) -> AlarmRecord:
        """Say of what came on what it is under, though that came on after it in the same step."""
        alarm = self.alarms.get(record.key)
        if record.state != "raised" or alarm is None or not alarm.on:
            return record
        return record._replace(cause=alarm.cause, told=self.is_told(alarm))

    def _acknowledge_early(self, key: str, at_us: int) -> list[AlarmRecord]:
        acked_us, by, ack_id = self._early.pop(key, (at_us, "", ""))
        in_time = ack_id and at_us - acked_us <= EARLY_ACK_S * US_PER_S
        return self.acknowledge(key, by, ack_id, at_us) if in_time else []

    def _first_out(self, condition: Condition, since_us: int) -> tuple[str | None, str | None]:
        """What an alarm follows from, and the first-out alarm that this is under.

        A stop follows from slack only where that was told of before it.
        """
        for key in condition.causes:
            before = self.alarms.get(key)
            if before is None or not before.on:
                continue
            if _is_of_slack(key) and not _is_of_slack(condition.key) and before.since_us >= since_us:
                continue
            return key, before.cause if self.is_on(before.cause) else key
        return None, None

    def _move(self, alarm: Alarm, condition: Condition, level: Level, at_us: int) -> AlarmRecord:
        moved = replace(alarm, level=level, text=condition.text)
        if RANK[level] > RANK[alarm.level] and self.is_told(moved):
            # It got worse since somebody saw it.
            moved = replace(moved, acked=False, acked_by=None, ack_id=None, shelved_until_us=None)
        self.alarms[alarm.key] = moved
        return self._record(moved, "level", at_us)

    def _end_shelving(self, at_us: int) -> None:
        for key, alarm in self.alarms.items():
            if alarm.shelved_until_us is not None and alarm.shelved_until_us <= at_us:
                self.alarms[key] = replace(alarm, shelved_until_us=None)

    def acknowledge(self, key: str, by: str | None, ack_id: str, at_us: int) -> list[AlarmRecord]:
        """Mark an alarm seen, or one that comes up in a moment; nothing happens where it was seen before."""
        alarm = self.alarms.get(key)
        if alarm is None:
            self._early[key] = (at_us, by or "", ack_id)
        if alarm is None or alarm.ack_id is not None:
            return []
        seen = replace(alarm, acked=True, acked_by=by or "somebody", ack_id=ack_id)
        if alarm.on:
            self.alarms[key] = seen
        else:
            del self.alarms[key]
        return [self._record(seen, "acked", at_us)]

    def take_back(self, ack_id: str) -> None:
        """Undo an acknowledgement, where its alarm is still there."""
        for key, alarm in self.alarms.items():
            if alarm.ack_id == ack_id:
                self.alarms[key] = replace(alarm, acked=not self.is_told(alarm), acked_by=None, ack_id=None)

    def shelve(self, key: str, until_us: int) -> None:
        """Set an alarm aside until `until_us`; the past ends it."""
        if key in self.alarms:
            self.alarms[key] = replace(self.alarms[key], shelved_until_us=until_us)

    def edges(self) -> list[int]:
        """The instants at which a shelved alarm comes back."""
        return [alarm.shelved_until_us for alarm in self.alarms.values() if alarm.shelved_until_us is not None]

    def _record(self, alarm: Alarm, state: RecordState, at_us: int) -> AlarmRecord:
        told = self.is_told(alarm)
        return AlarmRecord(
            at_us, alarm.key, alarm.kind, alarm.level, alarm.subject, state, alarm.cause, alarm.text, told
        )


def _is_of_slack(key: str) -> bool:
    return key.startswith("slack_")
