"""A run as a recording that anybody can replay, and such a recording as a run again.

The header carries, beside what the format asks, the plan's text (`plan_text`) and when each event arrived (`arrived`,
by id, in the order of arrival). Every reader of the format passes over both.
"""

import json
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import NamedTuple

from server.review.account import Account, Observed
from server.timeline.events import (
    FORMAT,
    EventFault,
    Recording,
    RecordingFault,
    Rejected,
    json_from_event,
    read_recording,
    rfc3339,
    time_from_rfc3339,
)
from server.timeline.plan import Plan

_MICROSECOND = timedelta(microseconds=1)


class Recorded(NamedTuple):
    """A recording as a run: its account, whether it says when events arrived, and the lines that were not taken."""

    account: Account
    keeps_arrivals: bool
    rejected: tuple[Rejected, ...]


def text_from_account(account: Account, plan_name: str, plan_text: str) -> str:
    """Write a run as a recording, a line an event in the order of arrival."""
    arrived = {one.event.id: rfc3339(account.arrived(one)) for one in account.observed}
    header = {"format": FORMAT, "plan": plan_name, "plan_text": plan_text, "arrived": arrived}
    lines = [header, *(json_from_event(one.event) for one in account.observed)]
    return "".join(json.dumps(line, ensure_ascii=False) + "\n" for line in lines)


def plan_in_header(lines: Iterable[str | bytes]) -> tuple[str, str] | None:
    """The name and the text of the plan that a recording carries; None where it carries none."""
    first = next((line for line in lines if line.strip()), b"")
    try:
        header = json.loads(first)
    except (ValueError, RecursionError):
        return None
    text = header.get("plan_text") if isinstance(header, dict) else None
    if not isinstance(text, str):
        return None
    name = header.get("plan")
    return name if isinstance(name, str) else "plan.plan.toml", text


def recorded_from_lines(lines: Iterable[str | bytes], plan: Plan, name: str) -> Recorded:
    """Read a recording as a run; `name` is what messages call it. Raises RecordingFault for another format."""
    recording = read_recording(lines, plan, name)
    try:
        arrived = _arrivals(recording.header)
    except EventFault as fault:
        rejected = (Rejected(1, f"arrived: {fault}; times of arrival are left out"), *recording.rejected)
        return Recorded(_account(plan, recording, {}), False, rejected)
    return Recorded(_account(plan, recording, arrived), bool(arrived), tuple(recording.rejected))


def _account(plan: Plan, recording: Recording, arrived: Mapping[str, datetime]) -> Account:
    order = {id_: place for place, id_ in enumerate(arrived)}
    events = sorted(recording.events, key=lambda event: order.get(event.id, len(order)))
    observed = [
        Observed(seq, event, (arrived.get(event.id, event.t) - plan.zero) // _MICROSECOND)
        for seq, event in enumerate(events, 1)
    ]
    return Account(plan, observed)


def _arrivals(header: Mapping[str, object]) -> dict[str, datetime]:
    """When each event arrived, by id, as a header says. Raises EventFault."""
    given = header.get("arrived")
    if given is None:
        return {}
    if not isinstance(given, dict):
        raise EventFault("found no object; accepted the time of arrival of each event, by its id")
    return {str(id_): _time(at) for id_, at in given.items()}


def _time(value: object) -> datetime:
    if not isinstance(value, str):
        raise EventFault(f"found {value!r}; accepted times as RFC 3339")
    return time_from_rfc3339(value)


__all__ = ["Recorded", "RecordingFault", "plan_in_header", "recorded_from_lines", "text_from_account"]
