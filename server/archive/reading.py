"""The runs of all sites as whoever signed in may read them: what a debrief needs of a log, and the library by pages."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, time
from typing import Any, Final, NamedTuple, get_args

from sqlalchemy import Connection, Row, text

from server.archive.faults import ArchiveFault, told_plainly
from server.archive.place import archive_address
from server.archive.versions import check_version
from server.desk.library import Found, Page, PageFault
from server.review.kept import Facts, facts_from_json
from server.review.library import LibraryLine, Wanted
from server.review.story import RunState
from server.runlog import Archived, Extent, StoredEvent, StoredRun, Summary
from server.runlog.rows import lost_in_words, missing_of, were_in_words
from server.timeline.events import EventFault, event_from_json, time_from_rfc3339

ANSWER_MS: Final = 30_000
"""What takes the database longer is not waited for. Chosen."""

UNREAD: Final = "This Festoon cannot read what the site wrote of this run."

NO_READER: Final = "This address is none of a reader's: `festoon archive reader add NAME` gives one."

BETWEEN: Final = ":"
"""Stands between the site and the run in what a run of the archive is called here; no site has it in its name."""


class Named(NamedTuple):
    """A run of the archive, by its site."""

    site: str
    run: str


class Heard(NamedTuple):
    """When the site of a live run was last heard of, by the archive's clock; `is_silent` where that is too long ago."""

    at: datetime
    is_silent: bool


class ArchivedRuns:
    """Reads an archive; every method may be called from any thread, and raises ArchiveFault.

    A run is called `SITE:RUN` here. One that nobody may read is as one that is not there.
    """

    def __init__(self, whole_address: str, program: str = "archive") -> None:
        address = archive_address(whole_address)
        self.place = str(address)
        self._engine = address.engine(program, pool_size=4, max_overflow=4, pool_pre_ping=True)

    @classmethod
    def reading(cls, whole_address: str) -> "ArchivedRuns":
        """Read the archive at an address, its key in it. Raises ArchiveFault where that cannot be."""
        found = cls(whole_address)
        try:
            with found.connected() as connection:
                check_version(connection)
                _check_reader(connection)
        except ArchiveFault:
            found.close()
            raise
        return found

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    @contextmanager
    def connected(self) -> Iterator[Connection]:
        """A connection that only reads, and is not waited for without end."""
        with told_plainly(self.place), self._engine.connect() as connection:
            connection.execute(text("SET TRANSACTION READ ONLY"))
            connection.execute(text(f"SET LOCAL statement_timeout = {ANSWER_MS}"))
            yield connection

    def run(self, run_id: str) -> StoredRun | None:
        """One run; None where the archive has none of that name, or let go of it."""
        row = self._of(_RUN, run_id)
        if row is None:
            return None
        return StoredRun(run_id, row.plan_name, row.plan_text, time_from_rfc3339(row.created))

    def events(self, run_id: str) -> list[StoredEvent]:
        """The events of a run that this program can read, in the order in which its site took them in."""
        return [one for one in self._events(run_id) if isinstance(one, StoredEvent)]

    def extent(self, run_id: str) -> Extent:
        """How much one run holds."""
        row = self._of(_EXTENT, run_id)
        if row is None or row.last_arrived is None:
            return Extent(0, None)
        return Extent(row.events, time_from_rfc3339(row.last_arrived))

    def lacking(self, run_id: str) -> list[str]:
        """What a run lacks that is read from here, in sentences."""
        read = self._events(run_id)
        lost = list(missing_of(number for number, _ in map(_numbered, read)))
        told = [f"Its site's log lost {lost_in_words(lost)}, which {were_in_words(lost)} not here."] if lost else []
        return told + [
            f"Event {number} is left out: this Festoon cannot read it ({why})."
            for number, why in map(_numbered, read)
            if why is not None
        ]

    def put_away(self, run_id: str) -> Archived | None:
        """When its site put a run away; None where it did not."""
        row = self._of(_PUT_AWAY, run_id)
        return None if row is None else Archived(time_from_rfc3339(row.put_away_at), row.put_away_by)

    def heard(self, run_id: str) -> Heard | None:
        """When the site of a live run was last heard of; None where the run is not live there."""
        row = self._of(_HEARD, run_id)
        return None if row is None else Heard(row.at, row.is_silent)

    def summary(self, run_id: str) -> Summary | None:
        """What its site counted of a run."""
        row = self._of(_SUMMARY, run_id)
        return None if row is None else Summary(row.events, row.made_by, row.body)

    def find(self, wanted: Wanted, page: Page) -> Found:
        """One page of the runs that are looked for, the newest show first."""
        conditions, values = _conditions(wanted)
        with self.connected() as connection:
            if page.after is not None:
                conditions.append(_AFTER)
                values |= {f"after_{key}": value for key, value in named(page.after)._asdict().items()}
            asked = text(_LINES.format(" AND ".join(conditions)))
            rows = connection.execute(asked, values | {"most": page.most + 1}).all()
        if page.after is not None and not rows and self._of(_EXTENT, page.after) is None:
            raise PageFault(f"after: found {page.after!r}; accepted is the `following` of the page before.")
        lines = [_line(row) for row in rows[: page.most]]
        return Found(lines, lines[-1].run if len(rows) > page.most else None, sites=self.sites())

    def sites(self) -> list[str]:
        """The sites that may be read, by name."""
        with self.connected() as connection:
            return list(connection.execute(text("SELECT name FROM festoon.sites ORDER BY name")).scalars())

    def _of(self, statement: str, run_id: str) -> Row[Any] | None:
        with self.connected() as connection:
            return connection.execute(text(statement), named(run_id)._asdict()).one_or_none()

    def _events(self, run_id: str) -> list["StoredEvent | tuple[int, str]"]:
        with self.connected() as connection:
            rows = connection.execute(text(_EVENTS), named(run_id)._asdict()).all()
        return [_event(row) for row in rows]


def _check_reader(connection: Connection) -> None:
    if not connection.execute(text(_IS_READER)).scalar_one():
        raise ArchiveFault(NO_READER)


def named(run_id: str) -> Named:
    """The site and run of what a run is called here; nothing is called so where there is no site in it.

    Nor with U+0000 in it, which the database takes in no question.
    """
    if "\0" in run_id:
        return Named("", "")
    site, _, run = run_id.partition(BETWEEN)
    return Named(site, run)


def run_id_of(site: str, run: str) -> str:
    """What a run of a site is called here."""
    return f"{site}{BETWEEN}{run}"


def _conditions(wanted: Wanted) -> tuple[list[str], dict[str, Any]]:
    """What rows have to fulfil, as `Wanted.matches` says it of lines."""
    conditions = ["deleted IS NULL"]
    values: dict[str, Any] = {}
    for name, value, condition in (
        ("first_day", wanted.first_day, "day >= :first_day"),
        ("last_day", wanted.last_day, "day <= :last_day"),
        ("text", _pattern(wanted.text), "(words LIKE :text OR site LIKE :text)"),
        ("plan", _pattern(wanted.plan), "plan_words LIKE :plan"),
        ("house", wanted.house, ":house = ANY (houses)"),
        ("at", wanted.at, "site = :at"),
    ):
        if value is not None:
            conditions.append(condition)
            values[name] = value
    if wanted.trouble == "any":
        conditions.append("trouble <> jsonb_build_object()")
    elif wanted.trouble is not None:
        conditions.append("jsonb_exists(trouble, :trouble)")
        values["trouble"] = wanted.trouble
    if wanted.archived is not None:
        conditions.append("put_away_at IS NOT NULL" if wanted.archived else "put_away_at IS NULL")
    return conditions, values


def _pattern(wanted: str | None) -> str | None:
    if wanted is None:
        return None
    plain = wanted.casefold()
    for char in "\\%_":
        plain = plain.replace(char, f"\\{char}")
    return f"%{plain}%"


def _numbered(one: "StoredEvent | tuple[int, str]") -> tuple[int, str | None]:
    return (one.seq, None) if isinstance(one, StoredEvent) else one


def _event(row: Row[Any]) -> "StoredEvent | tuple[int, str]":
    try:
        return StoredEvent(row.seq, event_from_json(row.body), time_from_rfc3339(row.arrived))
    except EventFault as fault:
        return row.seq, str(fault)


def _line(row: Row[Any]) -> LibraryLine:
    """A run for the list; one that this program cannot read says so, and keeps no other from being found."""
    try:
        return _line_read(row)
    except (ValueError, KeyError, TypeError, AttributeError):
        written = datetime.combine(row.day, time(), UTC)
        run = run_id_of(row.site, row.run)
        return LibraryLine(run, row.plan_name, None, UNREAD, written, row.events, None, False, None, None)


def _line_read(row: Row[Any]) -> LibraryLine:
    return LibraryLine(
        run=run_id_of(row.site, row.run),
        plan_name=row.plan_name,
        facts=_facts(row.facts),
        fault=row.fault,
        created=time_from_rfc3339(row.created),
        events=row.events,
        last_arrived=_moment(row.last_arrived),
        live=row.picture is not None,
        archived=None if row.put_away_at is None else (time_from_rfc3339(row.put_away_at), row.put_away_by),
        trouble=_trouble(row.trouble),
        state=row.state if row.picture is None else _state(row.picture.get("state")),
        drill=row.picture is not None and row.picture.get("demo") is True,
        damaged=row.damaged,
        told=row.state is not None,
        silent_since=row.silent_since,
    )


def _trouble(found: dict[str, Any] | None) -> dict[str, int] | None:
    """What a site counted, but for what is no count."""
    return None if found is None else {kind: times for kind, times in found.items() if type(times) is int}


def _facts(found: dict[str, Any] | None) -> Facts | None:
    """What a site wrote of a plan; what this program cannot read of it keeps no other run from being found."""
    try:
        facts = facts_from_json(found)
    except (ValueError, KeyError, TypeError):
        return None
    if facts is None:
        return None
    words = (facts.title, facts.site or "", facts.timezone, *facts.stations, *facts.houses)
    return facts if all(isinstance(word, str) for word in words) else None


def _state(told: object) -> RunState | None:
    """How a site says that its live run stands; None for a word that this program does not know."""
    return next((state for state in get_args(RunState) if state == told), None)


def _moment(told: str | None) -> datetime | None:
    return None if told is None else time_from_rfc3339(told)


# Whoever owns the archive is of every role, and may do everything.
_IS_READER = """
SELECT pg_has_role(session_user, current_database() || '_readers', 'MEMBER')
    AND NOT pg_has_role(session_user, (SELECT nspowner FROM pg_namespace WHERE nspname = 'festoon'), 'MEMBER')
"""
_RUN = """
SELECT plan_name, plan_text, created FROM festoon.runs WHERE site = :site AND run = :run AND deleted IS NULL
"""
_EXTENT = "SELECT events, last_arrived FROM festoon.runs WHERE site = :site AND run = :run"
_PUT_AWAY = """
SELECT put_away_at, put_away_by FROM festoon.runs WHERE site = :site AND run = :run AND put_away_at IS NOT NULL
"""
_SUMMARY = "SELECT events, made_by, body FROM festoon.summaries WHERE site = :site AND run = :run"
_LAST_HEARD = "coalesce(heard.at, pictures.at)"
_IS_SILENT = f"{_LAST_HEARD} < now() - interval '20 s'"
_HEARD = f"""
SELECT {_LAST_HEARD} AS at, {_IS_SILENT} AS is_silent FROM festoon.pictures LEFT JOIN festoon.heard USING (site)
WHERE site = :site AND run = :run
"""  # noqa: S608 - of two constants
_EVENTS = """
SELECT seq, arrived, body FROM festoon.events WHERE site = :site AND run = :run
AND month = (SELECT month FROM festoon.runs WHERE site = :site AND run = :run) ORDER BY seq
"""
# The page is found first: whatever fits is not joined with anything.
_LINES = f"""
SELECT site, run, day, plan_name, facts, fault, created, events, last_arrived, put_away_at, put_away_by, trouble, state,
    damaged, pictures.body AS picture,
    CASE WHEN {_IS_SILENT} THEN {_LAST_HEARD} END AS silent_since
FROM (
    SELECT * FROM festoon.runs WHERE {{}} ORDER BY day DESC, created DESC, site DESC, run DESC LIMIT :most
) found LEFT JOIN festoon.pictures USING (site, run) LEFT JOIN festoon.heard USING (site)
ORDER BY day DESC, created DESC, site DESC, run DESC
"""  # noqa: S608 - of two constants
_AFTER = """
(day, created, site, run) <
    (SELECT day, created, site, run FROM festoon.runs WHERE site = :after_site AND run = :after_run)
"""
