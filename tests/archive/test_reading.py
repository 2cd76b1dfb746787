"""An archive is gone through by the same code as a log, and tells the same."""

import asyncio
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, closing
from datetime import date
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx
import pytest

from server.archive.desk import create_archive_app
from server.archive.place import archive_address
from server.archive.reading import UNREAD, ArchivedRuns
from server.archive.watching import Watch
from server.desk.access import Hosts
from server.desk.debrief_messages import Library
from server.desk.pages import web_folder
from server.desk.records import Answered
from server.runlog import RunLog
from server.timeline.events import rfc3339
from tests.archive.conftest import Archive
from tests.archive.sites import arrives, forwarding
from tests.archive.test_months import made
from tests.archive.waiting import until
from tests.desk.past import AT, PLAN_TEXT, TOMORROW, client_of, fill, pair


class NotApart:
    """Nothing is gone through elsewhere: what is asked is answered here."""

    def begin(self) -> None: ...
    def counted(self, run_id: str) -> tuple[int, dict[str, int]]:
        raise NotImplementedError(run_id)

    async def answer(self, path: str, query: bytes) -> Answered:
        from server.archive.faults import ArchiveFault
        from server.desk.apart import api_of
        from server.desk.records import Records

        api = api_of(Records(self.runs, "archive"), (), (ArchiveFault,))
        async with httpx.AsyncClient(transport=httpx.ASGITransport(api), base_url=AT) as client:
            found = await client.get(quote(path), params=httpx.QueryParams(query))
        headers = [(b"content-type", found.headers["content-type"].encode())]
        return Answered(found.status_code, headers, found.content)

    def __init__(self, runs: ArchivedRuns) -> None:
        self.runs = runs


@asynccontextmanager
async def asking(url: str) -> AsyncIterator[httpx.AsyncClient]:
    """A client of an archive's application."""
    address = archive_address(url)
    with closing(ArchivedRuns.reading(url)) as runs:
        app = create_archive_app(runs, Watch(address), NotApart(runs), Hosts("127.0.0.1"), web_folder())
        async with httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url=AT) as client:
            yield client


@pytest.fixture
def log(archive: Archive, tmp_path: Path) -> Iterator[RunLog]:
    """The log of a site, north, that is in the archive: a show, a later one without events, one whose plan is none."""
    with closing(RunLog.open(tmp_path)) as log, forwarding(tmp_path, archive.site("north")):
        april = PLAN_TEXT.replace("2026-03-14", "2026-04-02").replace('title = "Pair"', 'title = "Lantern Night"')
        asyncio.run(_filled(log))
        log.create_run("lantern", april, "lantern.plan.toml", TOMORROW)
        log.create_run("broken", "title = 1", "broken.plan.toml", pair().zero)
        asyncio.run(_put_away(log))
        arrives(archive, tmp_path, "north", "pair")
        until(lambda: len(_named(archive)) == 3)
        yield log


async def _filled(log: RunLog) -> None:
    await fill(log, "pair")


async def _put_away(log: RunLog) -> None:
    await log.library.archive("broken", TOMORROW, "Ada")


def _named(archive: Archive) -> list[str]:
    from sqlalchemy import text

    with archive.owner.connect() as connection:
        rows = connection.execute(text("SELECT run FROM festoon.runs WHERE run <> 'broken' OR put_away_at IS NOT NULL"))
        return list(rows.scalars())


@pytest.mark.parametrize(
    "asked",
    [
        {},
        {"from": "2026-03-15"},
        {"to": "2026-03-14"},
        {"text": "LANTERN"},
        {"text": "%"},
        {"plan": "pair.plan"},
        {"house": "1"},
        {"house": "9"},
        {"archived": "all"},
        {"archived": "true"},
        {"trouble": "film_trip"},
    ],
)
async def test_the_library_finds_what_a_sites_own_finds(archive: Archive, log: RunLog, asked: dict[str, str]) -> None:
    """Whatever is asked for, the database finds the runs that the site's own server does, in that order."""
    async with client_of(log) as own, asking(archive.reader("office")) as every:
        here = Library.model_validate((await own.get("/api/library", params=asked)).json())
        there = Library.model_validate((await every.get("/api/library", params=asked)).json())
    assert [line.run for line in there.runs] == [f"north:{line.run}" for line in here.runs]
    alike = {"run", "trouble", "state"}
    for one, other in zip(here.runs, there.runs, strict=True):
        assert one.model_dump(exclude=alike) == other.model_dump(exclude=alike)


@pytest.mark.parametrize("what", ["", "/story", "/state?at_s=600", "/series?points=40", "/events", "/tables"])
async def test_a_debrief_tells_what_the_sites_own_tells(archive: Archive, log: RunLog, what: str) -> None:
    """The same events and plan by the same code: the same account, to the last figure."""
    async with client_of(log) as own, asking(archive.reader("office")) as every:
        here = (await own.get(f"/api/debriefs/pair{what}")).json()
        there = (await every.get(f"/api/debriefs/north:pair{what}")).json()
    assert _named_alike(there) == (here | {"source": "archive"} if "source" in here else here)


def _named_alike(told: Any) -> Any:
    """The same, with the run called what its site calls it."""
    if isinstance(told, dict):
        return {key: _named_alike(value) for key, value in told.items()}
    return [_named_alike(one) for one in told] if isinstance(told, list) else "pair" if told == "north:pair" else told


async def test_what_a_debrief_opens_with_and_hands_on(archive: Archive, log: RunLog) -> None:
    """The first look, the story and the files are there; the story is made where the site has not sent one."""
    async with asking(archive.reader("office")) as client:
        first = (await client.get("/api/library/north:pair/first")).json()
        assert first["debrief"]["id"] == "north:pair"
        assert (await client.get("/api/library/north:pair/story")).json()["sentences"]
        assert (await client.get("/api/debriefs/north:pair/recording.events.jsonl")).status_code == 200
        assert (await client.get("/api/comparison?run=north:pair&run=north:lantern")).status_code == 200


async def test_pages_follow_one_another(archive: Archive, log: RunLog) -> None:
    """However many runs there are, each is in one page, and the last page says that it is the last."""
    seen: list[str] = []
    async with client_of(log) as own, asking(archive.reader("office")) as every:
        for client in (own, every):
            after = ""
            while after is not None:
                asked = {"most": "1", "after": after, "archived": "all"}
                page = (await client.get("/api/library", params=asked)).json()
                seen += [line["run"] for line in page["runs"]]
                after = page["following"]
    assert seen == [*("lantern", "pair", "broken"), *("north:lantern", "north:pair", "north:broken")]


async def test_one_site_is_asked_for(archive: Archive, log: RunLog) -> None:
    """The sites that may be read are listed, and one is picked out."""
    archive.site("south")
    async with asking(archive.reader("office")) as client:
        page = (await client.get("/api/library", params={"at": "south"})).json()
        assert (page["runs"], page["sites"]) == ([], ["north", "south"])
        assert len((await client.get("/api/library", params={"at": "north"})).json()["runs"]) == 2


async def test_what_a_reader_was_not_given_is_not_there(archive: Archive, log: RunLog) -> None:
    """Neither listed nor opened by its name."""
    archive.site("south")
    async with asking(archive.reader("auditor", "south")) as client:
        page = (await client.get("/api/library")).json()
        assert (page["runs"], page["sites"]) == ([], ["south"])
        assert (await client.get("/api/debriefs/north:pair")).status_code == 404
        assert (await client.get("/api/library/north:pair/first")).status_code == 404


async def test_the_archive_changes_nothing(archive: Archive, log: RunLog) -> None:
    """Its server only reads: there is no route that writes."""
    async with asking(archive.reader("office")) as client:
        for path in ("library/north:pair/remove", "library/north:pair/archive", "debriefs/north:pair/corrections"):
            assert (await client.post(f"/api/{path}", json={"yes": True})).status_code in {404, 405}


async def test_a_row_that_cannot_be_read_hides_no_other(archive: Archive, log: RunLog) -> None:
    """What one site's other program wrote is told as that, in its own line."""
    spoilt = """UPDATE festoon.runs SET created = '2026-99-99 it was Z', trouble = '{"film_trip": "x"}',
        facts = '{"zero": "2026-01-01T00:00:00Z", "title": 3}' WHERE run = 'pair'"""
    with archive.owner.begin() as owner:
        for check in ("runs_created_check", "runs_facts_check"):
            owner.exec_driver_sql(f"ALTER TABLE festoon.runs DROP CONSTRAINT {check}")
        owner.exec_driver_sql(spoilt)
    async with asking(archive.reader("office")) as client:
        found = Library.model_validate((await client.get("/api/library")).json())
    assert sorted((line.run, line.fault) for line in found.runs) == [("north:lantern", None), ("north:pair", UNREAD)]


@pytest.mark.parametrize(("age", "is_silent"), [("0 s", False), ("1 h", True)])
async def test_a_live_run_of_a_silent_site_is_not_said_to_run_now(
    archive: Archive, tmp_path: Path, age: str, is_silent: bool
) -> None:
    """It is said when the site was last heard of: what is stale is never shown as fresh."""
    archive.site("south")
    made(archive, "south", "one", date(2026, 3, 1), 2, None)
    with archive.owner.begin() as owner:
        owner.exec_driver_sql("INSERT INTO festoon.pictures (site, run, body) VALUES ('south', 'one', '{}')")
        heard = f"INSERT INTO festoon.heard (site, at, waiting) VALUES ('south', now() - interval '{age}', 0)"
        owner.exec_driver_sql(heard)
    async with asking(archive.reader("office")) as client:
        (line,) = (await client.get("/api/library")).json()["runs"]
    assert (line["live"], line["silent_since"] is not None) == (True, is_silent)


@pytest.mark.parametrize(("age", "is_silent"), [("0 s", False), ("1 h", True)])
async def test_a_debrief_of_a_live_run_says_up_to_when_it_knows(
    archive: Archive, log: RunLog, age: str, is_silent: bool
) -> None:
    """The first look and the whole say that it is live at its site, its last event here, and when that was heard of."""
    last = log.extent("pair").last_arrived
    assert last is not None
    async with asking(archive.reader("office")) as client:
        over = (await client.get("/api/debriefs/north:pair")).json()
        assert (over["live"], over["heard"]) == (False, None)
        with archive.owner.begin() as owner:
            owner.exec_driver_sql(
                "INSERT INTO festoon.sites (name, role, url, added) SELECT 'far', 'far', url, added FROM festoon.sites"
            )
            for table in ("runs", "events"):
                owner.exec_driver_sql(f"CREATE TEMPORARY TABLE one AS SELECT * FROM festoon.{table} WHERE run = 'pair'")
                owner.exec_driver_sql("UPDATE one SET site = 'far'")
                owner.exec_driver_sql(f"INSERT INTO festoon.{table} SELECT * FROM one")
                owner.exec_driver_sql("DROP TABLE one")
            owner.exec_driver_sql("INSERT INTO festoon.pictures (site, run, body) VALUES ('far', 'pair', '{}')")
            heard = f"INSERT INTO festoon.heard (site, at, waiting) VALUES ('far', now() - interval '{age}', 0)"
            owner.exec_driver_sql(heard)
        whole = (await client.get("/api/debriefs/far:pair")).json()
        first = (await client.get("/api/library/far:pair/first")).json()["debrief"]
    assert (whole["live"], first["heard"]) == (True, whole["heard"])
    assert whole["heard"] | {"at": ""} == {"last_arrived": rfc3339(last), "at": "", "is_silent": is_silent}


@pytest.mark.parametrize(
    ("asked", "status"),
    [
        ("library?text=%00", 422),
        ("library?after=nonsense", 422),
        ("months?from=2026-01-01&to=2026-02-01&at=%00", 422),
        ("debriefs/north:%00", 404),
    ],
)
async def test_what_cannot_be_asked_is_refused(archive: Archive, asked: str, status: int) -> None:
    """The archive is well: it is the question that is wrong, and it says so."""
    async with asking(archive.reader("office")) as client:
        answer = await client.get(f"/api/{asked}")
    assert (answer.status_code, bool(answer.json()["reason"])) == (status, True)


async def test_an_archive_that_goes_is_told(archive: Archive, log: RunLog) -> None:
    """503 with a sentence, and once it is back it is read again."""
    async with asking(archive.reader("office")) as client:
        archive.cluster.kill()
        answer = await client.get("/api/library")
        assert (answer.status_code, "cannot be used" in answer.json()["reason"]) == (503, True)
        archive.cluster.start()
        assert (await client.get("/api/library")).status_code == 200
