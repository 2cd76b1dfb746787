"""Upgrading a log that an earlier, or a later, program wrote."""

from pathlib import Path

import pytest
from sqlalchemy import Connection, Engine, create_engine, inspect, text

from server.runlog import RunLog, RunLogFault, migrations
from server.runlog.migrations import MIGRATIONS, upgrade, version_of
from server.runlog.tables import metadata
from tests.runlog.logs import ZERO, event

FIRST = """
INSERT INTO runs (id, plan_name, plan_text, created) VALUES
 ('r1', 'x.plan.toml', 'title = ''x''', '2026-03-14T23:50:00Z');
INSERT INTO events (run, seq, id, arrived, body) VALUES ('r1', 1, 'e1', '2026-03-14T23:50:00Z',
 '{"id":"e1","t":"2026-03-14T23:50:00Z","kind":"note","source":"tap:pad","by":"Ida","text":"x"}');
"""
"""What version 1 wrote."""


def database(folder: Path) -> Engine:
    return create_engine(f"sqlite:///{folder}/festoon.db")


def at_version(folder: Path, version: int) -> None:
    """Leave a database of that version, with the data above."""
    engine = database(folder)
    with engine.begin() as connection:
        for migration in MIGRATIONS[:version]:
            migration(connection)
        connection.execute(text(f"UPDATE festoon_log SET version = {version}"))
        for statement in FIRST.split(";")[:-1]:
            connection.execute(text(statement))
    engine.dispose()


@pytest.mark.parametrize("version", range(1, len(MIGRATIONS) + 1))
def test_every_version_is_upgraded_with_its_data(tmp_path: Path, version: int) -> None:
    """A log of any released version opens with its runs and events as they were."""
    at_version(tmp_path, version)
    log = RunLog.open(tmp_path)
    assert [(run.run_id, run.plan_text, run.created) for run in log.runs()] == [("r1", "title = 'x'", ZERO)]
    assert [(stored.seq, stored.event, stored.arrived) for stored in log.events("r1")] == [(1, event("e1"), ZERO)]
    log.close()
    engine = database(tmp_path)
    with engine.connect() as connection:
        assert version_of(connection) == len(MIGRATIONS)
    engine.dispose()


def crew_noted(connection: Connection) -> None:
    """A step such as a later version may take."""
    connection.execute(text("ALTER TABLE runs ADD COLUMN crew VARCHAR(40)"))


def columns_of_runs(connection: Connection) -> list[str]:
    return [column["name"] for column in inspect(connection).get_columns("runs")]


def test_a_later_version_upgrades_a_log_with_its_data(tmp_path: Path) -> None:
    """Only the steps that a log has not taken are taken, once, and what it holds stays."""
    at_version(tmp_path, len(MIGRATIONS))
    engine = database(tmp_path)
    for _ in range(2):
        with engine.begin() as connection:
            upgrade(connection, (*MIGRATIONS, crew_noted))
    with engine.connect() as connection:
        assert version_of(connection) == len(MIGRATIONS) + 1
        assert "crew" in columns_of_runs(connection)
        assert connection.execute(text("SELECT count(*) FROM events")).scalar() == 1
    engine.dispose()


def test_the_steps_lead_to_the_tables_in_use(tmp_path: Path) -> None:
    """Columns, keys and uniqueness after all migrations are those the log's queries are written for."""
    migrated, direct = create_engine("sqlite://"), create_engine("sqlite://")
    with migrated.begin() as connection:
        upgrade(connection)
    metadata.create_all(direct)
    assert shape(migrated) == shape(direct)


def shape(engine: Engine) -> dict[str, object]:
    looked = inspect(engine)
    return {
        table: (
            [(c["name"], str(c["type"]), c["nullable"]) for c in looked.get_columns(table)],
            looked.get_pk_constraint(table),
            looked.get_unique_constraints(table),
            looked.get_foreign_keys(table),
        )
        for table in looked.get_table_names()
    }


def test_a_newer_log_is_refused(tmp_path: Path) -> None:
    """A log that a newer program upgraded is left alone, in a sentence that says what to do."""
    at_version(tmp_path, len(MIGRATIONS))
    engine = database(tmp_path)
    with engine.begin() as connection:
        connection.execute(text("UPDATE festoon_log SET version = 99"))
    engine.dispose()
    with pytest.raises(RunLogFault, match=r"newer Festoon \(version 99; .* install that Festoon, or .*FESTOON_DATA"):
        RunLog.open(tmp_path)


def test_an_upgrade_that_fails_leaves_the_log_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """All steps are done or none: after a failure half way the earlier program can still read its log."""

    def half(connection: Connection) -> None:
        connection.execute(text("DROP TABLE events"))
        raise OSError("pulled")

    at_version(tmp_path, 1)
    monkeypatch.setattr(migrations, "MIGRATIONS", (*MIGRATIONS, crew_noted, half))
    monkeypatch.setattr(migrations.upgrade, "__defaults__", (migrations.MIGRATIONS,))
    with pytest.raises(RunLogFault, match="pulled"):
        RunLog.open(tmp_path)
    engine = database(tmp_path)
    with engine.connect() as connection:
        assert version_of(connection) == 1
        assert connection.execute(text("SELECT count(*) FROM events")).scalar() == 1
        assert "crew" not in columns_of_runs(connection)
    engine.dispose()


def test_somebody_elses_database_is_not_touched(tmp_path: Path) -> None:
    """A database with other tables is refused and gets none of ours."""
    engine = database(tmp_path)
    with engine.begin() as connection:
        connection.execute(text("CREATE TABLE takings (night TEXT)"))
    with pytest.raises(RunLogFault, match="other than a Festoon log"):
        RunLog.open(tmp_path)
    assert inspect(engine).get_table_names() == ["takings"]
    engine.dispose()
