"""The alarms of a run and their states, after ANSI/ISA-18.2: normal, unacknowledged, acknowledged, returned.

What follows from an alarm that is open comes up acknowledged under it, after sequence F of ISA-18.1 (first-out).
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from server.timeline.alarm_kinds import ALARM_KINDS
from server.timeline.condition import RANK, Condition, wanted_level
from server.timeline.estimate import US_PER_S
from server.timeline.view import AlarmRecord, Level, RecordState

# chosen: a tap counts a little earlier than it was made, and so perhaps before the alarm that it acknowledges
EARLY_ACK_S = 2.0
# chosen: contacts of one fault may close in any order, and a start is missed only after its grace
ADOPT_S = 2.0
_FORECAST = "slack_forecast"
_SLACK = ("slack_tight", "slack_loose")
_COMES_ON = ("raised", "level")


@dataclass(frozen=True, slots=True)
class Alarm:
    """One alarm that is on, or returned and not yet acknowledged.

    `cause` is the first-out alarm of its group, `follows` the one of them that it directly follows from. `acked_by` and
    `ack_id` are set once somebody saw it.
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
    acked_by: str | None = None
    ack_id: str | None = None
    shelved_until_us: int | None = None
    todo: str = ""

    @property
    def key(self) -> str:
        return f"{self.kind}:{self.subject}"


class AlarmBoard:
    """All alarms of a run; `step` moves them to an instant and says what changed."""

    def __init__(self) -> None:
        self.alarms: dict[str, Alarm] = {}
        self._early: dict[str, tuple[int, str, str]] = {}
        self._cleared_us: dict[str, int] = {}
        # What another has replaced, with its level then: it goes on from there where that other clears.
        self._replaced: dict[str, Level] = {}
        # What is on and people have not been told of by itself.
        self._untold: frozenset[str] = frozenset()

    def copy(self) -> "AlarmBoard":
        """Return an independent board with the same alarms."""
        twin = AlarmBoard()
        twin.alarms = self.alarms.copy()
        twin._early = self._early.copy()
        twin._cleared_us = self._cleared_us.copy()
        twin._replaced = self._replaced.copy()
        twin._untold = self._untold
        return twin

    def open_keys(self) -> list[str]:
        """Keys of the alarms that are on."""
        return [key for key, alarm in self.alarms.items() if alarm.on]

    def held_keys(self) -> set[str]:
        """Keys of what is on, and of what another has replaced and goes on where that clears."""
        return {*self.open_keys(), *self._replaced}

    def is_on(self, key: str | None) -> bool:
        """Whether that alarm is on."""
        return key in self.alarms and self.alarms[key].on

    def is_told(self, alarm: Alarm) -> bool:
        """Whether people are told of an alarm by itself: it is under no other, or is worse than what it follows from.

        Worse is a higher level, film that stopped where its slack was told of before, or a reserve that will be gone
        where it was slack and no more. What asks for something of its own is told of whatever it is under; slack beside
        a stop that is told of is not.
        """
        if not alarm.on or ALARM_KINDS[alarm.kind].own or alarm.follows is None or not self.is_on(alarm.cause):
            return True
        if _is_of_slack(alarm.key) and any(self.is_on(key) and not _is_of_slack(key) for key in alarm.causes):
            return False
        before = self.alarms[alarm.follows]
        if RANK[alarm.level] > RANK[before.level] or (_is_of_slack(before.key) and not _is_of_slack(alarm.key)):
            return True
        return alarm.kind == _FORECAST and before.kind in _SLACK and before.since_us < alarm.since_us

    def off_us(self, alarm: Alarm) -> int:
        """When an alarm that is off went off."""
        return self._cleared_us[alarm.key]

    def is_acked(self, alarm: Alarm) -> bool:
        """Whether an alarm calls nobody: somebody saw it, or people are told of what it is under."""
        return alarm.acked_by is not None or not self.is_told(alarm)

    def step(self, conditions: Iterable[Condition], at_us: int) -> list[AlarmRecord]:
        """Turn alarms on and off as the conditions say at `at_us`; those that others follow from come first."""
        wanted: dict[str, tuple[Condition, Level]] = {}
        replaced: set[str] = set()
        for condition in conditions:
            if condition.key in replaced:
                self._keep_replaced(condition.key)
                continue
            blocked = any(key in wanted and wanted[key][1] == "act" for key in condition.blocked_by)
            held = self._level(condition.key) or self._replaced.get(condition.key)
            level = wanted_level(condition, held, at_us, blocked=blocked)
            self._replaced.pop(condition.key, None)
            if level is not None:
                wanted[condition.key] = (condition, level)
                replaced.update(condition.replaces)
        self._replaced = {key: level for key, level in self._replaced.items() if key in replaced}
        gone = [key for key in reversed(self.open_keys()) if key not in wanted]
        records: list[AlarmRecord] = []
        # What comes on in the moment in which its cause goes off was told of by that: it is no first-out.
        for condition, level in wanted.values():
            records.extend(self._want(condition, level, at_us))
        records = [self._as_it_stands(record) for record in records]
        said = {record.key for record in records if record.told and record.state in _COMES_ON}
        untold = (self._untold | self._untold_now()) - said
        # A first-out goes last, so that nothing is handed on that goes in the same moment.
        gone.sort(key=lambda key: self.alarms[key].cause is None)
        records.extend(self._clear(key, at_us) for key in gone)
        self._untold = self._untold_now()
        records.extend(self._told(key, at_us) for key in sorted(untold - self._untold) if self.is_on(key))
        self._end_shelving(at_us)
        return records

    def _level(self, key: str) -> Level | None:
        return self.alarms[key].level if self.is_on(key) else None

    def _keep_replaced(self, key: str) -> None:
        level = self._level(key)
        if level is not None:
            self._replaced[key] = level

    def _clear(self, key: str, at_us: int) -> AlarmRecord:
        alarm = self.alarms[key]
        self._cleared_us[key] = at_us
        # What another has replaced did not go off: that other calls for it.
        if self.is_acked(alarm) or alarm.level == "note" or key in self._replaced:
            del self.alarms[key]
        else:
            self.alarms[key] = replace(alarm, on=False)
        self._hand_on(key)
        return self._record(alarm, "cleared", at_us)

    def _hand_on(self, key: str) -> None:
        """Put what was under an alarm that has cleared under the worst of it, which wants to be seen now."""
        group = [one for one in self.alarms.values() if one.cause == key and one.on]
        if group:
            heir = max(group, key=_weight)
            self.alarms[heir.key] = replace(heir, cause=None, follows=None)
            for one in group:
                if one.key != heir.key:
                    follows = one.follows if self.is_on(one.follows) else heir.key
                    self.alarms[one.key] = replace(one, cause=heir.key, follows=follows)
        for one in list(self.alarms.values()):
            if one.follows == key:
                self.alarms[one.key] = replace(one, follows=one.cause)

    def _want(self, condition: Condition, level: Level, at_us: int) -> Iterable[AlarmRecord]:
        current = self._level(condition.key)
        if current is None:
            yield self._raise(condition, level, at_us)
            yield from self._acknowledge_early(condition.key, at_us)
        elif (
            condition.anew
            and condition.since_us is not None
            and condition.since_us > self.alarms[condition.key].since_us
        ):
            yield self._clear(condition.key, at_us)
            yield self._raise(condition, level, at_us)
        elif current != level:
            yield self._move(self.alarms[condition.key], condition, level, at_us)
        else:
            self._reword(self.alarms[condition.key], condition, at_us)

    def _reword(self, alarm: Alarm, condition: Condition, at_us: int) -> None:
        text, todo = condition.text_at(at_us), _todo(condition)
        if (alarm.text, alarm.todo) != (text, todo):
            self.alarms[alarm.key] = replace(alarm, text=text, todo=todo)

    def _raise(self, condition: Condition, level: Level, at_us: int) -> AlarmRecord:
        since_us = condition.since_us if condition.since_us is not None else at_us
        follows, cause = self._first_out(condition, since_us)
        if since_us <= self._cleared_us.get(condition.key, since_us - 1):
            since_us = at_us  # it was told and cleared before: what has come back has come back now
        text, causes = condition.text_at(at_us), condition.causes
        alarm = Alarm(
            condition.kind,
            condition.subject,
            level,
            since_us,
            text,
            cause,
            causes,
            follows,
            todo=_todo(condition),
        )
        self.alarms[alarm.key] = alarm
        self._take_place(alarm, condition.replaces)
        self._adopt(alarm)
        return self._record(self.alarms[alarm.key], "raised", since_us)

    def _take_place(self, alarm: Alarm, replaced: tuple[str, ...]) -> None:
        """Put an alarm under what those were under that it replaces, and what was under them under it."""
        if alarm.cause in replaced:
            self.alarms[alarm.key] = replace(alarm, cause=None, follows=None)
        for key in replaced:
            old = self.alarms.get(key)
            if old is None or not old.on:
                continue
            now = self.alarms[alarm.key]
            if now.cause is None and self.is_on(old.cause) and old.cause not in {*replaced, alarm.key}:
                now = replace(now, cause=old.cause, follows=old.follows)
                self.alarms[alarm.key] = now
            for other, one in list(self.alarms.items()):
                if one.cause == key and other != alarm.key:
                    follows = alarm.key if one.follows == key else one.follows
                    self.alarms[other] = replace(one, cause=now.cause or now.key, follows=follows)

    def _adopt(self, first: Alarm) -> None:
        """Put what this alarm explains, and what was told moments before it, under it."""
        root = first.cause or first.key
        for key, alarm in list(self.alarms.items()):
            if key in {first.key, root} or first.key not in alarm.causes or not alarm.on:
                continue
            alone = alarm.cause is None and alarm.acked_by is None and not _is_late(first, key, alarm.since_us)
            if alone and alarm.since_us >= first.since_us - ADOPT_S * US_PER_S:
                self.alarms[key] = replace(alarm, cause=root, follows=first.key)
                for one in list(self.alarms.values()):
                    if one.cause == key:
                        self.alarms[one.key] = replace(one, cause=root)

    def _as_it_stands(self, record: AlarmRecord) -> AlarmRecord:
        """Say of what came on or moved what it is under, though that came on after it in the same step."""
        alarm = self.alarms.get(record.key)
        if record.state not in _COMES_ON or alarm is None or not alarm.on:
            return record
        return record._replace(cause=alarm.cause, told=self.is_told(alarm))

    def _untold_now(self) -> frozenset[str]:
        return frozenset(key for key, one in self.alarms.items() if one.on and not self.is_told(one))

    def _told(self, key: str, at_us: int) -> AlarmRecord:
        """Record what calls from now on, because what it was under has cleared or is no longer as bad as it is."""
        return self._record(self.alarms[key], "level", at_us)

    def _acknowledge_early(self, key: str, at_us: int) -> list[AlarmRecord]:
        acked_us, by, ack_id = self._early.pop(key, (at_us, "", ""))
        in_time = ack_id and at_us - acked_us <= EARLY_ACK_S * US_PER_S
        return self.acknowledge(key, by, ack_id, at_us) if in_time else []

    def _first_out(self, condition: Condition, since_us: int) -> tuple[str | None, str | None]:
        """What an alarm follows from, and the first-out alarm that this is under."""
        for key in condition.causes:
            before = self.alarms.get(key)
            if before is None or not before.on:
                continue
            if _is_late(before, condition.key, since_us):
                continue
            return key, before.cause if self.is_on(before.cause) else key
        return None, None

    def _move(self, alarm: Alarm, condition: Condition, level: Level, at_us: int) -> AlarmRecord:
        moved = replace(alarm, level=level, text=condition.text_at(at_us), todo=_todo(condition))
        if RANK[level] > RANK[alarm.level]:
            # It got worse since somebody saw it.
            moved = replace(moved, acked_by=None, ack_id=None, shelved_until_us=None)
        self.alarms[alarm.key] = moved
        return self._record(moved, "level", at_us)

    def _end_shelving(self, at_us: int) -> None:
        for key, alarm in self.alarms.items():
            if alarm.shelved_until_us is not None and alarm.shelved_until_us <= at_us:
                self.alarms[key] = replace(alarm, shelved_until_us=None)

    def acknowledge(self, key: str, by: str | None, ack_id: str, at_us: int) -> list[AlarmRecord]:
        """Mark an alarm seen, or one that comes up in a moment; nothing happens where it was seen before."""
        alarm = self.alarms.get(key)
        if alarm is None and not key.startswith("call:"):
            self._early[key] = (at_us, by or "", ack_id)
        if alarm is None or alarm.ack_id is not None:
            return []
        seen = replace(alarm, acked_by=by or "somebody", ack_id=ack_id)
        if alarm.on:
            self.alarms[key] = seen
        else:
            del self.alarms[key]
        return [self._record(seen, "acked", at_us)]

    def take_back(self, ack_id: str) -> None:
        """Undo an acknowledgement, where its alarm is still there."""
        for key, alarm in self.alarms.items():
            if alarm.ack_id == ack_id:
                self.alarms[key] = replace(alarm, acked_by=None, ack_id=None)

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
            at_us, alarm.key, alarm.kind, alarm.level, alarm.subject, state, alarm.cause, alarm.text, told, alarm.todo
        )


def _todo(condition: Condition) -> str:
    return condition.todo or ALARM_KINDS[condition.kind].todo


def _is_late(cause: Alarm, key: str, since_us: int) -> bool:
    """Whether a stop cannot follow from slack that was not told of before it."""
    return _is_of_slack(cause.key) and not _is_of_slack(key) and cause.since_us >= since_us


def _weight(alarm: Alarm) -> tuple[int, bool, bool, int]:
    """Which of a group is its worst: the highest level, what nobody has seen, film that stopped, the oldest."""
    return RANK[alarm.level], alarm.acked_by is None, not _is_of_slack(alarm.key), -alarm.since_us


def _is_of_slack(key: str) -> bool:
    return key.startswith(("slack_", "reserve_spent"))
