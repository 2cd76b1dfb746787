"""Sites whose servers run shows, and the archive's own server over them, each a process of its own."""

from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from pathlib import Path

from tests.archive.conftest import Archive
from tests.browser.served import Served, served, written_plan


@contextmanager
def shown(archive: Archive, *of: str) -> Iterator[Served]:
    """The archive's server for a reader of these sites, or of all."""
    with served("archive", "serve", archive.reader("office", *of), "--port", "0") as server:
        yield server


@contextmanager
def company(archive: Archive, folder: Path, titles: Mapping[str, str]) -> Iterator[dict[str, Served]]:
    """A site for each name, with a live run of two houses that is called so."""
    with ExitStack() as stack:
        sites = {}
        for name, title in titles.items():
            (folder / name).mkdir()
            plan = written_plan(folder / name, title)
            forwarded = ("--data", str(folder / name / "log"), "--archive", archive.site(name, "http://127.0.0.1:1"))
            sites[name] = stack.enter_context(served("serve", str(plan), "--port", "0", *forwarded))
            with archive.owner.begin() as owner:
                owner.exec_driver_sql("UPDATE festoon.sites SET url = %s WHERE name = %s", (sites[name].base, name))
        yield sites
