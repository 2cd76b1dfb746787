"""What is found wrong with a plan, or worth knowing of it, each with its cause and what mends it."""

from collections.abc import Iterable
from typing import Final, Literal, NamedTuple

from server.timeline.plan import Plan
from server.timeline.schedule import house_clock

Level = Literal["fault", "warning", "note"]
_LEVELS: Final[tuple[Level, ...]] = ("fault", "warning", "note")

THE_CHAIN: Final = "the chain"
THE_CREW: Final = "the crew"


class Finding(NamedTuple):
    """One thing about a plan: a fault cannot work, a warning may not, a note is worth knowing.

    `about` is what people call it: "House 4", "House 4 to 6", "the chain", "the crew". `stations` are the ids behind
    it, in film order, for programs. `text`, `cause` and `remedy` are whole sentences, each in words of its own.
    """

    code: str
    level: Level
    about: str
    stations: tuple[str, ...]
    text: str
    cause: str
    remedy: str


def gravest_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return faults, warnings and notes, in that order; those of one level stay as they are."""
    return tuple(sorted(findings, key=lambda finding: _LEVELS.index(finding.level)))


def clock_text(plan: Plan, seconds: float) -> str:
    """Say the house's clock, to the nearest second, with its date where that is not the day of `motors_at`."""
    moment = house_clock(plan, round(seconds))
    if moment.date() == house_clock(plan, 0.0).date():
        return f"{moment:%H:%M:%S}"
    return f"{moment:%H:%M:%S} on {moment:%Y-%m-%d}"


def span_text(seconds: float) -> str:
    """Say a length of time, no finer than matters: seconds under two minutes, else minutes, else hours."""
    if seconds < 120.0:
        return f"{seconds:.0f} s" if seconds >= 10.0 else f"{seconds:.1f} s"
    minutes = seconds / 60.0
    if minutes < 10.0:
        return f"{minutes:.1f} minutes"
    return f"{minutes:.0f} minutes" if minutes < 120.0 else f"{minutes / 60.0:.1f} hours"
