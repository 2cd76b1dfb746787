"""What a run left behind, and the two ways to look back at it: as it is known now, and as it was known then."""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from functools import cached_property
from typing import Literal, NamedTuple, Protocol

from server.timeline.estimate import US_PER_S
from server.timeline.event_kinds import EVENT_KINDS
from server.timeline.events import Event, at_us, order_key
from server.timeline.plan import Plan

Clock = Literal["now", "then"]
"""`now`: all that is known today, so that what was retracted never was. `then`: only what had arrived by the time."""

CORRECTION = ":debrief"
"""How the source of an event ends that was added afterwards, `tap:debrief` or `recording:debrief`."""

# chosen: an alarm may be acknowledged, a note be written and a tap come in this long after the film last did anything
_AFTERWARDS_US = 600 * US_PER_S
_MICROSECOND = timedelta(microseconds=1)


class Observed(NamedTuple):
    """One event of a run: `seq` is its place in the order of arrival, `arrived_us` counts from the plan's zero."""

    seq: int
    event: Event
    arrived_us: int


class Stored(Protocol):
    """One event as a log gives it back."""

    @property
    def seq(self) -> int: ...
    @property
    def event(self) -> Event: ...
    @property
    def arrived(self) -> datetime: ...


class Arrival(NamedTuple):
    """An event, and when it became known to whoever looks back by a clock."""

    at_us: int
    event: Event


class Span(NamedTuple):
    """From the first thing that happened, or the planned start if earlier, to the last."""

    from_us: int
    to_us: int


def account_from_log(plan: Plan, stored: Iterable[Stored], until_us: int | None = None) -> "Account":
    """The account of a run of the log; `until_us` as of `Account`."""
    observed = [Observed(one.seq, one.event, (one.arrived - plan.zero) // _MICROSECOND) for one in stored]
    return Account(plan, observed, until_us)


class Account:
    """A plan and everything observed in one performance of it, in order of arrival.

    `until_us` is when it ended, where that is known: time alone may have brought something after the last event.
    """

    def __init__(self, plan: Plan, observed: Sequence[Observed], until_us: int | None = None) -> None:
        self.plan = plan
        self._until_us = until_us
        self.observed = tuple(sorted(observed, key=lambda one: one.seq))

    def arrived(self, one: Observed) -> datetime:
        """When an event was taken."""
        return self.plan.zero + one.arrived_us * _MICROSECOND

    @cached_property
    def by_id(self) -> dict[str, Event]:
        """Every event by its id, those that did not happen too."""
        return {one.event.id: one.event for one in self.observed}

    @cached_property
    def retracted(self) -> dict[str, str]:
        """The ids of the events that did not happen, each with the id of the retraction that says so."""
        found: dict[str, str] = {}
        for event in reversed(self._in_order):
            if event.kind == "retract" and event.retracts is not None and event.id not in found:
                found.setdefault(event.retracts, event.id)
        return found

    @cached_property
    def _in_order(self) -> list[Event]:
        return sorted((one.event for one in self.observed), key=lambda event: order_key(event, self.plan))

    @cached_property
    def standing(self) -> tuple[Event, ...]:
        """The events that did happen, in order of time, without retractions."""
        return tuple(e for e in self._in_order if e.kind != "retract" and e.id not in self.retracted)

    @cached_property
    def span(self) -> Span:
        """What there is to look at; zero long where nothing happened.

        It ends when the last event had come in, but waits for none that came long afterwards.
        """
        facts = [at_us(event, self.plan) for event in self.standing if EVENT_KINDS[event.kind].of_film]
        if not facts:
            return Span(0, 0)
        last = max(facts)
        in_show = [one for one in self.observed if not one.event.source.endswith(CORRECTION)]
        known = [at for one in in_show for at in (at_us(one.event, self.plan), one.arrived_us)]
        to_us = max([last, *(at for at in known if at <= last + _AFTERWARDS_US)])
        return Span(min(0, *facts), to_us if self._until_us is None else self._until_us)

    def arrivals(self, clock: Clock) -> list[Arrival]:
        """Every event in the order in which it became known by that clock."""
        if clock == "now":
            return [Arrival(at_us(event, self.plan), event) for event in self.standing]
        return sorted((Arrival(one.arrived_us, one.event) for one in self.observed), key=lambda known: known.at_us)
