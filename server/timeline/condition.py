"""One condition that calls for an alarm, as levels over the time to come."""

from collections.abc import Iterator
from typing import NamedTuple

from server.timeline.estimate import US_PER_S
from server.timeline.steps import Steps, level_at, until
from server.timeline.view import Level

RANK: dict[Level, int] = {"note": 0, "watch": 1, "act": 2}


class Condition(NamedTuple):
    """One alarm that may be on now or later.

    It turns on, or rises, to the level of `on`; it stays on, or falls, by the level of `stay`. `causes` are the keys
    that it would follow from, the deepest first; `blocked_by` keys keep it from turning on while they are at `act`,
    and those it `replaces` are not on at all while it is. `since_us` dates the alarm where its condition is older than
    its being known. `todo` is what a person does about it, where that is not the same for every alarm of the kind.
    `text_from` are an instant and the text from then on, which is one of the edges of `stay`. `anew` is whether one
    that is dated later calls again, though somebody has acknowledged what was there before.
    """

    kind: str
    subject: str
    on: Steps
    stay: Steps
    text: str
    causes: tuple[str, ...] = ()
    blocked_by: tuple[str, ...] = ()
    since_us: int | None = None
    replaces: tuple[str, ...] = ()
    todo: str = ""
    text_from: tuple[int, str] | None = None
    anew: bool = False

    @property
    def key(self) -> str:
        return f"{self.kind}:{self.subject}"

    def text_at(self, at_us: int) -> str:
        """What it says at an instant."""
        return self.text if self.text_from is None or at_us < self.text_from[0] else self.text_from[1]


def us_from_s(seconds: float) -> int:
    """Return whole microseconds."""
    return round(seconds * US_PER_S)


def steady(at_us: int, level: Level) -> Steps:
    """Return a level that holds from an instant on."""
    return ((at_us, level),)


def without_wait(condition: Condition) -> Condition:
    """Return one that waits for what may explain it as on from its `since_us`, if it has one, to where it ends."""
    if condition.since_us is None:
        return condition
    ends_us = min((at_us for at_us, level in condition.on if level is None), default=None)
    return condition._replace(on=until(steady(condition.since_us, "act"), ends_us))


def edges_of(conditions: tuple[Condition, ...]) -> Iterator[int]:
    """The instants at which any condition may change of itself."""
    for condition in conditions:
        for steps in (condition.on, condition.stay):
            yield from (at_us for at_us, _ in steps)


def wanted_level(condition: Condition, current: Level | None, at_us: int, *, blocked: bool) -> Level | None:
    """Return the level an alarm goes to: as high as the condition turns on, or as high as it is still held."""
    on = None if blocked else level_at(condition.on, at_us)
    stay = level_at(condition.stay, at_us)
    return max(on, min(current, stay, key=_rank), key=_rank)


def _rank(level: Level | None) -> int:
    return -1 if level is None else RANK[level]
