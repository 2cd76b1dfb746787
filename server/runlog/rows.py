"""An event as a row of the log, and the rows of a run that are not there."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from itertools import pairwise
from typing import Any, NamedTuple

import orjson

from server.runlog.sums import sum_of
from server.timeline.events import Event, json_from_event, rfc3339


class Lost(NamedTuple):
    """Events of a run that are not there any more, by number, both included; `kept` is the file that was set aside."""

    first: int
    last: int
    kept: str | None = None


def lost_in_words(lost: Iterable[Lost]) -> str:
    """`events 3 to 8 and event 12`."""
    parts = [f"event {one.first}" if one.first == one.last else f"events {one.first} to {one.last}" for one in lost]
    return " and ".join(part for part in (", ".join(parts[:-1]), *parts[-1:]) if part)


def were_in_words(lost: Sequence[Lost]) -> str:
    """`is` of one event, `are` of more."""
    return "is" if sum(one.last - one.first + 1 for one in lost) == 1 else "are"


def missing_of(numbers: Iterable[int], there_were: int = 0) -> Iterator[Lost]:
    """The stretches that numbers from 1 on leave out, up to the last of them or to `there_were`."""
    known = set(numbers)
    last = max([there_were, *known])
    for before, after in pairwise([0, *sorted(known), last + 1]):
        if after - before > 1:
            yield Lost(before + 1, after - 1)


def row_of(run: str, event: Event, arrived: datetime) -> dict[str, Any]:
    """An event as a row of the log, but for its number and checksum."""
    return {
        "run": run,
        "id": event.id,
        "arrived": rfc3339(arrived),
        "body": orjson.dumps(json_from_event(event)).decode(),
    }


def event_sum(row: Mapping[str, Any]) -> int:
    """The checksum of a row of the table of events."""
    return sum_of(row["run"], row["seq"], row["id"], row["arrived"], row["body"])
