"""Every good recording of the fixtures, and the whole account that must come of it; a new file is a new test.

What is expected is what `festoon replay --json` writes, read line by line before it was put there.
"""

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from server.terminal.replay import show_json
from server.timeline.alarm_kinds import ALARM_KINDS
from server.timeline.events import read_recording
from server.timeline.plan import parse_plan

FIXTURES = Path(__file__).parents[2] / "fixtures"
GOOD = sorted((FIXTURES / "recordings" / "good").glob("*.events.jsonl"))
TIME_S, DIGITS = 0.002, 4
"""An arrival is an estimate, so that its last digits are those of the machine."""


def expected_path(recording: Path) -> Path:
    return FIXTURES / "expected" / recording.name.replace(".events.", ".replay.")


def account_of(path: Path, capsys: pytest.CaptureFixture[str]) -> list[dict[str, Any]]:
    text = path.read_text("utf-8")
    name = json.loads(text.partition("\n")[0]).get("plan", "pair.plan.toml")
    plan = parse_plan((FIXTURES / "plans" / name).read_text("utf-8"), name)
    show_json(plan, read_recording(text.splitlines(), plan, path.name), None)
    return lines_of(capsys.readouterr().out)


def lines_of(text: str) -> list[dict[str, Any]]:
    return [json.loads(line) for line in text.splitlines()]


def without_times(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [{key: value for key, value in line.items() if key != "t"} for line in lines]


def _near(value: Any) -> Any:
    """The same with its figures to so many digits."""
    if isinstance(value, dict):
        return {key: _near(each) for key, each in value.items()}
    if isinstance(value, list):
        return [_near(each) for each in value]
    return pytest.approx(value, abs=10**-DIGITS, rel=1e-3) if isinstance(value, float) else value


@pytest.mark.parametrize("path", GOOD, ids=lambda path: path.name.partition(".")[0])
def test_a_recording_has_its_account(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every phase, every alarm with its level, its cause and its text, and how it stands at the end."""
    expected = lines_of(expected_path(path).read_text("utf-8"))
    found = account_of(path, capsys)
    assert [line["type"] for line in found] == [line["type"] for line in expected]
    assert without_times(found) == [_near(line) for line in without_times(expected)]
    for one, other in zip(found, expected, strict=True):
        apart = datetime.fromisoformat(one["t"]) - datetime.fromisoformat(other["t"])
        assert abs(apart.total_seconds()) < TIME_S, (one, other)


@pytest.mark.parametrize("kind", ALARM_KINDS)
def test_every_kind_of_alarm_has_a_recording_that_raises_it(kind: str) -> None:
    """It is named after the kind."""
    lines = lines_of((FIXTURES / "expected" / f"{kind}.replay.jsonl").read_text("utf-8"))
    assert any(line.get("kind") == kind and line.get("state") == "raised" for line in lines)
