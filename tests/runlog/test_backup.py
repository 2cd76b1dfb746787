"""The log as one file, and back."""

import asyncio
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from server.access import Pairings, Signer, signing_key
from server.runlog import RunLog, RunLogFault
from server.runlog.backup import Copied, backup_to_file, restore_from_file
from server.runlog.sqlite import FILE
from tests.commands.logs import said
from tests.runlog.logs import ZERO, add_run, event


def write(folder: Path, count: int, first: int = 1) -> None:
    with closing(RunLog.open(folder)) as log:
        if first == 1:
            add_run(log)

        async def append() -> None:
            for n in range(first, first + count):
                await log.append("r1", event(f"e{n}"), ZERO)

        asyncio.run(append())


def ids(folder: Path) -> list[str]:
    with closing(RunLog.open(folder)) as log:
        return [stored.event.id for stored in log.events("r1")]


def test_a_backup_gives_back_the_log(tmp_path: Path) -> None:
    """What was in the log is in the backup, which is one file, and in the folder that it is restored to."""
    write(tmp_path / "data", 5)
    assert backup_to_file(str(tmp_path / "data"), tmp_path / "b.festoon") == Copied(1, 5)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["b.festoon", "data"]
    assert restore_from_file(tmp_path / "b.festoon", str(tmp_path / "new"), replace=False) == Copied(1, 5)
    assert ids(tmp_path / "new") == [f"e{n}" for n in range(1, 6)]


async def test_a_log_that_is_being_written_is_backed_up_whole(tmp_path: Path) -> None:
    """Beside a server that goes on writing: all that was acknowledged before is in it, in order, without a gap."""
    log = add_run(RunLog.open(tmp_path / "data"))
    writing = True

    async def write_on() -> None:
        n = 0
        while writing:
            n += 1
            await log.append("r1", event(f"e{n}"), ZERO)

    writer = asyncio.create_task(write_on())
    for number in range(3):
        await asyncio.sleep(0)
        known = len(log.events("r1"))
        file = tmp_path / f"b{number}.festoon"
        copied = await asyncio.to_thread(backup_to_file, str(tmp_path / "data"), file)
        assert copied.events >= known
        restore_from_file(file, str(tmp_path / f"new{number}"), replace=False)
    writing = False
    await writer
    log.close()
    for number in range(3):
        found = ids(tmp_path / f"new{number}")
        assert found == [f"e{n}" for n in range(1, len(found) + 1)]


def test_no_file_is_overwritten(tmp_path: Path) -> None:
    """A backup takes a new name."""
    write(tmp_path / "data", 1)
    (tmp_path / "b").write_text("mine")
    with pytest.raises(RunLogFault, match="nothing is overwritten"):
        backup_to_file(str(tmp_path / "data"), tmp_path / "b")
    assert (tmp_path / "b").read_text() == "mine"


def test_a_log_in_the_way_is_put_aside_only_when_told(tmp_path: Path) -> None:
    """Nothing that was ever written is lost to a restore."""
    write(tmp_path / "data", 2)
    backup_to_file(str(tmp_path / "data"), tmp_path / "b")
    write(tmp_path / "data", 2, first=3)
    with pytest.raises(RunLogFault, match=r"a log in .* already"):
        restore_from_file(tmp_path / "b", str(tmp_path / "data"), replace=False)
    assert len(ids(tmp_path / "data")) == 4
    for number in (1, 2):
        copied = restore_from_file(tmp_path / "b", str(tmp_path / "data"), replace=True)
        assert copied.aside == tmp_path / "data" / f"festoon.replaced-{number}.db"
        assert len(ids(tmp_path / "data")) == 2
    (tmp_path / "old").mkdir()
    (tmp_path / "data/festoon.replaced-1.db").rename(tmp_path / "old" / FILE)
    assert len(ids(tmp_path / "old")) == 4


@pytest.mark.parametrize("ending", ["-wal", "-shm", "-journal"])
def test_what_was_beside_a_log_that_is_gone_is_put_aside(tmp_path: Path, ending: str) -> None:
    """None of it gets into the log that is restored, nor over what was put aside before."""
    write(tmp_path / "data", 2)
    backup_to_file(str(tmp_path / "data"), tmp_path / "b")
    new = tmp_path / "new"
    new.mkdir()
    (new / f"festoon.replaced-1.db{ending}").write_text("earlier")
    (new / f"{FILE}{ending}").write_text("stale")
    copied = restore_from_file(tmp_path / "b", str(new), replace=False)
    assert copied.aside == new / f"festoon.replaced-2.db{ending}"
    assert copied.aside.read_text() == "stale"
    assert (new / f"festoon.replaced-1.db{ending}").read_text() == "earlier"
    assert ids(new) == ["e1", "e2"]


async def test_a_restore_lets_no_withdrawn_device_back_in(tmp_path: Path) -> None:
    """In the backup it is not withdrawn yet: no session is worth anything after it."""
    with closing(RunLog.open(tmp_path)) as log:
        pairings = Pairings(log.devices, Signer(signing_key(tmp_path)), lambda: ZERO)
        pairing, token = await pairings.add("Ida", "booth")
        backup_to_file(str(tmp_path), tmp_path / "b")
        await pairings.withdraw(pairing.id)
    restore_from_file(tmp_path / "b", str(tmp_path), replace=True)
    with closing(RunLog.open(tmp_path)) as log:
        pairings = Pairings(log.devices, Signer(signing_key(tmp_path)), lambda: ZERO)
        assert pairings.holder(token) is None


def test_a_folder_in_use_is_not_restored_to(tmp_path: Path) -> None:
    """A server that has the folder open keeps its log."""
    write(tmp_path / "data", 1)
    backup_to_file(str(tmp_path / "data"), tmp_path / "b")
    with closing(RunLog.open(tmp_path / "data")), pytest.raises(RunLogFault, match="Another Festoon is using"):
        restore_from_file(tmp_path / "b", str(tmp_path / "data"), replace=True)


def spoiled(path: Path) -> Path:
    """A backup with a page in its middle overwritten."""
    content = bytearray(path.read_bytes())
    content[len(content) // 2 : len(content) // 2 + 4096] = b"\x55" * 4096
    path.write_bytes(content)
    return path


def stranger(path: Path) -> Path:
    """Somebody else's database."""
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE takings (night TEXT)")
    return path


def test_what_is_no_backup_is_refused_and_changes_nothing(tmp_path: Path) -> None:
    """A damaged file, another program's, a newer one's and none at all are each told, before anything is touched."""
    write(tmp_path / "data", 300)
    backup_to_file(str(tmp_path / "data"), tmp_path / "b")
    backup_to_file(str(tmp_path / "data"), tmp_path / "newer")
    with closing(sqlite3.connect(tmp_path / "newer")) as newer:
        newer.execute("UPDATE festoon_log SET version = 99")
        newer.commit()
    (tmp_path / "text").write_text(
        "not a database, but long enough to be looked at as one, certainly more than 100 bytes" * 3
    )
    cases = {
        spoiled(tmp_path / "b"): "damaged|malformed",
        stranger(tmp_path / "other"): "not a backup of a Festoon log",
        tmp_path / "newer": "newer Festoon",
        tmp_path / "text": "not a Festoon log, or is damaged",
        tmp_path / "none": "There is no file",
    }
    for file, says in cases.items():
        with pytest.raises(RunLogFault, match=says):
            restore_from_file(file, str(tmp_path / "data"), replace=True)
    assert len(ids(tmp_path / "data")) == 300


def test_the_commands_do_both(tmp_path: Path) -> None:
    """`festoon backup` and `festoon restore` say what they copied; a fault is one sentence and status 2."""
    write(tmp_path / "data", 3)
    told = said("backup", tmp_path / "b", "--data", tmp_path / "data")
    assert (told.status, told.out) == (0, f"{tmp_path / 'b'}: 1 run with 3 events.\n")
    told = said("restore", tmp_path / "b", "--data", tmp_path / "new")
    assert (told.status, told.out) == (
        0,
        f"{tmp_path / 'new'}: 1 run with 3 events.\nEvery device is to be paired anew.\n",
    )
    told = said("restore", tmp_path / "b", "--data", tmp_path / "new")
    assert (told.status, told.err.count("\n"), "--replace" in told.err) == (2, 1, True)
    told = said("backup", tmp_path / "c", "--data", "postgresql://host/festoon")
    assert (told.status, "accepted is a folder" in told.err) == (2, True)
