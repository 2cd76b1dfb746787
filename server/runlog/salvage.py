"""What can be saved of a damaged log, told apart from what is lost."""

from collections.abc import Iterable
from typing import Any, NamedTuple

from server.runlog.pages import Ahead, Found, Row, found_in
from server.runlog.sums import sum_of
from server.timeline.events import EventFault, event_from_json, time_from_rfc3339

RowDict = dict[str, Any]
_ROLES = frozenset({"booth", "look", "report"})
_HASH = 64
_KEY_OF_EVENT = 3


class Salvage(NamedTuple):
    """The rows of each table that are sound; `numbers` are those of each run's events that there were, lost or not.

    `planless` are the runs of which there are events and no plan any more.
    """

    runs: list[RowDict]
    events: list[RowDict]
    pairings: list[RowDict]
    archived: list[RowDict]
    summaries: list[RowDict]
    losses: list[RowDict]
    numbers: dict[str, int]
    planless: list[str]


def salvage(database: bytes, ahead: Ahead) -> Salvage:
    """Go through every page of a log, of this version or an earlier one, and keep the rows that are sound."""
    found = found_in(database, ahead)
    # A device that was withdrawn could come back, and so all are paired anew: without the list of free pages a page
    # that was let go of is read, and where a frame is damaged, an older copy of the page that it held.
    is_headed = database.startswith(b"SQLite format 3\0")
    runs = {row["id"]: row for row in map(_run, found.rows) if row is not None}
    events = {(row["run"], row["seq"]): row for row in map(_event, found.rows) if row is not None}
    numbers = _numbers(found, events, runs)
    planless = sorted({run for run, _ in events} - set(runs))
    known = {*runs, *planless}
    return Salvage(
        list(runs.values()),
        [events[key] for key in sorted(events)],
        _pairings(found.rows) if is_headed and not ahead.damaged else [],
        _of_runs(map(_archived, found.rows), known, "run"),
        _of_runs(map(_summary, found.rows), known, "run"),
        _of_runs(map(_loss, found.rows), known, "run", "first"),
        {run: last for run, last in numbers.items() if run in known},
        planless,
    )


def _pairings(rows: Iterable[Row]) -> list[RowDict]:
    return list({row["id"]: row for row in map(_pairing, rows) if row is not None}.values())


def _of_runs(rows: Iterable[RowDict | None], known: set[str], *key: str) -> list[RowDict]:
    kept = {tuple(row[part] for part in key): row for row in rows if row is not None and row["run"] in known}
    return list(kept.values())


def _numbers(found: Found, events: dict[tuple[str, int], RowDict], runs: dict[str, RowDict]) -> dict[str, int]:
    """The last number that each run had, by its events and by the index over them, which lies on other pages."""
    numbers: dict[str, int] = {}
    for run, seq in events:
        numbers[run] = max(seq, numbers.get(run, 0))
    keyed = {(key[0], key[1]) for key in found.keys if len(key) == _KEY_OF_EVENT}
    for run in {*runs, *numbers}:
        # A flipped bit can make any number: what the index has is believed as far as it goes on without a gap.
        last = numbers.get(run, 0)
        while (run, last + 1) in keyed:
            last += 1
        numbers[run] = last
    return numbers


def _run(row: Row) -> RowDict | None:
    match row:
        case (str(id_), str(name), str(text), str(created), *rest) if len(rest) <= 1:
            kept = {"id": id_, "plan_name": name, "plan_text": text, "created": created}
            return _summed(kept, rest) if _is_time(created) else None
        case _:
            pass
    return None


def _event(row: Row) -> RowDict | None:
    match row:
        case (str(run), int(seq), str(id_), str(arrived), str(body), *rest) if len(rest) <= 1 and seq > 0:
            kept = {"run": run, "seq": seq, "id": id_, "arrived": arrived, "body": body}
            if not _is_time(arrived):
                return None
            # With a checksum a row is as it was written, also one of a kind that only a later program knows.
            return _summed(kept, rest) if [one for one in rest if one is not None] or _says(body, id_) else None
        case _:
            pass
    return None


def _summed(kept: RowDict, rest: list[Any]) -> RowDict | None:
    """The row with its checksum, which a row of an old log gets now; None where it is not the row's."""
    own = sum_of(*kept.values())
    return kept | {"sum": own} if rest in ([], [None], [own]) else None


def _pairing(row: Row) -> RowDict | None:
    match row:
        case (str(id_), str(name), str(role), str(hashed), str(key), str(created), str(until), withdrawn):
            is_open = withdrawn is None or (isinstance(withdrawn, str) and _is_time(withdrawn))
            if is_open and role in _ROLES and len(hashed) == _HASH and _is_time(created) and _is_time(until):
                names = ("id", "name", "role", "secret_hash", "key_id", "created", "until", "withdrawn")
                return dict(zip(names, (id_, name, role, hashed, key, created, until, withdrawn), strict=True))
        case _:
            pass
    return None


def _archived(row: Row) -> RowDict | None:
    match row:
        case (str(run), str(at), by) if _is_time(at) and (by is None or isinstance(by, str)):
            return {"run": run, "at": at, "by": by}
        case _:
            pass
    return None


def _summary(row: Row) -> RowDict | None:
    match row:
        case (str(run), int(events), str(made_by), str(body)):
            return {"run": run, "events": events, "made_by": made_by, "body": body}
        case _:
            pass
    return None


def _loss(row: Row) -> RowDict | None:
    match row:
        case (str(run), int(first), int(last), str(found), kept) if 0 < first <= last and _is_time(found):
            return {"run": run, "first": first, "last": last, "found": found, "kept": kept}
        case _:
            pass
    return None


def _is_time(text: str) -> bool:
    try:
        time_from_rfc3339(text)
    except EventFault:
        return False
    return True


def _says(body: str, event_id: str) -> bool:
    try:
        return event_from_json(body).id == event_id
    except EventFault:
        return False
