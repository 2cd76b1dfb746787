"""Many sites over a year, by generated data: what the library, the overview and a debrief take to open."""

import asyncio
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import date
from pathlib import Path

import numpy as np
from sqlalchemy import text

from server.archive.reading import ArchivedRuns
from server.archive.watching import looked
from server.desk.library import Page
from server.desk.records import Records
from server.review.library import Wanted
from server.review.series import first_series_of
from server.runlog import RunLog
from tests.archive.cluster import cluster
from tests.archive.conftest import Archive
from tests.archive.sites import arrives, forwarding
from tests.desk.past import RUN, fill

AT_ONCE = 2
TRIES = 60
PAGE = 50


def year(folder: Path, sites: int, runs: int, events: int) -> Iterator[str]:
    """So many sites with so many runs each, of so many events; and one real show among them."""
    with cluster() as postgres:
        archive = Archive(postgres)
        begun = time.perf_counter()
        generate(archive, sites, runs, events)
        with closing(RunLog.open(folder / "log")) as log, forwarding(folder / "log", archive.site("real")):
            asyncio.run(fill(log))
            arrives(archive, folder / "log", "real", RUN)
        with archive.owner.connect() as connection:
            size = connection.execute(text("SELECT pg_size_pretty(pg_database_size(current_database()))")).scalar_one()
        took_s = time.perf_counter() - begun
        yield f"{sites} sites, {sites * runs} runs, {sites * runs * events} events: {size}, made in {took_s:.0f} s"
        with closing(ArchivedRuns.reading(archive.reader("office"))) as reading:
            for name, work in _asked(reading).items():
                yield f"{name}: {_timed(work)}"
        with closing(ArchivedRuns.reading(archive.reader("some", *(f"s{n}" for n in range(1, 21))))) as reading:
            wanted = Wanted(text="evening 77")
            took = _timed(lambda: reading.find(wanted, Page(None, PAGE)))
            yield f"library, a reader of twenty sites, rare words: {took}"
        archive.owner.dispose()


def _asked(reading: ArchivedRuns) -> dict[str, Callable[[], object]]:
    def find(wanted: Wanted) -> Callable[[], object]:
        return lambda: reading.find(wanted, Page(None, PAGE))

    def overview() -> object:
        with reading.connected() as connection:
            return looked(connection)

    records = Records(reading, "archive")
    return {
        "library, first page": find(Wanted()),
        "library, one site": find(Wanted(at="s7")),
        "library, frequent words": find(Wanted(text="evening")),
        "library, rare words": find(Wanted(text="evening 77 at s7-")),
        "library, words of no run": find(Wanted(text="nowhere at all")),
        "library, trouble": find(Wanted(trouble="film_trip")),
        "overview, all of it": overview,
        "debrief, what it opens with": lambda: first_series_of(records.glance(f"real:{RUN}").account),
    }


def _timed(work: Callable[[], object]) -> str:
    took = []
    for _ in range(TRIES):
        begun = time.perf_counter()
        work()
        took.append((time.perf_counter() - begun) * 1000)
    p50, p95 = np.percentile(took, [50, 95])
    return f"p50 {p50:.0f} ms, p95 {p95:.0f} ms"


def generate(archive: Archive, sites: int, runs: int, events: int) -> None:
    """Fill an archive: runs first, then their events by the month, `AT_ONCE` months at once."""
    given = {"sites": sites, "runs": runs, "events": events}
    with archive.owner.begin() as owner:
        # The rows refer to one another as they are made; each need not be looked at again.
        owner.execute(text(_UNCHECKED))
        owner.execute(text("SELECT festoon.open_month((date '2026-01-01' + n * 28)) FROM generate_series(0, 13) n"))
        for statement in _MADE:
            owner.execute(text(statement), {key: given[key] for key in given if f":{key}" in statement})
        months = list(owner.execute(text("SELECT DISTINCT month FROM festoon.runs ORDER BY month")).scalars())
    with ThreadPoolExecutor(AT_ONCE) as working:
        list(working.map(lambda month: _generate_month(archive, month, events), months))
    with archive.owner.connect().execution_options(isolation_level="AUTOCOMMIT") as owner:
        owner.execute(text("VACUUM ANALYZE"))


def _generate_month(archive: Archive, month: date, events: int) -> None:
    with archive.owner.begin() as owner:
        owner.execute(text(_UNCHECKED))
        owner.execute(text(_EVENTS), {"month": month, "events": events})


_UNCHECKED = "SET LOCAL session_replication_role = replica"
# In the order of the key: its index grows at its end then, and each run's events lie together as a site sends them.
_EVENTS = """
INSERT INTO festoon.events (site, run, seq, month, arrived, body, sum)
SELECT site, run, seq, month, created,
    '{"id":"e' || seq || '","t":"2026-03-14T23:50:00Z","kind":"mark","source":"contact:north","station":"h3",'
    || '"mark":"feature","sigma_s"\\:0.05}', seq
FROM (SELECT site, run, month, created FROM festoon.runs WHERE month = :month ORDER BY site, run) one,
    generate_series(1, :events) seq
"""

_MADE = (
    "INSERT INTO festoon.sites SELECT 's' || n, 'role' || n, 'http://s' || n FROM generate_series(1, :sites) n",
    """
    INSERT INTO festoon.runs (site, run, local, month, plan_name, plan_text, created, events, last_arrived, day, words,
        plan_words, houses, facts, trouble, state)
    SELECT 's' || s, 'run-' || r, 'run-' || r, date_trunc('month', day), 'evening.plan.toml',
        repeat('# plan' || r, 300),
        to_char(day, 'YYYY-MM-DD"T"18:00:00Z'), :events, to_char(day, 'YYYY-MM-DD"T"22:00:00Z'), day,
        'evening ' || r || ' at s' || s || '-', 'evening ' || r, ARRAY['1', '2', '3'], NULL,
        CASE WHEN (s + r) % 50 = 0 THEN '{"film_trip": 1}'::jsonb ELSE '{}'::jsonb END, 'over'
    FROM generate_series(1, :sites) s, generate_series(1, :runs) r,
        LATERAL (SELECT date '2026-01-01' + (r * 360 / :runs) AS day) at
    """,
    """
    INSERT INTO festoon.pictures SELECT site, run, now(), jsonb_build_object('format', 1, 'title', run,
        'state', 'running',
        'demo', false, 'stations', (SELECT jsonb_agg(jsonb_build_object('house', n, 'phase', 'showing'))
        FROM generate_series(1, 16) n), 'worst', '[]'::jsonb)
    FROM festoon.runs WHERE run IN ('run-1', 'run-2', 'run-3')
    """,
    "INSERT INTO festoon.heard (site, waiting) SELECT name, 0 FROM festoon.sites",
)
