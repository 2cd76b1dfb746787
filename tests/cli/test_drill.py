"""`festoon drill` as a whole process, and what it says of usage that is no use."""

import json
import time
import urllib.request
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from adapters.drill import scenario_for
from adapters.drill.entry import ROUNDED_S, start_of
from server.cli import app
from server.rehearsals import DRILLS
from server.timeline.plan import parse_plan
from tests.cli.running import PAIR, PATIENCE_S, Running, running

runner = CliRunner()
Json = dict[str, Any]


def reported(server: Running, **event: str) -> Json:
    body = json.dumps({"source": "tap", **event}).encode()
    address = f"http://{server.host}/api/runs/{server.run_ids[0]}/events"
    request = urllib.request.Request(address, body, {"Content-Type": "application/json"})
    with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
        taken: Json = json.load(answer)
    return taken


def last_lines(server: Running, word: str) -> str:
    """What is printed up to a line that has the word."""
    said = ""
    for line in server.process.stdout:
        said += line
        if word in line:
            return said
    raise AssertionError(said)


def review_note(server: Running) -> str:
    """The review as the desks have it, which is written down after it was printed."""
    until_s = time.monotonic() + PATIENCE_S
    while time.monotonic() < until_s:
        with urllib.request.urlopen(f"http://{server.host}/api/runs/{server.run_ids[0]}", timeout=PATIENCE_S) as answer:
            notes = [event["text"] for event in json.load(answer)["events"] if event["id"] == "drill-review"]
        if notes:
            return str(notes[0])
    raise AssertionError("the review is not on the desks")


@pytest.mark.slow
def test_a_fast_drill_goes_to_its_end_and_is_marked(tmp_path: Path) -> None:
    """Nobody stops the film: the drill ends by itself, says what it cost, and writes it down."""
    drill = ("drill", PAIR, "--fault", "motor_lost", "--seed", "1")
    arguments = (*drill, "--within", "600", "--speed", "250", "--port", "0")
    with running(*arguments, "--review", tmp_path / "review.json", HOME=str(tmp_path)) as server:
        said = last_lines(server, "The desks stay as they are")
        note = review_note(server)
    document = json.loads((tmp_path / "review.json").read_text(encoding="utf-8"))
    assert "ft on the floor" in note
    assert "Nobody stopped the film in time" in said
    assert "The same drill again: --fault motor_lost --seed 1" in said
    assert document["end"] == "spilled"
    assert [trouble["came"] for trouble in document["troubles"]] == [True]
    assert max(link["spilled_ft"] for link in document["links"]) == pytest.approx(90.0, abs=1.0)
    assert [alarm["level"] for alarm in document["alarms"]].count("act") > 0


@pytest.mark.slow
def test_what_is_tapped_over_the_desks_is_in_the_mark(tmp_path: Path) -> None:
    """With no crew the person strikes, starts and stops; an end by interrupt is reviewed too."""
    arguments = ("drill", PAIR, "--fault", "clean", "--crew", "none", "--seed", "1", "--speed", "10", "--port", "0")
    with running(*arguments, "--review", tmp_path / "review.json") as server:
        for number, (kind, where) in enumerate(
            (("lamp_lit", {"station": "a"}), ("chain_start", {}), ("chain_stop", {}))
        ):
            reported(server, id=f"tap{number}", kind=kind, **where)
        server.process.terminate()
        said, _ = server.process.communicate(timeout=PATIENCE_S)
    document = json.loads((tmp_path / "review.json").read_text(encoding="utf-8"))
    assert "You ended the drill." in said
    assert server.process.returncode == 0
    assert [(done["kind"], done["station"], done["changed"]) for done in document["done"]] == [
        ("lamp_lit", "a", True),
        ("chain_start", None, True),
        ("chain_stop", None, True),
    ]


@pytest.mark.slow
def test_somebody_comes_to_the_show_shortly_before_something_goes_wrong(tmp_path: Path) -> None:
    """The desks have all that was seen of it before, as it was seen; and what is reviewed is what came after."""
    arguments = ("drill", PAIR, "--fault", "motor_lost", "--seed", "1", "--within", "3", "--speed", "1", "--port", "0")
    with running(*arguments, "--review", tmp_path / "review.json", HOME=str(tmp_path)) as server:
        with urllib.request.urlopen(f"http://{server.host}/api/runs/{server.run_ids[0]}", timeout=PATIENCE_S) as answer:
            kinds = [event["kind"] for event in json.load(answer)["events"]]
        server.process.terminate()
        said, _ = server.process.communicate(timeout=PATIENCE_S)
    document = json.loads((tmp_path / "review.json").read_text(encoding="utf-8"))
    assert "You come to it in mid-show" in server.said + said
    assert {"motor_start", "mark_pass", "lamp_lit"} <= set(kinds)
    plan = parse_plan(PAIR.read_text("utf-8"), PAIR.name)
    start_s = start_of(plan, scenario_for("motor_lost", plan, 1), 1, 180.0)
    assert start_s - ROUNDED_S <= document["start_s"] <= start_s
    assert document["start_s"] < document["troubles"][0]["began_s"] <= document["start_s"] + 180.0
    assert document["alarms"] == []


def test_the_list_says_what_can_go_wrong() -> None:
    """Every name with its sentence, and nothing is served."""
    done = runner.invoke(app, ["drill", "--list"])
    assert done.exit_code == 0
    assert [line.split()[0] for line in done.stdout.splitlines()] == list(DRILLS)
    assert all(text in done.stdout for text in DRILLS.values())


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--fault", "flood"], ["flood", "accepted", "motor_lost", "trip"]),
        (["--fault", "late_strike", "--crew", "none"], ["late_strike", "--crew none", "accepted with --crew all"]),
        (["--crew", "some"], ["some", "contacts", "none"]),
        (["--speed", "0"], ["--speed"]),
        (["--seed", "-1"], ["--seed"]),
        (["--within", "1"], ["--within", "found 1; accepted 2 to 600 minutes"]),
        (["--within", "nan"], ["--within", "found nan; accepted 2 to 600 minutes"]),
        (["--within", "soon"], ["--within", "found 'soon'; accepted is a number"]),
        (["missing.plan.toml"], ["missing.plan.toml", "no such file"]),
        (["--review", "no/such/folder/review.json"], ["--review", "no such folder"]),
    ],
)
def test_wrong_usage_is_told_in_words(arguments: list[str], said: list[str]) -> None:
    """Status 2, with what was found and what is accepted; nothing is served."""
    done = runner.invoke(app, ["drill", "--port", "0", *arguments])
    assert (done.exit_code, done.stdout) == (2, "")
    assert [word for word in said if word not in done.stderr] == []
    assert "Traceback" not in done.stderr
