"""Alarms across sites and months, reckoned by the database."""

from contextlib import closing
from datetime import date

from sqlalchemy import text

from server.archive.months import months_of
from server.archive.reading import ArchivedRuns
from tests.archive.conftest import Archive

MADE = text("""
INSERT INTO festoon.runs (site, run, local, month, plan_name, plan_text, created, day, words, plan_words, houses,
    last_arrived, facts, trouble)
VALUES (:site, :run, :run, festoon.open_month(:day), '', '', '2026-01-01T00:00:00Z', :day, '', '', '{}', :ended,
    jsonb_build_object('zero', CAST(:begun AS text)), CAST(:trouble AS jsonb))
""")


def made(archive: Archive, site: str, run: str, day: date, hours: int, trouble: str | None) -> None:
    begun, ended = f"{day}T01:00:00Z", f"{day}T{1 + hours:02}:00:00Z"
    row = {"site": site, "run": run, "day": day, "begun": begun, "ended": ended, "trouble": trouble}
    with archive.owner.begin() as owner:
        owner.execute(MADE, row)


def test_counted_runs_are_added_up_by_month_and_site(archive: Archive) -> None:
    """Hours and kinds of alarms of all runs that were counted; no run is longer than an evening."""
    for site in ("north", "south"):
        archive.site(site)
    made(archive, "north", "a", date(2026, 3, 1), 2, '{"film_trip": 1, "misfit": 2}')
    made(archive, "north", "b", date(2026, 3, 31), 3, '{"misfit": 1}')
    made(archive, "north", "c", date(2026, 3, 31), 3, None)
    made(archive, "north", "d", date(2026, 4, 1), 20, "{}")
    made(archive, "south", "a", date(2026, 3, 5), 1, '{"film_heat": 4}')
    march, april = date(2026, 3, 1), date(2026, 4, 1)
    north = [
        (march, "north", 2, 5.0, {"film_trip": 1, "misfit": 3}),
        (april, "north", 1, 12.0, {}),
    ]
    south = (march, "south", 1, 1.0, {"film_heat": 4})
    with closing(ArchivedRuns.reading(archive.reader("office"))) as reading:
        assert months_of(reading, march, date(2026, 4, 30), None) == [north[0], south, north[1]]
        assert months_of(reading, march, date(2026, 4, 30), "north") == north
        assert months_of(reading, date(2026, 3, 2), date(2026, 3, 30), None) == [south]
    with closing(ArchivedRuns.reading(archive.reader("auditor", "south"))) as reading:
        assert months_of(reading, march, date(2026, 4, 30), None) == [south]
