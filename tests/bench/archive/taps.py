"""What a tap takes with an archive and without, in one run: two servers beside each other, tapped in turn."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
from sqlalchemy import text

from tests.archive.cluster import cluster
from tests.archive.conftest import Archive
from tests.archive.sites import grow, log_of
from tests.archive.waiting import until
from tests.bench.archive.site import TappedSite

WARM = 20
CAUGHT_UP_S = 300.0


PAST_EVENTS = 500
"""Of each run of the past: as of a show of sixteen stations on contacts."""


def taps(folder: Path, number: int, past_runs: int) -> Iterator[str]:
    """Tap each in turn: while so many runs of the past are sent, once they are there, and while the archive is gone."""
    _past(folder / "past", past_runs)
    with cluster(durable=True) as postgres:
        archive = Archive(postgres)
        url = archive.site("north")
        sites = {"without": TappedSite(folder / "a", "", folder / "past")}
        sites["with"] = TappedSite(folder / "b", url, folder / "past")
        for about in ("catching up", "archive there", "archive gone"):
            if about == "archive there":
                yield f"the past was sent {'before' if _sent(archive) == past_runs * PAST_EVENTS else 'after'} that"
                until(lambda: _sent(archive) >= past_runs * PAST_EVENTS, CAUGHT_UP_S)
            if about == "archive gone":
                archive.owner.dispose()
                postgres.kill()
            took: dict[str, list[float]] = {name: [] for name in sites}
            for one in range(WARM + number):
                for name, site in sites.items():
                    took_s = site.tap(f"{about} {one}")
                    if one >= WARM and took_s is not None:
                        took[name].append(took_s * 1000)
            figures = {name: np.percentile(values, [50, 95, 99]) for name, values in took.items()}
            ratio = figures["with"] / figures["without"]
            yield f"{about}: " + "; ".join(
                f"p{at} without {figures['without'][k]:.2f} ms, with {figures['with'][k]:.2f} ms, ratio {ratio[k]:.2f}"
                for k, at in enumerate((50, 95, 99))
            )
        for site in sites.values():
            site.kill()


def _past(folder: Path, runs: int) -> None:
    names = [f"past-{n}" for n in range(runs)]
    with log_of(folder, *names) as log:
        for name in names:
            grow(log, name, 1, PAST_EVENTS)


def _sent(archive: Archive) -> int:
    with archive.owner.connect() as connection:
        asked = text("SELECT coalesce(sum(events), 0) FROM festoon.runs WHERE run LIKE 'past-%'")
        return int(connection.execute(asked).scalar_one())
