"""What a site's log holds comes to the archive: all of it, in order, once, whatever breaks on the way."""

import asyncio
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from server.archive.course import MOST, Course
from server.archive.faults import ArchiveFault
from server.archive.place import archive_address
from server.archive.roles import new_key, retire
from server.review.kept import COUNTED_BY
from server.runlog import RunLog
from server.runlog.raw import RawLog, RawRun
from tests.archive.conftest import Archive
from tests.archive.proxy import Proxy, proxy
from tests.archive.sites import PLAN, arrives, branches, forwarding, grow, in_archive, in_log, log_of
from tests.archive.waiting import until
from tests.runlog.logs import ZERO

END_OTHERS = """
SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE pid <> pg_backend_pid() AND datname = current_database()"""
BAD = "INSERT INTO runs SELECT 'bad', 'a' || char(0), plan_text, created, NULL FROM runs"


@pytest.fixture
def north(archive: Archive) -> str:
    return archive.site("north")


@pytest.fixture
def network(archive: Archive) -> Iterator[Proxy]:
    with proxy(archive.cluster.port) as made:
        yield made


def through(url: str, network: Proxy) -> str:
    """The same address, by a network that can break."""
    head, _, tail = url.rpartition("@")
    return f"{head}@127.0.0.1:{network.port}/{tail.partition('/')[2]}"


def test_what_is_there_and_what_comes_arrives(archive: Archive, north: str, tmp_path: Path) -> None:
    """A log of many transactions is caught up with, and every later event follows by itself."""
    with log_of(tmp_path, "one", "two") as log:
        grow(log, "one", 1, 2 * MOST + 7)
        with forwarding(tmp_path, north) as forwarded:
            arrives(archive, tmp_path, "north", "one")
            grow(log, "two", 1, 3)
            arrives(archive, tmp_path, "north", "two")
            until(lambda: forwarded.lag().waiting == 0)
            lag = forwarded.lag()
    assert (lag.site, lag.why, lag.since, lag.notes) == ("north", None, None, ())
    assert lag.place == f"postgresql://127.0.0.1:{archive.cluster.port}/{archive.database}"


def test_the_end_of_a_server_sends_what_came_last(archive: Archive, north: str, tmp_path: Path) -> None:
    """Whoever stops the server after the show need not wait for the archive."""
    with log_of(tmp_path, "one") as log, forwarding(tmp_path, north) as forwarded:
        until(lambda: forwarded.lag().site)
        grow(log, "one", 1, 20)
    assert in_log(tmp_path, "one") == in_archive(archive, "north", "one")


def test_a_network_that_breaks_loses_and_doubles_nothing(
    archive: Archive, north: str, network: Proxy, tmp_path: Path
) -> None:
    """Cut in the middle of sending, again and again, the archive has each event once in the end."""
    with log_of(tmp_path, "one") as log, forwarding(tmp_path, through(north, network)) as forwarded:
        for turn in range(4):
            grow(log, "one", turn * 400 + 1, turn * 400 + 400)
            network.cut()
            until(lambda: forwarded.lag().why)
            assert forwarded.lag().waiting > 0
            assert forwarded.lag().since is not None
            network.mend()
            until(lambda: not forwarded.lag().why)
        arrives(archive, tmp_path, "north", "one")


def test_an_archive_that_says_nothing_is_not_said_to_be_well(
    archive: Archive, north: str, network: Proxy, tmp_path: Path
) -> None:
    """A call that never comes back is told, with what waits by the site's own log, though nothing failed."""
    with log_of(tmp_path, "one") as log, forwarding(tmp_path, through(north, network)) as forwarded:
        until(lambda: forwarded.lag().site)
        network.stand_still()
        grow(log, "one", 1, 7)
        until(lambda: forwarded.lag().waiting == 7)
        assert forwarded.lag().since is not None
        until(lambda: "has not answered since" in (forwarded.lag().why or ""))


def test_a_lock_in_the_archive_holds_a_site_up_for_a_while_only(archive: Archive, north: str, tmp_path: Path) -> None:
    """Whoever locks a table there is told of at the site, and once it is free all comes there."""
    with log_of(tmp_path, "one") as log, forwarding(tmp_path, north) as forwarded:
        until(lambda: forwarded.lag().site)
        with archive.owner.begin() as owner:
            owner.execute(text("LOCK TABLE festoon.events IN ACCESS EXCLUSIVE MODE"))
            grow(log, "one", 1, 3)
            until(lambda: "took too long to answer" in (forwarded.lag().why or ""))
            assert forwarded.lag().waiting == 3
        arrives(archive, tmp_path, "north", "one")


def test_an_archive_that_is_killed_is_found_again(archive: Archive, north: str, tmp_path: Path) -> None:
    """The archive's power is cut while a site sends; once it is up again, it is given what it lacks."""
    with log_of(tmp_path, "one") as log, forwarding(tmp_path, north) as forwarded:
        grow(log, "one", 1, 300)
        archive.cluster.kill()
        grow(log, "one", 301, 600)
        until(lambda: forwarded.lag().why)
        archive.cluster.start()
        arrives(archive, tmp_path, "north", "one")


def test_the_same_log_forwarded_twice_is_taken_once(archive: Archive, north: str, tmp_path: Path) -> None:
    """Two programs that send one log at once come to one run."""
    with log_of(tmp_path, "one") as log, forwarding(tmp_path, north), forwarding(tmp_path, north):
        grow(log, "one", 1, 700)
        arrives(archive, tmp_path, "north", "one")
    assert branches(archive, "north") == ["one"]


def test_two_sites_have_runs_of_one_name(archive: Archive, north: str, tmp_path: Path) -> None:
    """A company's sites play one title on one evening, and their shows stay apart."""
    south = archive.site("south")
    with log_of(tmp_path / "n", "one") as n, log_of(tmp_path / "s", "one") as s:
        grow(n, "one", 1, 5)
        grow(s, "one", 1, 9, "south")
        with forwarding(tmp_path / "n", north), forwarding(tmp_path / "s", south):
            arrives(archive, tmp_path / "n", "north", "one")
            arrives(archive, tmp_path / "s", "south", "one")


def test_a_site_restored_from_an_older_backup_overwrites_nothing(archive: Archive, north: str, tmp_path: Path) -> None:
    """What the archive has stays; what the restored log goes on with is kept beside it, and both are told."""
    with log_of(tmp_path / "now", "one") as log:
        grow(log, "one", 1, 5)
    shutil.copytree(tmp_path / "now", tmp_path / "old")
    with log_of(tmp_path / "now", "one") as log, forwarding(tmp_path / "now", north):
        grow(log, "one", 6, 10)
        arrives(archive, tmp_path / "now", "north", "one")
    with log_of(tmp_path / "old", "one") as log, forwarding(tmp_path / "old", north) as forwarded:
        until(lambda: forwarded.lag().notes)
        assert "The archive has 10 events of one, this log 5" in forwarded.lag().notes[0]
        assert branches(archive, "north") == ["one"]
        grow(log, "one", 6, 8, "other")
        arrives(archive, tmp_path / "old", "north", "one", "one.2")
        until(lambda: "another history of one: that stays, and this log's is one.2" in forwarded.lag().notes[0])
    assert in_log(tmp_path / "now", "one") == in_archive(archive, "north", "one")
    with log_of(tmp_path / "now", "one") as log, forwarding(tmp_path / "now", north):
        grow(log, "one", 11, 12)
        arrives(archive, tmp_path / "now", "north", "one")
    assert branches(archive, "north") == ["one", "one.2"]


def test_an_archive_restored_from_an_older_backup_is_given_the_rest(
    archive: Archive, north: str, tmp_path: Path
) -> None:
    """The archive itself says where it is, so what it lost is sent again; the site says that it went back."""
    with log_of(tmp_path, "one") as log, forwarding(tmp_path, north) as forwarded:
        grow(log, "one", 1, 50)
        arrives(archive, tmp_path, "north", "one")
        until(lambda: forwarded.lag().waiting == 0)
        with archive.owner.begin() as owner:
            owner.execute(text("DELETE FROM festoon.events WHERE seq > 20"))
            owner.execute(text("UPDATE festoon.runs SET events = 20"))
        with archive.owner.begin() as owner:
            owner.execute(text(END_OTHERS))
        arrives(archive, tmp_path, "north", "one")
        until(lambda: forwarded.lag().notes)
        assert "The archive has gone back, by 1 run:" in forwarded.lag().notes[0]


def test_a_run_that_was_removed_is_no_archive_that_went_back(archive: Archive, north: str, tmp_path: Path) -> None:
    """The archive keeps what it has of it; the next connection finds nothing missing."""
    with log_of(tmp_path, "one", "two") as log, forwarding(tmp_path, north) as forwarded:
        grow(log, "one", 1, 3)
        grow(log, "two", 1, 3)
        for run in ("one", "two"):
            arrives(archive, tmp_path, "north", run)
        until(lambda: forwarded.lag().waiting == 0)
        asyncio.run(_removed(log, "one"))
        with archive.owner.begin() as owner:
            owner.execute(text(END_OTHERS))
        grow(log, "two", 4, 6)
        arrives(archive, tmp_path, "north", "two")
        assert forwarded.lag().notes == ()


def test_a_run_that_the_archive_cannot_take_holds_up_no_other(archive: Archive, north: str, tmp_path: Path) -> None:
    """One bad row in a log of years is told and left; the show of tonight goes through."""
    with log_of(tmp_path, "good") as log, forwarding(tmp_path, north) as forwarded:
        with closing(sqlite3.connect(tmp_path / "festoon.db")) as spoilt:
            spoilt.execute(BAD)
            spoilt.commit()
        grow(log, "good", 1, 3)
        arrives(archive, tmp_path, "north", "good")
        until(lambda: forwarded.lag().notes)
        assert "The archive does not take bad" in forwarded.lag().notes[0]


def test_a_damaged_event_is_left_out_and_told(archive: Archive, north: str, tmp_path: Path) -> None:
    """What damage made of a row is nobody's history."""
    with log_of(tmp_path, "one") as log:
        grow(log, "one", 1, 5)
        with forwarding(tmp_path, north) as forwarded:
            arrives(archive, tmp_path, "north", "one")
            with closing(sqlite3.connect(tmp_path / "festoon.db")) as spoilt:
                spoilt.execute("INSERT INTO events SELECT run, 6, 'x', arrived, body, 1 FROM events WHERE seq = 5")
                spoilt.commit()
            until(lambda: forwarded.lag().notes)
            assert forwarded.lag().notes == ("one: 1 event of the log is damaged, and not sent.",)
    assert len(in_archive(archive, "north", "one")) == 5


async def _put_away(log: RunLog) -> None:
    await log.library.archive("one", ZERO, "Ada")
    await _counted(log, 2)


def test_what_is_written_of_whole_runs_follows(archive: Archive, north: str, tmp_path: Path) -> None:
    """A run that is put away is put away there too, and what was counted of it is found there."""
    asked = text("SELECT put_away_by, trouble, houses, day::text, words FROM festoon.runs")
    with log_of(tmp_path, "one") as log, forwarding(tmp_path, north):
        grow(log, "one", 1, 2)
        asyncio.run(_put_away(log))

        def found() -> tuple[Any, ...]:
            with archive.owner.connect() as connection:
                row = connection.execute(asked).one_or_none()
                return () if row is None else tuple(row)

        until(lambda: found()[:2] == ("Ada", {"film_trip": 2}))
        assert found()[2][:3] == ["3", "1", "2"]
        # What comes later makes it uncounted.
        grow(log, "one", 3, 3)
        until(lambda: found()[1] is None)


def test_all_runs_are_looked_at_once_and_what_is_new_is_found_by_itself(
    archive: Archive, north: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A log of years is gone through when forwarding begins; later runs, summaries and acts are found without that."""
    looks = list[RawLog]()
    whole = RawLog.runs

    def counted(log: RawLog) -> list[RawRun]:
        looks.append(log)
        return whole(log)

    monkeypatch.setattr(RawLog, "runs", counted)
    with log_of(tmp_path, "one") as log, forwarding(tmp_path, north):
        grow(log, "one", 1, 2)
        arrives(archive, tmp_path, "north", "one")
        log.create_run("two", PLAN, "larkspur.plan.toml", ZERO)
        grow(log, "two", 1, 3)
        arrives(archive, tmp_path, "north", "two")
        asyncio.run(_put_away(log))
        until(lambda: _state_of(archive, "one") == ("Ada", {"film_trip": 2}))
        asyncio.run(_counted(log, 12))
        until(lambda: _state_of(archive, "one") == ("Ada", {"film_trip": 12}))
    assert len(looks) == 1


def test_what_no_last_row_tells_is_found_by_looking_at_all(
    archive: Archive, north: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A run that is brought back is back in the archive, after the next look at all runs."""
    monkeypatch.setattr("server.archive.course.WHOLE_S", 0.5)
    with log_of(tmp_path, "one") as log, forwarding(tmp_path, north):
        grow(log, "one", 1, 2)
        asyncio.run(_put_away(log))
        until(lambda: _state_of(archive, "one")[0] == "Ada")
        asyncio.run(_brought_back(log))
        until(lambda: _state_of(archive, "one")[0] is None)


def test_events_in_the_place_of_removed_ones_are_seen_at_once(archive: Archive, north: str, tmp_path: Path) -> None:
    """Between two looks a run is removed and another gets as many events: all of them are sent, by the next look."""
    engine = archive_address(north).engine("site")
    with (
        log_of(tmp_path, "live", "gone", "last") as log,
        RawLog.reading(tmp_path) as raw,
        engine.connect() as connection,
    ):
        grow(log, "live", 1, 3)
        grow(log, "gone", 1, 5)
        course = Course(connection, raw, lambda *_: None, lambda: 0.0)
        while course.send():
            """All that is there."""
        asyncio.run(_removed(log, "gone"))
        grow(log, "live", 4, 8)
        course.send()
    engine.dispose()
    assert in_log(tmp_path, "live") == in_archive(archive, "north", "live")


async def _removed(log: RunLog, run: str) -> None:
    await log.library.remove(run)


async def _counted(log: RunLog, times: int) -> None:
    body = f'{{"trouble": {{"film_trip": {times}}}, "story": null, "damaged": false}}'
    await log.library.keep_summary("one", 2, COUNTED_BY, body)


async def _brought_back(log: RunLog) -> None:
    await log.library.bring_back("one")


def _state_of(archive: Archive, run: str) -> tuple[Any, ...]:
    asked = text("SELECT put_away_by, trouble FROM festoon.runs WHERE run = :run")
    with archive.owner.connect() as connection:
        return tuple(connection.execute(asked, {"run": run}).first() or (None, None))


def test_a_retired_site_is_told_so_and_goes_on_with_a_new_key(archive: Archive, north: str, tmp_path: Path) -> None:
    """What the archive no longer takes waits in the log."""
    with log_of(tmp_path, "one") as log:
        with forwarding(tmp_path, north) as forwarded:
            until(lambda: forwarded.lag().site)
            with archive.owner.begin() as owner:
                retire(owner, "site", "north")
            grow(log, "one", 1, 4)
            until(lambda: forwarded.lag().why)
            assert forwarded.lag().waiting == 4
        with archive.owner.begin() as owner:
            given = new_key(owner, "site", "north")
        with forwarding(tmp_path, archive.address.signed(*given)):
            arrives(archive, tmp_path, "north", "one")


def test_a_run_that_the_archive_let_go_of_is_not_sent_again(archive: Archive, north: str, tmp_path: Path) -> None:
    """Deleting is an act of the archive's; a site does not undo it."""
    with log_of(tmp_path, "one", "two") as log:
        grow(log, "one", 1, 4)
        with forwarding(tmp_path, north):
            arrives(archive, tmp_path, "north", "one")
        with archive.owner.begin() as owner:
            owner.execute(text("DELETE FROM festoon.events"))
            owner.execute(text("UPDATE festoon.runs SET deleted = now()"))
        grow(log, "one", 5, 6)
        with log_of(tmp_path / "other"), forwarding(tmp_path, north) as forwarded:
            until(lambda: forwarded.lag().site)
            grow(log, "two", 1, 1)
        assert in_archive(archive, "north", "one") == []


@pytest.mark.parametrize("year", [1999, 2099])
def test_a_site_whose_clock_is_years_off_is_taken_all_the_same(
    archive: Archive, north: str, tmp_path: Path, year: int
) -> None:
    """When a site was heard of is the archive's own time, and no clock of a site makes a month far from it."""
    with log_of(tmp_path) as log:
        log.create_run("off", PLAN, "larkspur.plan.toml", datetime(year, 1, 1, tzinfo=UTC))
        grow(log, "off", 1, 3)
        with forwarding(tmp_path, north):
            arrives(archive, tmp_path, "north", "off")
            until(lambda: _heard(archive))
    with archive.owner.connect() as connection:
        months = connection.execute(text("SELECT extract(year FROM month)::int FROM festoon.runs")).scalars()
        assert next(iter(months)) in {2020, datetime.now(UTC).year, datetime.now(UTC).year + 1}


def _heard(archive: Archive) -> bool:
    recent = text("SELECT count(*) FROM festoon.heard WHERE at > now() - interval '1 minute'")
    with archive.owner.connect() as connection:
        return bool(connection.execute(recent).scalar_one())


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ("mysql://a@b/c", r"found mysql://b/c; accepted is postgresql://"),
        ("postgresql://a:secret@b", r"found postgresql://b; accepted"),
        ("postgresql://a:secret@b:abc/c", "This is no address of an archive; accepted"),
        ("postgresql://a:secret@[::1/c", "; accepted"),
        ("postgresql://a@b/c?password=secret", r"found password after its \?; accepted"),
        ("postgresql://a@b/c?sslpassword=secret", r"found sslpassword after its \?; accepted"),
        ("nowhere.txt", "nowhere.txt cannot be read"),
    ],
)
def test_an_address_that_is_none(given: str, told: str) -> None:
    """One sentence says what was found, and never a password."""
    with pytest.raises(ArchiveFault, match=told) as raised:
        archive_address(given)
    assert "secret" not in str(raised.value)


def test_an_address_in_a_file(tmp_path: Path) -> None:
    """A password need not stand on a command line."""
    (tmp_path / "address").write_text("postgresql://a:secret@b/c\n", encoding="utf-8")
    assert str(archive_address(str(tmp_path / "address"))) == "postgresql://b/c"
