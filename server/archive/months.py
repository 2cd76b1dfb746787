"""Alarms by site and month: what a year looks like, over all sites that may be read."""

from datetime import date
from typing import Any, Final, NamedTuple

from sqlalchemy import text

from server.archive.reading import ArchivedRuns

LONGEST_H: Final = 12
"""A run counts for at most so many hours: a correction that is made years later makes no show longer. Chosen."""


class Month(NamedTuple):
    """One month of one site: runs that were counted, and since their planned start until their last event, in hours.

    `alarms` is how often people were told of each kind of alarm.
    """

    month: date
    site: str
    runs: int
    hours: float
    alarms: dict[str, int]


def months_of(reading: ArchivedRuns, first: date, last: date, site: str | None) -> list[Month]:
    """The months of days from `first` to `last`, both included; of one site, or of all that may be read.

    Raises ArchiveFault.
    """
    given: dict[str, Any] = {"first": first, "last": last, "site": site, "longest": LONGEST_H}
    with reading.connected() as connection:
        return [
            Month(row.month, row.site, row.runs, row.hours, row.alarms) for row in connection.execute(_ASKED, given)
        ]


_ASKED = text("""
WITH counted AS (
    SELECT site, date_trunc('month', day)::date AS month, trouble, greatest(0, least(:longest,
        extract(epoch FROM last_arrived::timestamptz - (facts->>'zero')::timestamptz) / 3600)) AS hours
    FROM festoon.runs
    WHERE deleted IS NULL AND trouble IS NOT NULL AND day BETWEEN :first AND :last
        AND (CAST(:site AS text) IS NULL OR site = :site)
), kinds AS (
    SELECT site, month, one.key AS kind, sum(one.value::integer) AS times
    FROM counted, jsonb_each_text(trouble) one WHERE one.value ~ '^[0-9]{1,6}$' GROUP BY site, month, kind
)
SELECT month, site, count(*) AS runs, coalesce(sum(hours), 0)::float AS hours, coalesce((
    SELECT jsonb_object_agg(kind, times) FROM kinds WHERE kinds.site = counted.site AND kinds.month = counted.month
), '{}') AS alarms
FROM counted GROUP BY month, site ORDER BY month, site
""")
