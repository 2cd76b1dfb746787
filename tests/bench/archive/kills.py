"""The archive, the network and the site end at random instants: what is lost or doubled in the archive then."""

import threading
import time
from collections import Counter
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from random import Random

from tests.archive.cluster import cluster
from tests.archive.conftest import Archive
from tests.archive.proxy import proxy
from tests.archive.sites import branches, in_archive, in_log
from tests.archive.waiting import until
from tests.bench.archive.site import TappedSite

CAUGHT_UP_S = 120.0


def kills(folder: Path, instants: int, seed: int) -> Iterator[str]:
    """Tap without end while one of the three ends, `instants` times; then hold the archive against the log."""
    chance, happened = Random(seed), Counter[str]()
    with cluster(durable=True) as postgres, proxy(postgres.port) as network:
        archive = Archive(postgres)
        head, _, tail = archive.site("north").rpartition("@")
        site = TappedSite(folder / "north", f"{head}@127.0.0.1:{network.port}/{tail.partition('/')[2]}")
        over, taken = threading.Event(), set[str]()
        tapping = threading.Thread(target=_tap, args=(site, over, taken))
        tapping.start()
        for _ in range(instants):
            time.sleep(chance.uniform(0.0, 1.0))
            what = chance.choice(("archive", "network cut", "network still", "site"))
            happened[what] += 1
            if what == "archive":
                postgres.kill()
                postgres.start()
            elif what == "site":
                site.kill()
                site.start()
            else:
                network.cut() if what == "network cut" else network.stand_still()
                time.sleep(chance.uniform(0.0, 0.5))
                network.mend()
        over.set()
        tapping.join()
        until(lambda: len(in_archive(archive, "north", site.run)) >= len(in_log(site.log, site.run)), CAUGHT_UP_S)
        site.kill()
        log, there = in_log(site.log, site.run), in_archive(archive, "north", site.run)
        also = len(branches(archive, "north"))
        archive.owner.dispose()
        yield f"ended: {', '.join(f'{what} {number}' for what, number in sorted(happened.items()))}"
        yield f"acknowledged {len(taken)}; in the log {len(log)}; in the archive {len(there)}"
        yield f"lost {len(set(log) - set(there))}, doubled {len(there) - len(set(there))}, in order {there == log}"
        told = {body.partition('"id":"')[2].partition('"')[0] for _, _, body, _ in there}
        yield f"acknowledged and not in the archive: {len(taken - told)}; branches: {also}"


def _tap(site: TappedSite, over: threading.Event, taken: set[str]) -> None:
    for number in count(1):
        if over.is_set():
            return
        if site.tap(f"tap{number}") is not None:
            taken.add(f"tap{number}")
        time.sleep(0.01)
