"""Nobody but the user whose log it is reads it: it has whole shows, and who is paired."""

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from server.runlog import RunLog
from server.runlog.backup import backup_to_file, restore_from_file
from server.runlog.sqlite import FILE
from tests.runlog.logs import ZERO, add_run, event

pytestmark = pytest.mark.skipif(os.name != "posix", reason="modes are POSIX's")


@contextmanager
def careless() -> Iterator[None]:
    """A user whose files anybody may read and write unless told."""
    before = os.umask(0)
    try:
        yield
    finally:
        os.umask(before)


def modes(folder: Path) -> dict[str, int]:
    return {path.name: stat.S_IMODE(path.stat().st_mode) for path in [folder, *folder.glob(f"{FILE}*")]}


async def test_a_new_log_is_its_users_alone(tmp_path: Path) -> None:
    """The folder that is made for it, the database, and what is beside it while it is written."""
    folder = tmp_path / "new"
    with careless():
        log = add_run(RunLog.open(folder))
        await log.append("r1", event("e1"), ZERO)
        found = modes(folder)
        log.close()
    assert found.pop("new") == 0o700
    assert set(found) == {FILE, f"{FILE}-wal", f"{FILE}-shm"}
    assert set(found.values()) == {0o600}


def test_a_folder_that_was_there_is_left_as_it_is(tmp_path: Path) -> None:
    """It is somebody's own; the log in it is private all the same."""
    with careless():
        folder = tmp_path / "shared"
        folder.mkdir(mode=0o755)
        RunLog.open(folder).close()
    assert modes(folder) == {"shared": 0o755, FILE: 0o600}


def test_an_older_log_is_made_private(tmp_path: Path) -> None:
    """Those that were written before were for anybody to read."""
    RunLog.open(tmp_path).close()
    (tmp_path / FILE).chmod(0o644)
    RunLog.open(tmp_path).close()
    assert modes(tmp_path)[FILE] == 0o600


def test_a_backup_and_what_is_restored_from_it_are_as_private(tmp_path: Path) -> None:
    """A copy has all that the log has."""
    with careless():
        add_run(RunLog.open(tmp_path / "log")).close()
        backup_to_file(str(tmp_path / "log"), tmp_path / "backup.db")
        restore_from_file(tmp_path / "backup.db", str(tmp_path / "again"), replace=False)
    assert stat.S_IMODE((tmp_path / "backup.db").stat().st_mode) == 0o600
    assert modes(tmp_path / "again") == {"again": 0o700, FILE: 0o600}
