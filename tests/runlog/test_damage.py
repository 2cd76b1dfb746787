"""Bytes that changed on the disk: what they took is told, by run and number, and the rest is there."""

import shutil
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from server.runlog import RunLog, RunLogFault, StoredRuns
from server.runlog.damage import MENDED
from server.runlog.migrations import MIGRATIONS
from server.runlog.rows import Lost
from tests.runlog.damaging import EVENTS, RUNS, flip, judged, places, written
from tests.runlog.logs import ZERO, event

FLIPPED = 40


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sound log, to be copied."""
    return written(tmp_path_factory.mktemp("whole"))


@pytest.fixture(scope="module")
def killed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A log as a kill leaves it: most of it is written ahead."""
    return written(tmp_path_factory.mktemp("killed"), ahead=True)


def damaged(whole: Path, folder: Path, at: int, file: str = "festoon.db") -> Path:
    """A copy with forty bytes flipped."""
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(whole, folder)
    flip(folder / file, at, FLIPPED, at)
    return folder


def test_a_sound_log_is_left_as_it_is(whole: Path, tmp_path: Path) -> None:
    """Nothing is set aside, noted or lost of a log that nothing befell."""
    shutil.copytree(whole, folder := tmp_path / "data")
    assert judged(folder) == (0, [])
    assert not list(folder.glob("*damaged*"))


def test_whatever_page_is_damaged_every_event_is_there_or_told(whole: Path, tmp_path: Path) -> None:
    """Forty bytes anywhere in the file: each event is there as it was or told as lost, and most are there."""
    file, most = whole / "festoon.db", 0
    for at in places(file, FLIPPED):
        lost, wrong = judged(damaged(whole, tmp_path / "data", at))
        assert wrong == [], f"bytes {at} to {at + FLIPPED}"
        most = max(most, lost)
    assert most < EVENTS // 2


def test_whatever_frame_is_damaged_every_event_is_there_or_told(killed: Path, tmp_path: Path) -> None:
    """The same of what was written ahead, which SQLite would pass over from the first wrong byte on."""
    file, at_places = killed / "festoon.db-wal", []
    for at in range(0, file.stat().st_size - FLIPPED, 4096 + 24):
        at_places += [at, at + 2000]
    step = max(1, len(at_places) // 60)
    for at in at_places[::step]:
        _, wrong = judged(damaged(killed, tmp_path / "data", at, "festoon.db-wal"))
        assert wrong == [], f"bytes {at} to {at + FLIPPED}"


async def test_a_damaged_log_goes_on(whole: Path, tmp_path: Path) -> None:
    """New events have numbers after those that are lost, the damaged file is kept, and it is told once."""
    folder = damaged(whole, tmp_path / "data", _page_of_events(whole))
    before = (folder / "festoon.db").read_bytes()
    with closing(RunLog.open(folder)) as log:
        lost = {run: log.lost(run) for run in RUNS}
        assert any(lost.values())
        last = max(stored.seq for stored in log.events("r1"))
        assert await log.append("r1", event("after"), ZERO) == last + 1
        assert (folder / "festoon.damaged-1.db").read_bytes() == before
    with closing(RunLog.open(folder)) as log:
        assert {run: log.lost(run) for run in RUNS} == lost
        assert not (folder / "festoon.damaged-2.db").exists()
        notes = [stored for stored in log.events("r1") if "was damaged" in (stored.event.text or "")]
        assert len(notes) == bool(lost["r1"])


def test_what_is_lost_is_told_on_the_programs_own_log(
    whole: Path, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """Whoever starts the server reads of which run which events are lost, and where the damaged file is."""
    folder = damaged(whole, tmp_path / "data", _page_of_events(whole))
    RunLog.open(folder).close()
    assert "The log was damaged" in caplog.text
    assert "of this run are lost; the damaged file is kept as festoon.damaged-1.db" in caplog.text


def test_a_reader_has_what_can_be_saved_and_leaves_the_file(whole: Path, tmp_path: Path) -> None:
    """A debrief of a damaged log says what is lost, without a server and without a change to the file."""
    folder = damaged(whole, tmp_path / "data", _page_of_events(whole))
    before = {path.name: path.read_bytes() for path in folder.glob("*.db")}
    with closing(StoredRuns.reading(folder)) as log:
        told = [line for run in RUNS for line in log.lacking(run)]
        assert any("The log was damaged: event" in line for line in told)
        assert sum(len(log.events(run)) for run in RUNS) > EVENTS
    assert {path.name: path.read_bytes() for path in folder.glob("*.db")} == before


@pytest.mark.parametrize("column", ["body", "arrived", "id"])
def test_a_row_that_changed_is_known_by_its_checksum(whole: Path, tmp_path: Path, column: str) -> None:
    """One sign of one event becomes another, in a file that SQLite finds nothing wrong with: that event is lost."""
    shutil.copytree(whole, folder := tmp_path / "data")
    engine = create_engine(f"sqlite:///{folder}/festoon.db")
    with engine.begin() as on:
        changed = {"body": "replace(body, 'r1 9 x', 'r1 9 y')", "arrived": "'2026-03-14T23:51:00Z'", "id": "'e99'"}
        on.execute(text(f"UPDATE events SET {column} = {changed[column]} WHERE run = 'r1' AND seq = 9"))
    engine.dispose()
    lost, wrong = judged(folder)
    assert (lost, wrong) == (1, [])
    with closing(RunLog.open(folder)) as log:
        assert log.lost("r1") == [Lost(9, 9)]
        notes = [stored.event.text for stored in log.events("r1") if "damaged" in (stored.event.text or "")]
        assert notes == ["The log was damaged: event 9 of this run is lost."]


def test_a_log_without_checksums_is_saved_too(whole: Path, tmp_path: Path) -> None:
    """A damaged log of an earlier version becomes a sound one of this, with what could be read."""
    folder = tmp_path / "old"
    folder.mkdir()
    engine = create_engine(f"sqlite:///{folder}/festoon.db")
    with engine.begin() as on, closing(RunLog.open(whole)) as new:
        for migration in MIGRATIONS[:3]:
            migration(on)
        on.execute(text("UPDATE festoon_log SET version = 3"))
        with new._engine.connect() as there:
            for table, keys in (("runs", 4), ("events", 5)):
                for row in there.execute(text(f"SELECT * FROM {table}")):
                    on.exec_driver_sql(f"INSERT INTO {table} VALUES ({','.join('?' * keys)})", tuple(row)[:keys])
    engine.dispose()
    for at in list(places(folder / "festoon.db", FLIPPED))[1::5]:
        shutil.rmtree(copy := tmp_path / "data", ignore_errors=True)
        shutil.copytree(folder, copy)
        flip(copy / "festoon.db", at, FLIPPED, at)
        _, wrong = judged(copy)
        # Without checksums a letter of a text may be another; nothing may be gone unsaid.
        assert [line for line in wrong if "is another" not in line] == [], f"bytes {at} to {at + FLIPPED}"


@pytest.mark.parametrize("stopped_at", ["rename", "unlink"])
def test_mending_that_was_stopped_half_way_is_completed(
    whole: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stopped_at: str
) -> None:
    """A power cut while the damaged file is set aside loses nothing that had been saved."""
    folder = damaged(whole, tmp_path / "data", _page_of_events(whole))
    with monkeypatch.context() as broken:
        broken.setattr(Path, stopped_at, _failing_once_there_is(folder / MENDED, getattr(Path, stopped_at)))
        with pytest.raises(RunLogFault):
            RunLog.open(folder)
    _, wrong = judged(folder)
    assert wrong == []
    assert (folder / "festoon.damaged-1.db").exists()


def _failing_once_there_is(file: Path, call: Callable[..., object]) -> Callable[..., object]:
    def failing(self: Path, *given: object, **named: object) -> object:
        if file.exists():
            raise OSError("pulled")
        return call(self, *given, **named)

    return failing


def test_a_run_whose_plan_is_lost_goes_on_with_the_plan(whole: Path, tmp_path: Path) -> None:
    """Its events are there, it says that its plan is lost, and takes the plan again."""
    shutil.copytree(whole, folder := tmp_path / "data")
    data = (folder / "festoon.db").read_bytes()
    # The row of the run's plan, by what only that has in it.
    at = data.index(b"r1x.plan.tomltitle = 'x'")
    flip(folder / "festoon.db", at + 12, 10, 1)
    engine = create_engine(f"sqlite:///{folder}/festoon.db")
    engine.dispose()
    flip(folder / "festoon.db", _page_of_events(whole), FLIPPED, 1)
    with closing(RunLog.open(folder)) as log:
        (run,) = (run for run in log.runs() if run.run_id == "r1")
        assert run.plan_text == ""
        log.restore_plan("r1", "title = 'x'", "x.plan.toml")
    with closing(RunLog.open(folder)) as log:
        assert {run.run_id: run.plan_text for run in log.runs()} == dict.fromkeys(RUNS, "title = 'x'")
        assert log.events("r1")


def _page_of_events(whole: Path) -> int:
    """The head of a page that holds rows of events."""
    data = (whole / "festoon.db").read_bytes()
    return data.index(b'"text":"r1 10 ') // 4096 * 4096
