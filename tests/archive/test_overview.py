"""Every live run of every site comes to whoever looks, by itself, from several archive servers alike."""

import json
import urllib.request
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from subprocess import STDOUT
from typing import Any

import pytest

from tests.archive.company import company, shown
from tests.archive.conftest import Archive
from tests.browser.served import Served, served

pytestmark = pytest.mark.slow
PATIENCE_S = 20.0


class Page:
    """What a page of the overview knows."""

    def __init__(self, lines: Any) -> None:
        self._stream = lines
        self.known: dict[str, Any] = {}
        self.trouble: str | None = None

    def until(self, true: Any) -> None:
        """Read on until it is true; the stream ends by its own time where that never comes."""
        while not true(self):
            line = self._stream.readline()
            assert line, "the server ended the stream"
            if line.startswith(b"data: "):
                told = json.loads(line[6:])
                self.known = told["lines"] if told["type"] == "all" else self.known | told["lines"]
                self.known = {key: one for key, one in self.known.items() if key not in told["gone"]}
                self.trouble = told["trouble"]

    def state(self, site: str) -> str | None:
        return next(
            (one["picture"]["state"] for one in self.known.values() if "picture" in one and one["site"] == site), None
        )


@contextmanager
def page_of(server: Served) -> Iterator[Page]:
    with urllib.request.urlopen(f"{server.base}/api/overview", timeout=PATIENCE_S) as lines:
        yield Page(lines)


def tap(site: Served, kind: str) -> None:
    body = json.dumps({"id": kind, "kind": kind, "station": "a", "source": "tap:pad"}).encode()
    address = f"{site.base}/api/runs/{site.runs[0]}/events"
    asked = urllib.request.Request(address, body, {"content-type": "application/json"})
    urllib.request.urlopen(asked, timeout=PATIENCE_S).close()


def test_what_happens_at_a_site_is_seen_by_whoever_looks(archive: Archive, tmp_path: Path) -> None:
    """Two archive servers side by side tell the same, and a server that ends has no run there any more."""
    titles = {"north": "A Short Walk", "south": "Two by Lantern Light"}
    with ExitStack() as stack:
        sites = stack.enter_context(company(archive, tmp_path, titles))
        servers = [shown(archive), served("archive", "serve", archive.reader("second"), "--port", "0")]
        pages = [stack.enter_context(page_of(stack.enter_context(server))) for server in servers]
        for page in pages:
            page.until(lambda page: page.state("north") == page.state("south") == "waiting")
        tap(sites["north"], "motor_start")
        for page in pages:
            page.until(lambda page: page.state("north") == "running")
            assert page.state("south") == "waiting"
        assert pages[0].known["site south"]["url"] == sites["south"].base
        sites["south"].process.terminate()
        pages[0].until(lambda page: page.state("south") is None)


def test_an_archive_that_goes_is_told_on_the_page_and_found_again(archive: Archive) -> None:
    """What is shown is then said to be old, and goes on once the archive is back."""
    archive.site("north")
    with shown(archive) as server, page_of(server) as page:
        page.until(lambda page: "site north" in page.known)
        archive.cluster.kill()
        page.until(lambda page: page.trouble)
        archive.cluster.start()
        page.until(lambda page: page.trouble is None)
        assert "site north" in page.known


def test_a_server_ends_at_once_and_quietly_while_pages_are_open(archive: Archive) -> None:
    """Whoever stops it waits for no page, and reads no traceback."""
    archive.site("north")
    quiet = served("archive", "serve", archive.reader("office"), "--port", "0", errors=STDOUT)
    with quiet as server, page_of(server) as page:
        page.until(lambda page: "site north" in page.known)
        server.process.terminate()
        assert server.process.wait(PATIENCE_S) == 0
        assert "Traceback" not in server.process.stdout.read()


def test_a_reader_sees_its_own_sites_alone(archive: Archive, tmp_path: Path) -> None:
    """Live runs too."""
    archive.site("south")
    with (
        company(archive, tmp_path, {"north": "A Short Walk"}),
        shown(archive, "south") as server,
        page_of(server) as page,
    ):
        page.until(lambda page: "site south" in page.known)
        assert list(page.known) == ["site south"]
