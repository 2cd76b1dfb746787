"""Figures of the alarms of a run, as ANSI/ISA-18.2 counts them.

Alarms that people were told of are counted; what was put under a first-out alarm was not told. A flood begins with
more than 10 alarms in 10 minutes and ends at under 5 in 10 minutes, 3 or more of one alarm in a minute are chattering,
and an operator can take about 6 an hour, 12 at most (ANSI/ISA-18.2-2016, 16.4, second hand).
"""

from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Sequence
from statistics import median
from typing import Final, NamedTuple, get_args

from server.review.account import Span
from server.review.alarm_spans import AlarmSpan
from server.review.tables import Column, Table, rounded, table
from server.timeline.estimate import US_PER_S
from server.timeline.naming import alarm_of
from server.timeline.plan import Plan
from server.timeline.view import Level

_WINDOW_US: Final = 600 * US_PER_S
_FLOOD_OVER: Final = 10
_FLOOD_ENDS_UNDER: Final = 5
_CHATTER: Final = 3
_CHATTER_US: Final = 60 * US_PER_S
_STALE_US: Final = 24 * 3600 * US_PER_S  # on for more than a day (ISA-18.2, from memory)
_HOUR_US: Final = 3600 * US_PER_S
_SOURCE: Final = "ISA-18.2"
_SHARES: Final[dict[Level, float]] = {"act": 5.0, "watch": 15.0, "note": 80.0}


class Flood(NamedTuple):
    """A flood of alarms, in microseconds after the plan's zero; `to_us` is when it was over, or the end of the run."""

    from_us: int
    to_us: int
    alarms: int


class Chatter(NamedTuple):
    """An alarm that came three times or more within a minute; `times` in all, `most` in one minute."""

    key: str
    times: int
    most: int


class Figures(NamedTuple):
    """What is counted; `per_hour` is None for a run without length, `seen_after_s` where nothing was acknowledged."""

    told: int
    under_first_out: int
    per_hour: float | None
    most_in_10_min: int
    floods: tuple[Flood, ...]
    chattering: tuple[Chatter, ...]
    levels: dict[Level, int]
    stale: int
    on_at_end: int
    seen: int
    seen_after_s: float | None


def figures_of(spans: Sequence[AlarmSpan], span: Span) -> Figures:
    """Count the alarms of a run that lasted for `span`."""
    told = [one for one in spans if one.alone_us is not None]
    at_us = sorted(one.told_us for one in told)
    hours = (span.to_us - span.from_us) / _HOUR_US
    seen_us = [one.seen_us - one.told_us for one in told if one.seen_us is not None]
    levels = Counter(one.level for one in told)
    return Figures(
        told=len(told),
        under_first_out=len(spans) - len(told),
        per_hour=len(told) / hours if hours else None,
        most_in_10_min=_most_within(at_us, _WINDOW_US),
        floods=tuple(floods_of(at_us, span.to_us)),
        chattering=tuple(_chattering(told)),
        levels={level: levels[level] for level in get_args(Level)},
        stale=sum((one.over_us if one.over_us is not None else span.to_us) - one.told_us > _STALE_US for one in told),
        on_at_end=sum(one.over_us is None for one in told),
        seen=len(seen_us),
        seen_after_s=median(seen_us) / US_PER_S if seen_us else None,
    )


def _most_within(at_us: Sequence[int], window_us: int) -> int:
    """The most instants, in order, within any window; two that are a whole window apart are not in one."""
    return max((i + 1 - bisect_left(at_us, at - window_us + 1) for i, at in enumerate(at_us)), default=0)


def floods_of(at_us: Sequence[int], end_us: int) -> list[Flood]:
    """The floods among alarms told at these instants, in order."""
    floods: list[Flood] = []
    began: int | None = None
    first = 0
    for i, at in enumerate(at_us):
        if began is not None and (over := _over_us(at_us[:i])) <= at:
            floods.append(Flood(began, over, i - first))
            began = None
        start = bisect_left(at_us, at - _WINDOW_US + 1)
        if began is None and i + 1 - start > _FLOOD_OVER:
            began, first = at, start
    if began is not None:
        floods.append(Flood(began, min(_over_us(at_us), max(end_us, began)), len(at_us) - first))
    return floods


def _over_us(at_us: Sequence[int]) -> int:
    """When, with no further alarm, fewer than five are left in the last ten minutes."""
    return at_us[-_FLOOD_ENDS_UNDER] + _WINDOW_US


def _chattering(told: Sequence[AlarmSpan]) -> list[Chatter]:
    by_key: dict[str, list[int]] = defaultdict(list)
    for one in told:
        by_key[one.key].append(one.told_us)
    counted = [Chatter(key, len(at), _most_within(at, _CHATTER_US)) for key, at in by_key.items()]
    return [one for one in counted if one.most >= _CHATTER]


def figures_table(figures: Figures, plan: Plan) -> Table:
    """The figures with what they are held against; the plan says what its alarms are called."""
    columns = (
        Column("figure", "Figure"),
        Column("value", "Value", "number"),
        Column("unit", "Unit"),
        Column("guide", "Held against"),
        Column("source", "Source"),
    )
    share = {level: 100.0 * n / figures.told if figures.told else None for level, n in figures.levels.items()}
    flooded_us = sum(flood.to_us - flood.from_us for flood in figures.floods)
    chattered = "; ".join(f"{alarm_of(plan, one.key)} ({one.times} times)" for one in figures.chattering)
    rows = [
        ("Alarms raised", figures.told, "alarms", None, None),
        ("Put under a first-out alarm", figures.under_first_out, "alarms", None, "ISA-18.1"),
        ("Rate", rounded(figures.per_hour, 2), "an hour", "about 6, at most 12", _SOURCE),
        ("Most in ten minutes", figures.most_in_10_min, "alarms", "10", _SOURCE),
        ("Floods", len(figures.floods), "floods", "over 10 in 10 min, until under 5", _SOURCE),
        ("Time in flood", flooded_us / US_PER_S, "s", None, _SOURCE),
        ("Chattering", len(figures.chattering), "alarms", "3 or more in a minute", _SOURCE),
        *([("Which chattered", None, chattered, None, _SOURCE)] if chattered else []),
        *((f"Share of {x}", rounded(share[x], 1), "percent", f"about {g:g}", _SOURCE) for x, g in _SHARES.items()),
        ("Stale", figures.stale, "alarms", "on for over 24 h", _SOURCE),
        ("Still on at the end", figures.on_at_end, "alarms", None, None),
        ("Seen", figures.seen, "alarms", None, None),
        ("Seen after, median", rounded(figures.seen_after_s, 1), "s", None, None),
    ]
    return table("figures", "Alarm figures", columns, rows)
