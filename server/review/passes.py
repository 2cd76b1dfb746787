"""Every mark at every gate: as planned, as expected, as observed."""

from collections.abc import Iterator
from typing import NamedTuple

from server.review.account import Account
from server.review.walk import Walk
from server.timeline.events import Event, at_us
from server.timeline.schedule import schedule_from_plan


class Pass(NamedTuple):
    """One mark at one gate, in microseconds after the plan's zero.

    `expected_us` and `expected_sd_s` are what the estimate said just before it was seen, or at the last where it was
    not. None where the film was never on its way. `observed_us` is None where nobody saw it; `believed` is false for
    what did not fit.
    """

    station: str
    mark: str
    planned_us: int
    expected_us: int | None
    expected_sd_s: float | None
    observed_us: int | None
    believed: bool


def passes_of(account: Account, walk: Walk) -> list[Pass]:
    """Every mark at every gate, by station in film order, then along the print."""
    return list(_passes(account, walk))


def _passes(account: Account, walk: Walk) -> Iterator[Pass]:
    plan = account.plan
    seen = _first_seen(account)
    for k, times in enumerate(schedule_from_plan(plan).stations):
        believed = walk.final.evidence.stations[k].passes
        for mark in plan.marks:
            expected = walk.expected.get((k, mark.id))
            yield Pass(
                station=times.id,
                mark=mark.id,
                planned_us=round(times.passes[mark.id] * 1e6),
                expected_us=expected and expected.at_us,
                expected_sd_s=expected and expected.sd_s,
                observed_us=believed.get(mark.id, seen.get((times.id, mark.id))),
                believed=mark.id in believed,
            )


def seen_passes_of(account: Account) -> list[Pass]:
    """The same before the run was gone through: as planned and as told, with nothing expected and nothing doubted."""
    plan = account.plan
    seen = _first_seen(account)
    alike = {mark.id: [other.id for other in plan.marks if other.x_s == mark.x_s] for mark in plan.marks}
    return [
        Pass(
            station=times.id,
            mark=mark.id,
            planned_us=round(times.passes[mark.id] * 1e6),
            expected_us=None,
            expected_sd_s=None,
            observed_us=min((seen[times.id, id_] for id_ in alike[mark.id] if (times.id, id_) in seen), default=None),
            believed=any((times.id, id_) in seen for id_ in alike[mark.id]),
        )
        for times in schedule_from_plan(plan).stations
        for mark in plan.marks
    ]


def _first_seen(account: Account) -> dict[tuple[str, str], int]:
    """When each pass was first told of, whether or not it was believed."""
    seen: dict[tuple[str, str], int] = {}
    for event in account.standing:
        if event.kind == "mark_pass":
            seen.setdefault(_place(event), at_us(event, account.plan))
    return seen


def _place(event: Event) -> tuple[str, str]:
    return event.station or "", event.mark or ""
