"""What is wrong with a disk, a folder or a file is one plain sentence with what to do."""

import asyncio
import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from server.live import Hub, LiveRun, Refused, Taken
from server.runlog import RunLog, RunLogFault
from tests.live.fakes import PLAN, ManualClock, Timers, tap
from tests.runlog.logs import ZERO, add_run, event

OPEN = """
import sys
from server.runlog import RunLog, RunLogFault
import asyncio
import os
if os.geteuid() == 0:
    os.setuid(65534)
try:
    RunLog.open(sys.argv[1]).close()
except RunLogFault as fault:
    print(fault)
else:
    print("opened")
"""


def opened_as_nobody(folder: Path) -> str:
    """What a process says that opens the folder without the rights of root."""
    done = subprocess.run(
        [sys.executable, "-c", OPEN, folder], capture_output=True, text=True, check=True, cwd=Path.cwd()
    )
    return done.stdout.strip()


def test_a_folder_that_cannot_be_written(tmp_path: Path) -> None:
    """A read-only folder is told as one, and what would help."""
    folder = tmp_path / "data"
    folder.mkdir()
    open_to_pass_through(tmp_path)
    folder.chmod(0o555)
    assert opened_as_nobody(folder) == (
        f"The log in {folder} cannot be written: let this user write there,"
        " or give this one another folder (FESTOON_DATA)."
    )


def test_a_log_that_cannot_be_written(tmp_path: Path) -> None:
    """So is a log that belongs to somebody else."""
    RunLog.open(tmp_path / "data").close()
    open_to_pass_through(tmp_path)
    (tmp_path / "data").chmod(0o777)
    for path in (tmp_path / "data").iterdir():
        path.chmod(0o444)
    assert "cannot be written: let this user write there" in opened_as_nobody(tmp_path / "data")


def open_to_pass_through(folder: Path) -> None:
    """Let another user reach what is in a test's folder, whose parents pytest keeps to itself."""
    for path in (folder, *folder.parents):
        if path.stat().st_uid == os.geteuid() and "pytest" in str(path):
            path.chmod(0o755)


def test_a_file_that_is_no_database(tmp_path: Path) -> None:
    """A file of that name with something else in it is told, and left as it is."""
    (tmp_path / "festoon.db").write_bytes(b"not a database" * 100)
    with pytest.raises(RunLogFault, match=r"is not a Festoon log, or is damaged .*: put it aside, or"):
        RunLog.open(tmp_path)
    assert (tmp_path / "festoon.db").read_bytes() == b"not a database" * 100


def test_a_folder_that_is_a_file(tmp_path: Path) -> None:
    """A file where the folder should be is told too."""
    (tmp_path / "data").write_text("")
    with pytest.raises(RunLogFault, match=f"{tmp_path}/data cannot be used"):
        RunLog.open(tmp_path / "data")


def test_a_second_festoon_on_the_same_folder(tmp_path: Path) -> None:
    """Two processes never write one log: the second is told; when the first has ended it can open."""
    log = RunLog.open(tmp_path)
    tmp_path.chmod(0o777)
    done = subprocess.run(
        [sys.executable, "-c", OPEN.replace("os.setuid(65534)", "pass"), tmp_path],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == (
        f"Another Festoon is using {tmp_path}: stop it, or give this one another folder (FESTOON_DATA)."
    )
    with pytest.raises(RunLogFault, match="Another Festoon"):
        RunLog.open(tmp_path)
    log.close()
    RunLog.open(tmp_path).close()


async def test_a_log_locked_by_another_program(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A program that keeps the file for itself is told of, at the start and at a write; after it, writing goes on."""
    monkeypatch.setattr("server.runlog.sqlite.PATIENCE_MS", 20)
    log = add_run(RunLog.open(tmp_path))
    other = sqlite3.connect(tmp_path / "festoon.db", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(RunLogFault, match="locked by another program: close that program"):
        await log.append("r1", event("e1"), ZERO)
    log.close()
    with pytest.raises(RunLogFault, match="locked by another program: close that program"):
        RunLog.open(tmp_path)
    other.execute("ROLLBACK")
    other.close()
    log = RunLog.open(tmp_path)
    assert await log.append("r1", event("e1"), ZERO) == 1
    log.close()


async def test_a_full_database_takes_events_again_when_there_is_room(tmp_path: Path) -> None:
    """SQLITE_FULL (here by SQLite's own page limit) is told; the same log goes on once there is room, nothing lost."""
    log = add_run(RunLog.open(tmp_path))
    assert await log.append("r1", event("e1"), ZERO) == 1
    limit(log, 1)
    taken = ["e1"] + await until_full(log)
    with pytest.raises(RunLogFault, match="is full"):
        await log.append("r1", event("still", text="x" * 2000), ZERO)
    limit(log, 1 << 30)
    assert await log.append("r1", event("still", text="x" * 2000), ZERO) == len(taken) + 1
    assert [stored.event.id for stored in log.events("r1")] == [*taken, "still"]
    log.close()


async def until_full(log: RunLog) -> list[str]:
    """Append until there is no room; the ids that were acknowledged."""
    taken: list[str] = []
    told = ""
    while not told and len(taken) < 1000:
        try:
            await log.append("r1", event(f"full {len(taken)}", text="x" * 2000), ZERO)
            taken.append(f"full {len(taken)}")
        except RunLogFault as fault:
            told = str(fault)
    assert "is full: free some space and send it again" in told
    return taken


def limit(log: RunLog, pages: int) -> None:
    """Let the connection that writes have no more pages than there are, or than told."""
    log._writer.ask(lambda on: len(on.exec_driver_sql(f"PRAGMA max_page_count = {pages}").all())).result()


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 1 MB of its own."""
    if os.geteuid() != 0:
        pytest.skip("only root can mount a small disk")
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "none", tmp_path], check=False, capture_output=True, text=True
    )
    if mounted.returncode:
        pytest.skip(f"this system mounts no tmpfs: {mounted.stderr.strip()}")
    yield tmp_path
    subprocess.run(["umount", tmp_path], check=True)


async def test_a_full_disk_takes_events_again_when_there_is_room(small_disk: Path) -> None:
    """On a disk that fills up events are refused as long as it is full, and every acknowledged one is there after."""
    log = add_run(RunLog.open(small_disk))
    ballast = small_disk / "ballast"
    room = os.statvfs(small_disk)
    ballast.write_bytes(b"x" * room.f_bavail * room.f_frsize)
    taken = await until_full(log)
    ballast.unlink()
    await log.append("r1", event("after"), ZERO)
    log.close()
    again = RunLog.open(small_disk)
    assert [stored.event.id for stored in again.events("r1")] == [*taken, "after"]
    again.close()


async def test_a_folder_that_was_moved_away_takes_nothing(tmp_path: Path) -> None:
    """What nobody would find is not written; put back, the log goes on, with nothing lost or doubled."""
    log = add_run(RunLog.open(tmp_path / "data"))
    assert await log.append("r1", event("e1"), ZERO) == 1
    (tmp_path / "data").rename(tmp_path / "elsewhere")
    with pytest.raises(RunLogFault, match=r"no longer in .*/data: it was moved, deleted or covered"):
        await log.append("r1", event("e2"), ZERO)
    (tmp_path / "elsewhere").rename(tmp_path / "data")
    assert await log.append("r1", event("e2"), ZERO) == 2
    log.close()


async def test_another_log_in_its_place_takes_nothing(tmp_path: Path) -> None:
    """A folder that is covered by another one, as by a disk mounted over it, is told too."""
    log = add_run(RunLog.open(tmp_path / "data"))
    (tmp_path / "data").rename(tmp_path / "elsewhere")
    RunLog.open(tmp_path / "data").close()
    with pytest.raises(RunLogFault, match="no longer in"):
        await log.append("r1", event("e1"), ZERO)
    log.close()


async def test_a_copy_in_its_place_is_told_and_used_after_a_new_start(tmp_path: Path) -> None:
    """The sentence says of a copy what is true of it: it takes nothing before the server is started again."""
    log = add_run(RunLog.open(tmp_path / "data"))
    assert await log.append("r1", event("e1"), ZERO) == 1
    (tmp_path / "data").rename(tmp_path / "elsewhere")
    shutil.copytree(tmp_path / "elsewhere", tmp_path / "data")
    with pytest.raises(RunLogFault, match="a copy of it is used once the server is started again"):
        await log.append("r1", event("e2"), ZERO)
    log.close()
    with closing(RunLog.open(tmp_path / "data")) as again:
        assert await again.append("r1", event("e2"), ZERO) == 2


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (sqlite3.SQLITE_READONLY, "cannot be written: let this user write there"),
        (sqlite3.SQLITE_IOERR, "failed"),
        (sqlite3.SQLITE_FULL, "is full"),
        (sqlite3.SQLITE_BUSY, "locked by another program"),
    ],
)
async def test_a_database_that_fails_is_asked_once_and_goes_on_after(tmp_path: Path, code: int, words: str) -> None:
    """All that waits has the one answer, not each its own attempt; when it works again, nothing is lost or doubled."""
    log = add_run(RunLog.open(tmp_path))
    error = sqlite3.OperationalError("made for this test")
    error.sqlite_errorcode = code
    attempts = 0

    def failing() -> None:
        nonlocal attempts
        attempts += 1
        raise error

    before, log._writer._before = log._writer._before, failing
    writes = [log.append("r1", event(f"e{number}"), ZERO) for number in range(50)]
    answers = await asyncio.gather(*writes, return_exceptions=True)
    assert all(isinstance(answer, RunLogFault) and words in str(answer) for answer in answers)
    assert attempts <= len(writes) // 2
    log._writer._before = before
    assert [await log.append("r1", event(f"e{number}"), ZERO) for number in range(3)] == [1, 2, 3]
    log.close()


async def test_a_run_on_a_full_disk_goes_on_and_is_written_when_there_is_room(small_disk: Path) -> None:
    """With a real disk: what was seen while it was full counts at once, is not taken, and is on disk later, once."""
    log = RunLog.open(small_disk)
    log.create_run("r1", "title = 'x'", "x.plan.toml", ZERO)
    run = LiveRun("r1", PLAN, ManualClock(100.0), log, Hub(), call_later=Timers().call_later)
    run.start()
    assert isinstance(await run.take(tap("start", 50.0)), Taken)
    ballast = small_disk / "ballast"
    room = os.statvfs(small_disk)
    ballast.write_bytes(b"x" * room.f_bavail * room.f_frsize)
    answers: list[Taken | Refused] = []
    while not answers or isinstance(answers[-1], Taken):
        answers.append(await run.take(tap(f"full {len(answers)}", 60.0, "note", text="x" * 2000)))
    stop = await run.take(tap("stop", 99.0, "motor_stop"))
    assert isinstance(stop, Refused)
    assert stop.known
    assert not run.view.stations[0].running
    assert "is full" in run.warnings["log"]
    ballast.unlink()
    async with asyncio.timeout(20.0):
        while run.warnings:
            run.beat()
            await asyncio.sleep(0.01)
    run.stop()
    log.close()
    again = RunLog.open(small_disk)
    ids = [stored.event.id for stored in again.events("r1")]
    assert ids == ["start", *(f"full {number}" for number in range(len(answers))), "stop"]
    again.close()
