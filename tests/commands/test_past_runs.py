"""The commands for finished runs."""

import json
import zipfile
from contextlib import closing
from pathlib import Path

import pytest

from server.review.recordings import plan_in_header
from server.runlog import RunLog
from server.timeline.plan import parse_plan
from tests.commands.logs import filled, said
from tests.desk.past import FIXTURES, PLAN_NAME, PLAN_TEXT
from tests.runlog.damaging import flip

PLAN = FIXTURES / "plans" / PLAN_NAME
EVENTS = FIXTURES / "recordings/good/pair.events.jsonl"


@pytest.fixture
def data(tmp_path: Path) -> Path:
    return filled(tmp_path / "data", "pair-1", "pair-2")


def listed(data: Path, *words: object) -> list[str]:
    told = said("runs", "--json", "--data", data, *words)
    assert told.status == 0, told.err
    return [json.loads(line)["run"] for line in told.out.splitlines()]


def test_runs_are_listed_and_found(data: Path) -> None:
    """By date, plan, house and trouble, for people and for programs."""
    assert listed(data) == ["pair-2", "pair-1"]
    assert listed(data, "--from", "2026-03-15", "--text", "pair") == []
    assert listed(data, "--house", "1", "--plan", "pair", "--trouble", "misfit") == ["pair-2", "pair-1"]
    assert listed(data, "--trouble", "film_trip") == []
    assert "pair-1" in said("runs", "--data", data).out
    assert said("runs", "--data", data, "--house", "9").out == "There is no such run.\n"


def test_a_run_is_put_away_brought_back_and_removed(data: Path) -> None:
    """Each only because somebody said so, and a removal twice over."""
    assert said("put-away", "pair-1", "--by", "Ada", "--data", data).status == 0
    assert (listed(data), listed(data, "--put-away")) == (["pair-2"], ["pair-1"])
    assert said("put-away", "pair-1", "--back", "--data", data).status == 0
    assert said("remove", "pair-1", "--data", data).status == 2
    assert listed(data) == ["pair-2", "pair-1"]
    assert said("remove", "pair-1", "--yes", "--data", data).status == 0
    assert listed(data) == ["pair-2"]
    assert said("remove", "pair-1", "--yes", "--data", data).err.startswith("There is no run 'pair-1'")


def test_a_log_that_is_served_is_read_and_not_changed(data: Path) -> None:
    """Lists and debriefs work beside a server; what would change its runs says to stop it."""
    with closing(RunLog.open(data)):
        assert listed(data) == ["pair-2", "pair-1"]
        assert said("debrief", "pair-1", "--data", data).status == 0
        told = said("remove", "pair-1", "--yes", "--data", data)
    assert (told.status, "Another Festoon is using" in told.err) == (2, True)


def test_reading_makes_no_log(tmp_path: Path) -> None:
    """A wrong folder is told, and nothing appears in it."""
    told = said("runs", "--data", tmp_path / "nowhere")
    assert (told.status, told.out) == (2, "")
    assert told.err.startswith(f"There is no log in {tmp_path / 'nowhere'}")
    assert not (tmp_path / "nowhere").exists()


def test_a_debrief_tells_a_run_and_hands_it_on(data: Path, tmp_path: Path) -> None:
    """The tables in the terminal; the report, the tables and the recording as new files."""
    tables = said("debrief", "pair-1", "--data", data).out
    assert "Starts against plan" in tables
    assert "House 1 to 2" in tables
    assert "a>b" not in tables
    files = [tmp_path / name for name in ("a.html", "a.zip", "a.events.jsonl")]
    words = ["debrief", "pair-1", "--data", data, "--html", files[0], "--csv", files[1], "--recording", files[2]]
    told = said(*words)
    assert (told.status, told.out.split()) == (0, [str(file) for file in files])
    assert files[0].read_text().startswith("<!doctype html>")
    assert "starts.csv" in zipfile.ZipFile(files[1]).namelist()
    assert plan_in_header(files[2].read_bytes().split(b"\n")) == (PLAN_NAME, PLAN_TEXT)
    again = said(*words)
    assert (again.status, "nothing is overwritten" in again.err) == (2, True)


def test_nothing_is_written_where_one_file_is_in_the_way(data: Path, tmp_path: Path) -> None:
    """All of what was asked for, or none."""
    (tmp_path / "a.zip").write_text("mine")
    words = ["debrief", "pair-1", "--data", data, "--html", tmp_path / "a.html", "--csv", tmp_path / "a.zip"]
    assert said(*words).status == 2
    assert (tmp_path / "a.zip").read_text() == "mine"
    assert not (tmp_path / "a.html").exists()


def tables(*words: object) -> dict[str, bytes]:
    """The CSV files of a debrief, without those that tell when events arrived."""
    path = Path(str(words[-1]))
    assert said("debrief", *words[:-1], "--csv", path).status == 0
    files = zipfile.ZipFile(path)
    return {name: files.read(name) for name in files.namelist() if name != "events.csv"}


def test_a_recording_gives_the_same_account_as_the_log(data: Path, tmp_path: Path) -> None:
    """From the log, from its export alone, and from the plan and the export: the same figures."""
    export = tmp_path / "x.events.jsonl"
    assert said("debrief", "pair-1", "--data", data, "--recording", export).status == 0
    mine = tables("pair-1", "--data", data, "--then", tmp_path / "1.zip")
    assert tables(export, "--then", tmp_path / "2.zip") == mine
    assert tables(PLAN, export, "--then", tmp_path / "3.zip") == mine
    assert said("replay", PLAN, export, "--strict", "--json").status == 0


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["pair-9"], "There is no run 'pair-9'"),
        ([str(EVENTS)], "does not carry its plan"),
        (["nothing.events.jsonl"], "there is no such file"),
        ([str(EVENTS), str(EVENTS)], "found a recording; accepted a plan"),
        ([str(PLAN), str(EVENTS), str(EVENTS)], "give a run, a recording, or a plan and a recording"),
    ],
)
def test_a_debrief_of_nothing_is_told(data: Path, words: list[str], says: str) -> None:
    """One sentence, on standard error, status 2, nothing on standard output."""
    told = said("debrief", *words, "--data", data)
    assert (told.status, told.out) == (2, "")
    assert says in " ".join(told.err.replace("│", " ").split())


def test_what_was_learned_is_shown_and_written_only_when_asked(data: Path, tmp_path: Path) -> None:
    """The corrected plan is a new file, can be read, and never takes the place of another."""
    told = said("learn", "pair-1", "pair-2", "--data", data)
    assert (told.status, "Learned" in told.out) == (0, True)
    assert list(tmp_path.iterdir()) == [data]
    out = tmp_path / "next.plan.toml"
    assert said("learn", "pair-1", "pair-2", "--data", data, "--out", out).status == 0
    new, old = (parse_plan(text, "x").links[0].path_m for text in (out.read_text(), PLAN_TEXT))
    assert new != old
    kept = out.read_text()
    told = said("learn", "pair-1", "--data", data, "--out", out)
    assert (told.status, "nothing is overwritten" in told.err, out.read_text()) == (2, True, kept)


def test_a_debrief_of_a_damaged_log_says_what_is_lost(data: Path) -> None:
    """The rest is told, what is lost is said, and the status is 1, before a server has mended the log and after."""
    file = data / "festoon.db"
    flip(file, file.read_bytes().index(b'"kind":"mark_pass"') // 4096 * 4096, 40, 1)
    told = [said("debrief", "pair-1", "--data", data)]
    with closing(RunLog.open(data)):
        pass
    told.append(said("debrief", "pair-1", "--data", data))
    for one in told:
        assert one.status == 1
        assert "pair-1: The log was damaged: event" in one.err
        assert "lost" in one.err
    assert "festoon.damaged-1.db" in told[1].err
    assert "The log was damaged" in " ".join(told[1].out.split())


def test_a_debrief_of_a_run_without_its_plan_says_so(data: Path) -> None:
    """Damage that took the plan is told as that."""
    with closing(RunLog.open(data)) as log:
        log.restore_plan("pair-1", "", "")
    told = said("debrief", "pair-1", "--data", data)
    assert (told.status, told.err.strip()) == (2, "pair-1: its plan was lost with the damage of the log.")
