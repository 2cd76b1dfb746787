"""Bytes that changed on the disk: what they took is told, by run and number, and the rest is there."""

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine, text

from server.access import Pairing
from server.runlog import RunLog, RunLogFault, StoredRuns
from server.runlog.damage import is_damaged
from server.runlog.migrations import MIGRATIONS
from server.runlog.pages import Ahead, found_in
from server.runlog.rows import Lost
from tests.runlog.damaging import EVENTS, RUNS, flip, judged, places, written
from tests.runlog.logs import ZERO, add_run, event

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
    changed = {"body": "replace(body, 'r1 9 x', 'r1 9 y')", "arrived": "'2026-03-14T23:51:00Z'", "id": "'e99'"}
    change(folder, f"UPDATE events SET {column} = {changed[column]} WHERE run = 'r1' AND seq = 9")
    lost, wrong = judged(folder)
    assert (lost, wrong) == (1, [])
    with closing(RunLog.open(folder)) as log:
        assert log.lost("r1") == [Lost(9, 9, "festoon.damaged-1.db")]
        notes = [stored.event.text for stored in log.events("r1") if "damaged" in (stored.event.text or "")]
        kept = "the damaged file is kept as festoon.damaged-1.db"
        assert notes == [f"The log was damaged: event 9 of this run is lost; {kept}."]


def change(folder: Path, statement: str) -> None:
    """Change rows of a log past Festoon, so that SQLite finds nothing wrong with them."""
    with closing(sqlite3.connect(folder / "festoon.db")) as log:
        log.execute(statement)
        log.commit()


def test_a_time_that_changed_is_in_nobodys_way(whole: Path, tmp_path: Path) -> None:
    """One letter of the arrival of a run's last event is another: the log opens, and says when the one before came."""
    shutil.copytree(whole, folder := tmp_path / "data")
    change(folder, f"UPDATE events SET arrived = replace(arrived, 'T', '?') WHERE run = 'r1' AND seq = {EVENTS}")
    with closing(RunLog.open(folder)) as log:
        assert log.lost("r1") == [Lost(EVENTS, EVENTS, "festoon.damaged-1.db")]
        assert log.extents()["r1"] == log.extent("r1") == (EVENTS + 1, ZERO)


@pytest.mark.parametrize(
    "changed", ["created = replace(created, 'T', '?')", "plan_text = 'title'", "plan_name = 'y.plan.toml'"]
)
def test_a_run_whose_row_changed_has_lost_its_plan(
    whole: Path, tmp_path: Path, caplog: pytest.LogCaptureFixture, changed: str
) -> None:
    """That is told at the start; all its events are there, and the run goes on once it has its plan again."""
    shutil.copytree(whole, folder := tmp_path / "data")
    change(folder, f"UPDATE runs SET {changed} WHERE id = 'r1'")
    with closing(RunLog.open(folder)) as log:
        assert "r1: its plan was lost" in caplog.text
        assert [(run.run_id, run.plan_text) for run in log.runs()] == [("r1", ""), ("r2", "title = 'x'")]
        assert len(log.events("r1")) == EVENTS
        log.restore_plan("r1", "title = 'x'", "x.plan.toml")
    with closing(RunLog.open(folder)) as log:
        assert [run.plan_text for run in log.runs()] == ["title = 'x'"] * 2
        assert not (folder / "festoon.damaged-2.db").exists()


async def test_an_event_that_damage_took_can_be_sent_again(whole: Path, tmp_path: Path) -> None:
    """Its id is free, and it gets a new number."""
    shutil.copytree(whole, folder := tmp_path / "data")
    change(folder, "UPDATE events SET body = replace(body, 'x', 'y') WHERE run = 'r1' AND seq = 5")
    with closing(RunLog.open(folder)) as log:
        last = log.extent("r1").events
        assert await log.append("r1", event("e5", 5.0), ZERO) == last + 1


def test_damage_that_is_found_while_the_log_is_open_is_told_plainly(whole: Path, tmp_path: Path) -> None:
    """A loss can be noted where the last arrival is no time any more; whoever asks for that gets a sentence."""
    shutil.copytree(whole, folder := tmp_path / "data")
    with closing(RunLog.open(folder)) as log:
        change(folder, f"UPDATE events SET arrived = replace(arrived, 'T', '?') WHERE run = 'r1' AND seq = {EVENTS}")
        for asked in (log.extents, lambda: log.extent("r1")):
            with pytest.raises(RunLogFault, match=r"is damaged \(found .* start the server again"):
                asked()
        log.note_damage("r1", ZERO)
        assert log.noted_losses("r1") == [Lost(EVENTS, EVENTS)]


def test_a_log_that_is_written_meanwhile_is_no_damaged_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What another program commits between two questions about a log makes them no different."""
    add_run(RunLog.open(tmp_path)).close()
    file, connect, rows = tmp_path / "festoon.db", sqlite3.connect, iter(range(1, 100))
    with closing(connect(file, isolation_level=None)) as writer:

        class Beside(sqlite3.Connection):
            def execute(self, *asked: Any) -> sqlite3.Cursor:
                if asked[0] != "BEGIN":
                    row = ("r1", next(rows), "2026-03-14T23:50:00Z", "{}", None)
                    writer.execute("INSERT INTO events VALUES (?1, ?2, 'e' || ?2, ?3, ?4, ?5)", row)
                return super().execute(*asked)

        monkeypatch.setattr(sqlite3, "connect", lambda *given, **named: connect(*given, factory=Beside, **named))
        assert not is_damaged(file)
        assert next(rows) > len(("quick_check", "rows", "runs"))


def test_a_file_that_is_cut_short_in_the_list_of_free_pages_is_read(tmp_path: Path) -> None:
    """What is there before the cut is found."""
    with closing(sqlite3.connect(tmp_path / "x.db")) as log:
        log.execute("CREATE TABLE kept (a)")
        log.execute("INSERT INTO kept VALUES ('kept')")
        log.execute("CREATE TABLE gone (a)")
        log.executemany("INSERT INTO gone VALUES (?)", [("x" * 3000,)] * 30)
        log.commit()
        log.execute("DELETE FROM gone")
        log.commit()
    data = (tmp_path / "x.db").read_bytes()
    trunk = int.from_bytes(data[32:36], "big")
    assert ("kept",) in found_in(data[: (trunk - 1) * 4096 + 16], Ahead({})).rows


async def test_a_withdrawn_device_stays_away_though_its_withdrawal_is_damaged(tmp_path: Path) -> None:
    """Of what was written ahead the page with the withdrawal is damaged, and an older copy of it is sound."""
    device = Pairing("p1", "Ida", "booth", "ab" * 32, "cd" * 8, ZERO, ZERO + timedelta(days=30))
    with closing(add_run(RunLog.open(tmp_path / "live"))) as log:
        await log.devices.add(device)
        await log.append("r1", event("e1"), ZERO)
        await log.devices.withdraw("p1", ZERO + timedelta(seconds=5))
        await log.append("r1", event("e2"), ZERO)
        killed = shutil.copytree(tmp_path / "live", tmp_path / "killed")
    ahead = killed / "festoon.db-wal"
    # In the empty middle of its page.
    at = ahead.read_bytes().rindex(b"2026-03-14T23:50:05Z")
    flip(ahead, 32 + (at - 32) // 4120 * 4120 + 24 + 600, 1, 1)
    with closing(RunLog.open(killed)) as log:
        assert log.devices.pairings() == []
        assert [stored.event.id for stored in log.events("r1")] == ["e1", "e2"]


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


@pytest.mark.parametrize("renames", range(5))
def test_mending_that_was_stopped_half_way_is_completed(
    killed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, renames: int
) -> None:
    """A power cut while the damaged file is set aside loses nothing that had been saved, and all of it has one name."""
    folder = damaged(killed, tmp_path / "data", 32 + 4120 + 24, "festoon.db-wal")
    before = {path.name: path.read_bytes() for path in folder.glob("festoon.db*")}
    with monkeypatch.context() as broken:
        broken.setattr(Path, "rename", _failing_after(renames, Path.rename))
        with pytest.raises(RunLogFault):
            RunLog.open(folder)
    _, wrong = judged(folder)
    assert wrong == []
    kept = {path.name.replace(".damaged-1", ""): path.read_bytes() for path in folder.glob("*.damaged-1.*")}
    assert {name: kept.get(name) for name in before if "shm" not in name} == {
        name: data for name, data in before.items() if "shm" not in name
    }
    assert not list(folder.glob("*.damaged-2.*"))
    assert not list(folder.glob("*mended*"))


def test_a_log_put_there_by_hand_while_mending_was_stopped_is_kept(
    killed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It takes the place of nothing: the damaged log, it, and what was saved are all there after the next start."""
    folder = damaged(killed, tmp_path / "data", 32 + 4120 + 24, "festoon.db-wal")
    before = (folder / "festoon.db").read_bytes()
    with monkeypatch.context() as broken:
        broken.setattr(Path, "rename", _failing_after(4, Path.rename))
        with pytest.raises(RunLogFault):
            RunLog.open(folder)
    (folder / "festoon.db").write_bytes(b"by hand")
    _, wrong = judged(folder)
    assert wrong == []
    assert (folder / "festoon.damaged-1.db").read_bytes() == before
    assert (folder / "festoon.damaged-2.db").read_bytes() == b"by hand"


def _failing_after(times: int, call: Callable[..., object]) -> Callable[..., object]:
    left = iter(range(times))

    def failing(self: Path, *given: object) -> object:
        if next(left, None) is None:
            raise OSError("pulled")
        return call(self, *given)

    return failing


def test_what_was_kept_of_an_earlier_log_stays(killed: Path, tmp_path: Path) -> None:
    """Also where only what was written ahead is left of it: a name is free if no part of a log has it."""
    folder = damaged(killed, tmp_path / "data", 32 + 4120 + 24, "festoon.db-wal")
    (folder / "festoon.damaged-1.db-wal").write_text("earlier")
    with closing(RunLog.open(folder)):
        assert (folder / "festoon.damaged-1.db-wal").read_bytes() == b"earlier"
        assert (folder / "festoon.damaged-2.db").exists()


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
