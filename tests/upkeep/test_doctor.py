"""What is told of an installation: each thing that can be wrong with it, and how it is mended."""

import os
import re
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import create_engine
from typer.testing import CliRunner

from server.access.certificates import LIFE, make_certificate
from server.cli import app
from server.clock import is_kept_in_step
from server.desk.listening import open_port
from server.runlog import RunLog, damage
from server.runlog.migrations import MIGRATIONS
from server.runlog.pages import Ahead, ahead_of
from server.runlog.sqlite import FILE
from server.settings import Settings
from server.upkeep import doctor
from server.upkeep.doctor import Finding, Looked, findings
from server.upkeep.service import NAMES, SERVICE, service_file
from tests.runlog.logs import ZERO, add_run, event

NOW = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
NAMES_HERE = ["booth", "booth.local", "localhost", "127.0.0.1"]
runner = CliRunner()


def looked(
    folder: Path,
    now: datetime = NOW,
    *,
    is_in_step: bool | None = True,
    names: Sequence[str] = tuple(NAMES_HERE),
    host: str = "127.0.0.1",
    port: int = 0,
    certificate: Path | None = None,
    key: Path | None = None,
) -> list[Finding]:
    settings = Settings(str(folder), host, port, str(certificate or "") or None, str(key or "") or None)
    return list(findings(Looked(settings, now, is_in_step, names)))


def wrong(found: list[Finding]) -> list[tuple[str, str]]:
    """What is not well, by level and what it is about; each says what mends it."""
    assert all(finding.remedy for finding in found if finding.level != "well")
    return [(finding.level, finding.about) for finding in found if finding.level != "well"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The folder of a log that is as it should be."""
    place = tmp_path / "log"
    add_run(RunLog.open(place)).close()
    return place


def test_nothing_is_wrong_with_what_is_as_it_should_be(folder: Path) -> None:
    """Everything is looked at, and well."""
    found = looked(folder)
    assert wrong(found) == []
    assert {finding.about for finding in found} == {"folder", "disk", "clock", "log", "port", "certificate", "pages"}


def test_before_the_first_start_nothing_is_wrong(tmp_path: Path) -> None:
    """That makes the folder; looking does not."""
    assert wrong(looked(tmp_path / "none")) == [("look", "folder")]
    assert not (tmp_path / "none").exists()


def test_a_file_where_the_folder_should_be(tmp_path: Path) -> None:
    """Nobody can run a server there."""
    (tmp_path / "log").write_text("not a folder", encoding="utf-8")
    assert ("bad", "folder") in wrong(looked(tmp_path / "log"))


def test_a_folder_where_nothing_can_be_made(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The system's own word is told."""

    def refuse(**_given: object) -> None:
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr(doctor.tempfile, "NamedTemporaryFile", refuse)  # type: ignore[attr-defined]
    found = looked(folder)
    assert wrong(found) == [("bad", "folder")]
    assert "Read-only file system" in found[0].found


@pytest.mark.skipif(os.name != "posix", reason="modes are POSIX's")
def test_what_others_may_read(folder: Path) -> None:
    """The folder and the log are for this user."""
    folder.chmod(0o755)
    (folder / FILE).chmod(0o644)
    assert wrong(looked(folder)) == [("look", "folder"), ("look", "folder")]


@pytest.mark.parametrize(("free", "level"), [(10_000_000, "bad"), (500_000_000, "look"), (5_000_000_000, None)])
def test_a_disk_that_is_full(folder: Path, monkeypatch: pytest.MonkeyPatch, free: int, level: str | None) -> None:
    """In good time, and when it is too late."""
    usage = doctor.shutil._ntuple_diskusage(10**12, 10**12 - free, free)  # type: ignore[attr-defined]
    monkeypatch.setattr(doctor.shutil, "disk_usage", lambda _path: usage)  # type: ignore[attr-defined]
    assert wrong(looked(folder)) == ([] if level is None else [(level, "disk")])


@pytest.mark.parametrize(
    ("now", "is_in_step", "expected"),
    [
        (NOW, None, []),
        (NOW, False, [("look", "clock")]),
        (datetime(1970, 1, 1, tzinfo=UTC), None, [("bad", "clock")]),
    ],
)
def test_a_clock_that_is_wrong(
    folder: Path, now: datetime, is_in_step: bool | None, expected: list[tuple[str, str]]
) -> None:
    """One without a battery begins in 1970; one that nothing keeps in step goes wrong slowly."""
    assert wrong(looked(folder, now, is_in_step=is_in_step)) == expected


def test_the_clock_is_only_asked() -> None:
    """The system says yes, no, or nothing of it."""
    assert is_kept_in_step() in {True, False, None}


async def test_a_log_that_is_damaged(folder: Path) -> None:
    """It is told, and left as it is."""
    with closing(sqlite3.connect(folder / FILE)) as log:
        log.execute("PRAGMA journal_mode = DELETE")
    whole = (folder / FILE).read_bytes()
    broken = whole[:4096] + b"\x5a" * 4096 + whole[8192:]
    (folder / FILE).write_bytes(broken)
    assert wrong(looked(folder)) == [("bad", "log")]
    assert (folder / FILE).read_bytes() == broken


def test_a_log_that_is_being_written_is_looked_at_again(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What looks damaged once, because another program is in the middle of a write, is well."""
    looks = iter([Ahead({}, damaged=[b"half"])])
    monkeypatch.setattr(damage, "ahead_of", lambda log: next(looks, None) or ahead_of(log))
    assert wrong(looked(folder)) == []


def test_a_log_of_another_version(folder: Path) -> None:
    """What a newer program wrote is not read."""
    with closing(sqlite3.connect(folder / FILE)) as log:
        log.execute("UPDATE festoon_log SET version = 99")
        log.commit()
    assert wrong(looked(folder)) == [("bad", "log")]


def test_a_port_that_another_program_has(folder: Path) -> None:
    """The server could not start."""
    with open_port("127.0.0.1", 0) as taken:
        found = looked(folder, port=taken.getsockname()[1])
    assert wrong(found) == [("bad", "port")]


def test_a_server_that_is_gone_is_told(folder: Path) -> None:
    """It was killed: where it was is written down still."""
    (folder / "serving.json").write_text('{"address": "http://127.0.0.1:9", "certificate": null}')
    (folder / "serving.json").chmod(0o600)
    assert wrong(looked(folder)) == [("bad", "server")]


@pytest.mark.parametrize(("key", "expected"), [(bytes(32), []), (b"short", [("bad", "sessions")])])
def test_the_key_of_paired_devices(folder: Path, key: bytes, expected: list[tuple[str, str]]) -> None:
    """One that is no key keeps a server from starting."""
    (folder / "session.key").write_bytes(key)
    (folder / "session.key").chmod(0o600)
    assert wrong(looked(folder)) == expected


@pytest.mark.parametrize(
    ("lapse", "names", "expected"),
    [
        (timedelta(0), NAMES_HERE, []),
        (LIFE - timedelta(days=20), NAMES_HERE, [("look", "certificate")]),
        (LIFE + timedelta(days=1), NAMES_HERE, [("bad", "certificate")]),
        (timedelta(0), ["other", "localhost", "127.0.0.1"], [("look", "certificate")]),
    ],
)
def test_a_certificate(
    folder: Path, tmp_path: Path, lapse: timedelta, names: list[str], expected: list[tuple[str, str]]
) -> None:
    """It ends soon, has ended, or is of another computer."""
    made = make_certificate(tmp_path / "tls", NAMES_HERE, NOW)
    found = looked(folder, NOW + lapse, names=names, host="0.0.0.0", certificate=made.certificate, key=made.key)
    assert wrong(found) == expected


def test_a_certificate_without_its_key(folder: Path, tmp_path: Path) -> None:
    """Half of TLS is none; none at all is told where others connect; a key that others may read is told."""
    made = make_certificate(tmp_path / "tls", NAMES_HERE, NOW)
    assert wrong(looked(folder, certificate=made.certificate)) == [("bad", "certificate")]
    assert wrong(looked(folder, certificate=made.certificate, key=tmp_path / "none")) == [("bad", "certificate")]
    assert wrong(looked(folder, host="0.0.0.0")) == [("look", "certificate")]
    made.key.chmod(0o644)
    assert wrong(looked(folder, certificate=made.certificate, key=made.key)) == [("look", "certificate")]


def test_pages_that_are_not_there(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An installation that broke off in the middle."""
    monkeypatch.setattr(doctor, "web_folder", lambda: tmp_path)
    assert wrong(looked(folder)) == [("bad", "pages")]


def test_the_command_ends_with_what_it_found(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """0 where a server can run, 1 where not; a line each, with what mends it."""
    well = runner.invoke(app, ["doctor", "--data", str(folder), "--port", "0"])
    assert well.exit_code == 0
    assert "1 run can be read" in well.stdout
    (folder / "session.key").write_bytes(b"short")
    (folder / "session.key").chmod(0o600)
    bad = runner.invoke(app, ["doctor", "--data", str(folder), "--port", "0"])
    assert bad.exit_code == 1
    assert re.search(r"^bad +sessions .*\n +to mend it: take it away", bad.stdout, re.MULTILINE)
    monkeypatch.setenv("FESTOON_PORT", "http")
    wrongly_set = runner.invoke(app, ["doctor", "--data", str(folder), "--json"])
    assert (wrongly_set.exit_code, '"about": "settings"' in wrongly_set.stdout) == (1, True)


@pytest.mark.parametrize("name", NAMES)
def test_a_service_file_is_one_of_systemds(name: str) -> None:
    """Sections and `key=value` lines alone, with the program by its whole path and nothing left to fill in."""
    done = runner.invoke(app, ["service", name])
    assert done.exit_code == 0
    lines = [line for line in done.stdout.splitlines() if line and not line.startswith("#")]
    assert all(re.fullmatch(r"\[[A-Z][a-z]+\]|[A-Z][A-Za-z]+=.+", line) for line in lines)
    assert "$program" not in done.stdout
    for command in re.findall(r"^ExecStart=(\S+)", done.stdout, re.MULTILINE):
        assert Path(command).is_absolute()


def test_the_service_file_runs_a_command_that_there_is() -> None:
    """What systemd would start is what `festoon serve` and `festoon backup` take."""
    for name in NAMES:
        text = service_file(name, Path("/usr/bin/festoon"), Path("/x"))
        for command in re.findall(r"^ExecStart=/usr/bin/festoon (\w+)", text, re.MULTILINE):
            assert runner.invoke(app, [command, "--help"]).exit_code == 0
    assert runner.invoke(app, ["service", "other"]).exit_code == 2
    assert SERVICE in NAMES


async def test_a_backup_is_tried_and_old_ones_go(tmp_path: Path) -> None:
    """It is restored and read; of those in the folder the newest stay, and nobody else's file goes."""
    log = add_run(RunLog.open(tmp_path / "log"))
    await log.append("r1", event("e1"), ZERO)
    log.close()
    folder = tmp_path / "backups"
    folder.mkdir()
    older = [folder / f"festoon-2020-01-0{day}-060000.db" for day in (1, 2, 3)]
    for file in (*older, folder / "festoon-notes.txt"):
        file.write_text("x")
    done = runner.invoke(app, ["backup", "--try", "--keep", "2", "--data", str(tmp_path / "log"), str(folder)])
    assert done.exit_code == 0, done.output
    assert "1 run with 1 event" in done.stdout
    left = sorted(path.name for path in folder.iterdir())
    assert left[0] == older[2].name
    assert left[2] == "festoon-notes.txt"
    assert len(left) == 3


def test_a_backup_that_cannot_be_restored_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The command ends with 2, and older ones stay."""
    add_run(RunLog.open(tmp_path / "log")).close()
    folder = tmp_path / "backups"
    folder.mkdir()
    (folder / "festoon-2020-01-01-060000.db").write_text("x")
    from server.runlog import RunLogFault, backup

    def fail(*_given: object, **_keys: object) -> None:
        raise RunLogFault("It cannot be restored.")

    monkeypatch.setattr(backup, "restore_from_file", fail)
    done = runner.invoke(app, ["backup", "--try", "--keep", "1", "--data", str(tmp_path / "log"), str(folder)])
    assert (done.exit_code, done.stderr) == (2, "It cannot be restored.\n")
    assert len(list(folder.iterdir())) == 2


@pytest.mark.parametrize("changed", ["events SET body = replace(body, 'x', 'y')", "runs SET plan_text = 'y'"])
async def test_a_backup_of_a_damaged_log_is_told(tmp_path: Path, changed: str) -> None:
    """SQLite finds nothing wrong with it, and one row is another: the command ends with 2, and older ones stay."""
    with closing(add_run(RunLog.open(tmp_path / "log"))) as log:
        await log.append("r1", event("e1"), ZERO)
    with closing(sqlite3.connect(tmp_path / "log" / FILE)) as past:
        past.execute(f"UPDATE {changed}")
        past.commit()
    told = tried(tmp_path)
    assert told.startswith("The log that was copied to ")
    assert "is damaged: start the server" in told


def test_a_backup_that_lacks_events_is_told(tmp_path: Path) -> None:
    """Of an earlier version, which had no checksums: what is found lost at its upgrade counts as well."""
    (tmp_path / "log").mkdir()
    engine = create_engine(f"sqlite:///{tmp_path}/log/{FILE}")
    with engine.begin() as on:
        for migration in MIGRATIONS[:3]:
            migration(on)
        on.exec_driver_sql("UPDATE festoon_log SET version = 3")
        on.exec_driver_sql("INSERT INTO runs VALUES ('r1', 'x.plan.toml', 'x', '2026-03-14T23:50:00Z')")
        on.exec_driver_sql("INSERT INTO events VALUES ('r1', 1, 'e1', '2026-03-14T23:50:00Z', CAST(x'ff' AS TEXT))")
    engine.dispose()
    assert "r1: The log was damaged: event 1 is lost" in tried(tmp_path)


def tried(place: Path) -> str:
    """What a backup with `--try` says that ends with 2 and lets no older one go."""
    folder = place / "backups"
    folder.mkdir()
    older = [folder / f"festoon-2020-01-0{day}-060000.db" for day in (1, 2)]
    for file in older:
        file.write_text("x")
    done = runner.invoke(app, ["backup", "--try", "--keep", "1", "--data", str(place / "log"), str(folder)])
    assert (done.exit_code, "can be read" in done.stdout) == (2, False)
    assert all(file.exists() for file in older)
    return done.stderr
