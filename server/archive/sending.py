"""What a site says to the archive, over one connection: each call is part of the caller's transaction."""

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any, Final, NamedTuple

from sqlalchemy import Connection, text

from server.archive.faults import ArchiveFault, told_plainly
from server.archive.place import ArchiveAddress
from server.archive.versions import check_version
from server.review.kept import facts_of, json_from_facts, kept_of
from server.review.library import plan_or_fault
from server.runlog.raw import RawEvent, RawRun, SummaryKey
from server.timeline.events import time_from_rfc3339

CHANGED: Final = "festoon"
"""The channel on which whoever shows live runs hears that something is another (PostgreSQL, "NOTIFY")."""

Json = dict[str, Any]


class Branch(NamedTuple):
    """A run as the archive has it; `events` is the number of its last event there.

    Where a site's log went apart from what it had sent, its run goes on as another branch. `local` is what the site
    calls it, `run` is that with a number. One that is `deleted` is not wanted any more.
    """

    run: str
    local: str
    month: date
    created: str
    events: int
    has_plan: bool
    put_away: tuple[str | None, str | None]
    summary: SummaryKey | None
    deleted: bool


class Sum(NamedTuple):
    """One event of a branch to be held against the archive's own."""

    run: str
    seq: int
    sum: int


class Summed(NamedTuple):
    """A summary as the site's log has it."""

    events: int
    made_by: str
    body: str


class Sender:
    """Writes for one site. Raises what SQLAlchemy raises."""

    def __init__(self, connection: Connection, site: str) -> None:
        """Use `begin`, which finds the site."""
        self._connection = connection
        self.site = site

    @classmethod
    def begin(cls, connection: Connection) -> "Sender":
        """Say hello. Raises ArchiveFault where whoever signed in is no site, or the archive is of another version."""
        check_version(connection)
        site = connection.execute(text("SELECT festoon.my_site()")).scalar_one()
        if site is None:
            raise ArchiveFault("The archive takes what sites send, and this name is none of a site's: ask for its key.")
        return cls(connection, str(site))

    def branches(self, runs: Iterable[str]) -> dict[str, list[Branch]]:
        """All that the archive has of these runs, by what the site calls them, the oldest branch first."""
        found: dict[str, list[Branch]] = {}
        for row in self._ask(_BRANCHES, runs=list(runs)):
            key = None if row.summary_events is None else SummaryKey(row.summary_events, row.made_by, row.length)
            put_away = (row.put_away_at, row.put_away_by)
            own = (row.run, row.local, row.month, row.created, row.events, row.has_plan)
            branch = Branch(*own, put_away, key, row.is_deleted)
            found.setdefault(branch.local, []).append(branch)
        return found

    def same(self, sums: Sequence[Sum]) -> set[str]:
        """The branches of which the archive has this very event, as far as its checksum says."""
        columns = {"runs": [one.run for one in sums], "seqs": [one.seq for one in sums], "sums": [s.sum for s in sums]}
        return {row.run for row in self._ask(_SAME, **columns)}

    def open_month(self, created: str) -> date:
        """The month for a run that was written down then; the caller ends its transaction before anything is sent."""
        opened: date = self._ask("SELECT festoon.open_month(CAST(:day AS date))", day=_day(created)).scalar_one()
        return opened

    def add_run(self, run: RawRun, plan_text: str, number: int, month: date) -> Branch:
        """Begin a branch of a run, the `number`th from 1, in a month that is open."""
        name = run.run if number == 1 else f"{run.run}.{number}"
        put_away = (run.put_away_at, run.put_away_by)
        row = {"run": name, "local": run.run, "month": month, "created": run.created} | _facts(run, plan_text, name)
        self._ask(_ADD_RUN, **row, put_away_at=put_away[0], put_away_by=put_away[1])
        return Branch(name, run.run, month, run.created, 0, bool(plan_text), put_away, None, deleted=False)

    def add_events(self, branch: Branch, events: Sequence[RawEvent]) -> bool:
        """Send what comes next of a branch.

        False where the archive has another event of one of these numbers, or has let go of the run meanwhile.
        """
        columns: dict[str, list[Any]] = {
            "seqs": [event.seq for event in events],
            "arrived": [event.arrived for event in events],
            "bodies": [event.body for event in events],
            "sums": [event.sum for event in events],
        }
        added = self._ask(_ADD_EVENTS, run=branch.run, month=branch.month, **columns).rowcount
        if added < len(events):
            there = self._ask(_SAME_ALL, run=branch.run, month=branch.month, **columns).scalar_one()
            if there < len(events):
                return False
        counted = self._ask(_COUNT, run=branch.run, last=events[-1].seq, arrived=events[-1].arrived).rowcount
        return bool(added == 0 or counted == 1)

    def put_plan(self, branch: Branch, run: RawRun, plan_text: str) -> None:
        """Give a run the plan that damage had taken from its site."""
        self._ask(_PLAN, run=branch.run, **_facts(run, plan_text, branch.run))

    def put_away(self, branch: Branch, at: str | None, by: str | None) -> None:
        """Say that a run is put away, or, with None, that it is back."""
        self._ask(_PUT_AWAY, run=branch.run, at=at, by=by)

    def put_summary(self, branch: Branch, summary: Summed) -> None:
        """Send what was counted of a run."""
        self._ask(_SUMMARY, run=branch.run, **summary._asdict())
        kept = kept_of(summary, summary.events)
        told = {
            "trouble": None if kept.trouble is None else json.dumps(dict(kept.trouble)),
            "state": kept.story and kept.story["state"],
            "damaged": kept.damaged,
        }
        self._ask(_TOLD, run=branch.run, events=summary.events, **told)

    def show(self, pictures: Mapping[str, Json], gone: Iterable[str]) -> None:
        """Say how live runs stand, by branch, and which are live no more; whoever shows them is told."""
        for run, picture in pictures.items():
            self._ask(_SHOW, run=run, body=json.dumps(picture))
        self._ask(_GONE, runs=list(gone))
        self._connection.execute(text("SELECT pg_notify(:channel, '')"), {"channel": CHANGED})

    def shown(self) -> list[str]:
        """The branches that the archive takes for live."""
        return [row.run for row in self._ask("SELECT run FROM festoon.pictures WHERE site = :site")]

    def hear(self, waiting: int) -> None:
        """Say that the site is there, and how many events wait."""
        self._ask(_HEAR, waiting=waiting)

    def _ask(self, statement: str, **values: Any) -> Any:  # noqa: ANN401 - rows are as the statement names them
        return self._connection.execute(text(statement), {"site": self.site} | values)


def site_at(address: ArchiveAddress) -> str:
    """What the archive at an address calls whoever signs in. Raises ArchiveFault, also where that is no site."""
    engine = address.engine("doctor")
    try:
        with told_plainly(str(address)), engine.connect() as connection:
            return Sender.begin(connection).site
    finally:
        engine.dispose()


def _day(created: str) -> date:
    return time_from_rfc3339(created).date()


def _facts(run: RawRun, plan_text: str, name: str) -> Json:
    """What the archive's list says of a run, and looks in, beside its plan."""
    plan, fault = plan_or_fault(plan_text, run.plan_name)
    facts = facts_of(plan) if plan else None
    said = json_from_facts(facts)
    title, house_site = (facts.title, facts.site or "") if facts else ("", "")
    return {
        "plan_name": run.plan_name,
        "plan_text": plan_text,
        "sum": run.sum,
        "day": facts.day if facts else _day(run.created),
        "words": f"{name}\n{title}\n{house_site}\n{run.plan_name}".casefold(),
        "plan_words": f"{title}\n{run.plan_name}".casefold(),
        "houses": list(facts.houses) if facts else [],
        "facts": None if said is None else json.dumps(said),
        "fault": fault,
    }


_PUT_AWAY = "UPDATE festoon.runs SET put_away_at = :at, put_away_by = :by WHERE site = :site AND run = :run"
_GONE = "SELECT festoon.end_pictures(CAST(:runs AS text[]))"
_BRANCHES = """
SELECT run, local, month, created, runs.events, plan_text <> '' AS has_plan, put_away_at, put_away_by,
    deleted IS NOT NULL AS is_deleted,
    kept.events AS summary_events, kept.made_by, length(kept.body) AS length
FROM festoon.runs LEFT JOIN festoon.summaries kept USING (site, run)
WHERE site = :site AND local = ANY (CAST(:runs AS text[])) ORDER BY local, length(run), run
"""
_SAME = """
SELECT one.run FROM unnest(CAST(:runs AS text[]), CAST(:seqs AS integer[]), CAST(:sums AS bigint[])) one (run, seq, sum)
JOIN festoon.runs ON runs.site = :site AND runs.run = one.run
JOIN festoon.events there
    ON there.site = :site AND there.run = one.run AND there.month = runs.month AND there.seq = one.seq
WHERE there.sum = one.sum
"""
_ADD_EVENTS = """
INSERT INTO festoon.events (site, run, month, seq, arrived, body, sum)
SELECT :site, :run, CAST(:month AS date), coming.*
FROM unnest(CAST(:seqs AS integer[]), CAST(:arrived AS text[]), CAST(:bodies AS text[]), CAST(:sums AS bigint[]))
    AS coming (seq, arrived, body, sum)
ON CONFLICT DO NOTHING
"""
_SAME_ALL = """
SELECT count(*)
FROM unnest(CAST(:seqs AS integer[]), CAST(:arrived AS text[]), CAST(:bodies AS text[]), CAST(:sums AS bigint[]))
    AS coming (seq, arrived, body, sum)
JOIN festoon.events there
    ON there.site = :site AND there.run = :run AND there.month = :month AND there.seq = coming.seq
    AND there.arrived = coming.arrived AND there.body = coming.body AND there.sum = coming.sum
"""
_COUNT = """
UPDATE festoon.runs SET events = :last, last_arrived = :arrived, trouble = NULL, state = NULL
WHERE site = :site AND run = :run AND events < :last AND deleted IS NULL
"""
_ADD_RUN = """
INSERT INTO festoon.runs (site, run, local, month, plan_name, plan_text, created, sum, day, words, plan_words, houses,
    facts, fault, put_away_at, put_away_by)
VALUES (:site, :run, :local, :month, :plan_name, :plan_text, :created, :sum, :day, :words, :plan_words, :houses,
    CAST(:facts AS jsonb), :fault, :put_away_at, :put_away_by)
ON CONFLICT DO NOTHING
"""
_PLAN = """
UPDATE festoon.runs SET plan_name = :plan_name, plan_text = :plan_text, sum = :sum, day = :day, words = :words,
    plan_words = :plan_words, houses = :houses, facts = CAST(:facts AS jsonb), fault = :fault
WHERE site = :site AND run = :run
"""
_SUMMARY = """
INSERT INTO festoon.summaries (site, run, events, made_by, body) VALUES (:site, :run, :events, :made_by, :body)
ON CONFLICT (site, run) DO UPDATE SET events = :events, made_by = :made_by, body = :body
"""
_TOLD = """
UPDATE festoon.runs SET trouble = CAST(:trouble AS jsonb), state = :state, damaged = :damaged
WHERE site = :site AND run = :run AND events = :events
"""
_SHOW = """
INSERT INTO festoon.pictures (site, run, at, body) VALUES (:site, :run, now(), CAST(:body AS jsonb))
ON CONFLICT (site, run) DO UPDATE SET at = now(), body = excluded.body
"""
_HEAR = """
INSERT INTO festoon.heard (site, at, waiting) VALUES (:site, now(), :waiting)
ON CONFLICT (site) DO UPDATE SET at = now(), waiting = :waiting
"""
