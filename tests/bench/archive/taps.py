"""What a tap takes with an archive and without, in one run: two servers beside each other, tapped in turn."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from tests.archive.cluster import cluster
from tests.archive.conftest import Archive
from tests.bench.archive.site import TappedSite

WARM = 50


def taps(folder: Path, number: int) -> Iterator[str]:
    """Tap each in turn; then once more while the archive is gone."""
    with cluster(durable=True) as postgres:
        archive = Archive(postgres)
        sites = {"without": TappedSite(folder / "a", ""), "with": TappedSite(folder / "b", archive.site("north"))}
        archive.owner.dispose()
        for about in ("archive there", "archive gone"):
            if about == "archive gone":
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
