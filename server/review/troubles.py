"""What went wrong in a run: a trouble for each first-out alarm with all that came of it, and the stops of the chain."""

from collections.abc import Container, Iterable, Sequence
from typing import Final, NamedTuple

from server.review.alarm_spans import AlarmSpan
from server.review.walk import Walk
from server.timeline.alarm_kinds import ALARM_KINDS, OF_LINKS
from server.timeline.estimate import US_PER_S
from server.timeline.events import Event, at_us
from server.timeline.people import HOLD_ASKED, HOUSE_REPORT
from server.timeline.plan import Plan
from server.timeline.view import Level, Phase

_RUNS: Final[frozenset[Phase]] = frozenset({"rolling", "showing", "tail"})
_TOGETHER_US: Final = 60 * US_PER_S  # chosen: stops of the chain that are no further apart are one that was told twice
_AT_ONE_TIME_US: Final = 10 * US_PER_S  # chosen: what came alike within it had one reason, or is told as if it had
_ADOPTS_US: Final = 2 * US_PER_S  # as `server.timeline.alarms`: what was told moments before its cause
_AT_ONCE_US: Final = 2 * US_PER_S  # chosen: an alarm that a stop of the chain ends is over about when it stops
_STOPPED_HARM: Final = ALARM_KINDS["motor_lost"].harm


class Stop(NamedTuple):
    """A stop of the chain with film in it: the stations, by their indices, who did it, and when it went on, if it did.

    `at_us` and `again_us` are in microseconds after the plan's zero.
    """

    at_us: int
    stations: tuple[int, ...]
    by: str | None
    again_us: int | None


class Trouble(NamedTuple):
    """What went wrong at one place, or alike at several: `told` are its own alarms, `brought` what followed from them.

    A stop of the chain that was made for it is its `stop`; one that stands for itself is a trouble without alarms.
    """

    told: tuple[AlarmSpan, ...]
    brought: tuple[AlarmSpan, ...] = ()
    stop: Stop | None = None

    @property
    def subjects(self) -> tuple[str, ...]:
        """What its own alarms are about, each once, in order of time."""
        return tuple(dict.fromkeys(one.subject for one in self.told))

    @property
    def at_us(self) -> int:
        """When it came true, which may be some seconds before it was told."""
        return self.told[0].since_us if self.told or self.stop is None else self.stop.at_us

    @property
    def level(self) -> Level:
        """The highest of its own alarms; a stop of the chain is an act."""
        return "act" if not self.told or any(one.level == "act" for one in self.told) else "watch"

    @property
    def over_us(self) -> int | None:
        """When the last of its own alarms was over; None where one never was."""
        over = [one.over_us for one in self.told]
        return None if not over or None in over else max(us for us in over if us is not None)

    @property
    def rank(self) -> tuple[bool, int, int]:
        """What is told first of all where not all can be told: the least."""
        harms = [ALARM_KINDS[one.kind].harm for one in (*self.told, *self.brought)]
        return self.level != "act", min([*harms, _STOPPED_HARM] if self.stop else harms), self.at_us


def troubles_of(plan: Plan, walk: Walk, standing: Sequence[Event]) -> list[Trouble]:
    """Every trouble of a run in order of time; notes, and what people said to one another, are none."""
    groups: dict[tuple[str, str], tuple[list[AlarmSpan], list[AlarmSpan]]] = {}
    for one in walk.spans:
        first = _first_out(one, walk.spans)
        own, brought = groups.setdefault(_family(first), ([], []))
        (own if one is first else brought).append(one)
    found = [Trouble(tuple(own), tuple(brought)) for own, brought in groups.values() if own and _is_trouble(own[0])]
    return sorted(_with_stops(found, stops_of(plan, walk, standing)), key=lambda one: one.at_us)


def alike_together(troubles: Iterable[Trouble], kinds: Container[str]) -> list[Trouble]:
    """Troubles in order of time, those of one of `kinds` that came at several places at once as one."""
    found: list[Trouble] = []
    for trouble in troubles:
        like = next((i for i, one in enumerate(found) if _is_alike(one, trouble, kinds)), None)
        if like is None:
            found.append(trouble)
        else:
            one = found[like]
            found[like] = Trouble((*one.told, *trouble.told), (*one.brought, *trouble.brought))
    return found


def _is_alike(one: Trouble, later: Trouble, kinds: Container[str]) -> bool:
    is_told_once = len(one.told) == len(one.subjects) and len(later.told) == 1
    if not is_told_once or not one.told or one.stop or later.stop or one.told[0].kind not in kinds:
        return False
    is_one_kind = (one.told[0].kind, one.level) == (later.told[0].kind, later.level)
    return is_one_kind and later.at_us - one.at_us <= _AT_ONE_TIME_US


def _family(first: AlarmSpan) -> tuple[str, str]:
    """What is one trouble however often it is told: a link's slack, or a kind of alarm at one place."""
    return ("slack" if first.kind in OF_LINKS else first.kind), first.subject


def _first_out(one: AlarmSpan, spans: Sequence[AlarmSpan]) -> AlarmSpan:
    """The alarm that one follows from, and that from none."""
    seen = {id(one)}
    while (above := _above(one, spans)) is not None and id(above) not in seen:
        one = above
        seen.add(id(one))
    return one


def _above(one: AlarmSpan, spans: Sequence[AlarmSpan]) -> AlarmSpan | None:
    if one.under is None:
        return None
    over = (
        cause
        for cause in reversed(spans)
        if cause.key == one.under
        and cause.told_us <= one.told_us + _ADOPTS_US
        and (cause.over_us is None or cause.over_us >= one.told_us)
    )
    return next(over, None)


def _is_trouble(first: AlarmSpan) -> bool:
    if first.level == "note" or first.kind == "call" or first.alone_us is None:
        return False
    return not (first.kind == HOUSE_REPORT and HOLD_ASKED in first.text)


def stops_of(plan: Plan, walk: Walk, standing: Sequence[Event]) -> list[Stop]:
    """The stops of the chain with film in it, in order of time; what is told of one twice is one."""
    stops: list[Stop] = []
    for halt in walk.halts:
        last = stops[-1] if stops else None
        if last is None or halt.at_us - last.at_us > _TOGETHER_US:
            by = next((e.by for e in standing if e.kind == "chain_stop" and _is_near(e, plan, halt.at_us)), None)
            again_us = _again_us(walk, halt.at_us, halt.stations)
            stops.append(Stop(halt.at_us, halt.stations, by, again_us))
        else:
            stations = tuple(sorted({*last.stations, *halt.stations}))
            stops[-1] = last._replace(stations=stations, again_us=_again_us(walk, last.at_us, stations))
    return stops


def _is_near(event: Event, plan: Plan, at: int) -> bool:
    return abs(at_us(event, plan) - at) <= _TOGETHER_US


def _again_us(walk: Walk, at: int, stations: Iterable[int]) -> int | None:
    """When the first of these stations went on after a stop."""
    stood = set(stations)
    return next((us for us, k, phase in walk.phases if us > at and k in stood and phase in _RUNS), None)


def _with_stops(found: Sequence[Trouble], stops: Iterable[Stop]) -> list[Trouble]:
    """Put each stop to the trouble that it was made for, else by itself; film that then stood in the light is of it."""
    told = list(found)
    for stop in stops:
        lit = [one for one in told if one.told and one.told[0].kind == "film_heat" and _stood_in(stop, one.at_us)]
        told = [one for one in told if one not in lit]
        on = [one for one in told if one.stop is None and one.told and _is_on(one, stop.at_us)]
        cause = max(on, key=lambda one: one.at_us, default=Trouble((), stop=stop))
        told = [one for one in told if one is not cause]
        heats = (span for one in lit for span in (*one.told, *one.brought))
        told.append(cause._replace(stop=stop, brought=(*cause.brought, *heats)))
    return told


def _stood_in(stop: Stop, at: int) -> bool:
    return stop.at_us - _AT_ONCE_US <= at and (stop.again_us is None or at <= stop.again_us)


def _is_on(trouble: Trouble, at: int) -> bool:
    """Whether one of the alarms of a trouble called for somebody to act as the chain was stopped."""
    return any(
        one.act_us is not None
        and one.act_us <= at + _AT_ONCE_US
        and (one.over_us is None or one.over_us >= at - _AT_ONCE_US)
        for one in (*trouble.told, *trouble.brought)
    )
