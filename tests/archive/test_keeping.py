"""What an archive lets go of, and hands on: because somebody said so, and nothing else."""

import asyncio
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import text

from server.runlog import RunLog
from tests.archive.conftest import Archive
from tests.archive.sites import PLAN, arrives, branches, forwarding, grow, in_archive, in_log, log_of
from tests.archive.waiting import until
from tests.commands.logs import said
from tests.runlog.logs import ZERO

LATER = datetime(2026, 6, 1, tzinfo=UTC)


@pytest.fixture
def at(archive: Archive, tmp_path: Path) -> Path:
    path = tmp_path / "owner"
    path.write_text(archive.url, encoding="utf-8")
    return path


@pytest.fixture
def log(archive: Archive, tmp_path: Path) -> Path:
    """A site's log in the archive: one run of March, one of June that is put away."""
    folder = tmp_path / "log"
    with log_of(folder, "march") as log, forwarding(folder, archive.site("north")):
        log.create_run("june", PLAN, "larkspur.plan.toml", LATER)
        grow(log, "march", 1, 3)
        grow(log, "june", 1, 4)
        asyncio.run(_put_away(log))
        for run in ("march", "june"):
            arrives(archive, folder, "north", run)
        until(lambda: _put_away_of(archive) == ["Ada"])
    return folder


async def _put_away(log: RunLog) -> None:
    await log.library.archive("june", ZERO, "Ada")


def _put_away_of(archive: Archive) -> list[str]:
    with archive.owner.connect() as connection:
        asked = text("SELECT put_away_by FROM festoon.runs WHERE put_away_by IS NOT NULL")
        return list(connection.execute(asked).scalars())


def months(archive: Archive) -> list[str]:
    asked = text("SELECT relname FROM pg_class WHERE relname LIKE 'events_2026_0%' AND relkind = 'r'")
    with archive.owner.connect() as connection:
        return sorted(connection.execute(asked).scalars())


def test_a_run_is_removed_only_when_it_is_said_twice(archive: Archive, log: Path, at: Path) -> None:
    """It is gone then, and its site does not send it again."""
    told = said("archive", "remove", "north", "march", "--archive", at)
    assert (told.status, "say --yes" in told.err) == (2, True)
    told = said("archive", "remove", "north", "march", "--yes", "--archive", at)
    assert told.out == "north: march is removed, with its 3 events.\n"
    assert said("archive", "remove", "north", "march", "--yes", "--archive", at).status == 2
    with archive.owner.connect() as connection:
        left = connection.execute(text("SELECT plan_text FROM festoon.runs WHERE run = 'march'")).scalar_one()
    assert (left, in_archive(archive, "north", "march"), len(in_archive(archive, "north", "june"))) == ("", [], 4)


def test_a_run_that_is_removed_while_its_site_sends_stays_away(archive: Archive, at: Path, tmp_path: Path) -> None:
    """The site finds that it is not wanted any more, and goes on with its other runs."""
    with log_of(tmp_path / "log", "one", "two") as log, forwarding(tmp_path / "log", archive.site("north")):
        grow(log, "one", 1, 3)
        arrives(archive, tmp_path / "log", "north", "one")
        assert said("archive", "remove", "north", "one", "--yes", "--archive", at).status == 0
        grow(log, "one", 4, 6)
        grow(log, "two", 1, 2)
        arrives(archive, tmp_path / "log", "north", "two")
    assert (in_archive(archive, "north", "one"), branches(archive, "north")) == ([], ["one", "two"])


def test_old_months_go_at_once(archive: Archive, log: Path, at: Path) -> None:
    """First it is said how much that is; then whole months go, and what is younger stays."""
    told = said("archive", "forget", "--before", "2026-06", "--archive", at)
    assert (told.status, "1 run with 3 events" in told.err) == (2, True)
    assert months(archive) == ["events_2026_03", "events_2026_06"]
    told = said("archive", "forget", "--before", "2026-06", "--yes", "--archive", at)
    assert told.out == "1 run with 3 events is gone, all of before 2026-06.\n"
    assert months(archive) == ["events_2026_06"]
    assert (in_archive(archive, "north", "march"), len(in_archive(archive, "north", "june"))) == ([], 4)


def test_a_site_is_handed_on_as_a_log(archive: Archive, log: Path, at: Path, tmp_path: Path) -> None:
    """A site that lost its disk has its log back, to the last byte of every event, and goes on where it was."""
    told = said("archive", "export", "north", tmp_path / "north.db", "--archive", at)
    assert told.out == f"{tmp_path / 'north.db'}: 2 runs with 7 events.\n"
    assert said("restore", tmp_path / "north.db", "--data", tmp_path / "new").status == 0
    for run in ("march", "june"):
        assert in_log(tmp_path / "new", run) == in_log(log, run)
    with closing(RunLog.open(tmp_path / "new")) as restored:
        assert (restored.lacking("march"), list(restored.archived())) == ([], ["june"])
        with archive.owner.begin() as owner:
            from server.archive.roles import new_key

            given = new_key(owner, "site", "north")
        with forwarding(tmp_path / "new", archive.address.signed(*given)):
            grow(restored, "march", 4, 5)
            arrives(archive, tmp_path / "new", "north", "march")
    assert branches(archive, "north") == ["june", "march"]
    assert said("archive", "export", "nowhere", tmp_path / "x.db", "--archive", at).status == 2
