"""The audit of what the checkout is locked to: a finding fails a run, a service that is not there does not."""

import json
from typing import Any

import pytest

from tests import audit

SOUND = {"name": "lantern", "version": "1.2", "vulns": []}
FOUND = {"name": "mirror", "version": "3.4", "vulns": [{"id": "PYSEC-0000-1", "fix_versions": ["3.5"]}]}
SKIPPED = {"name": "shutter", "skip_reason": "Dependency not found"}


def python(*told: dict[str, Any]) -> str:
    return json.dumps({"dependencies": told, "fixes": []})


def browser(**found: dict[str, str]) -> str:
    return json.dumps({"vulnerabilities": found, "metadata": {"dependencies": {"total": 7}}})


REFUSED = json.dumps({"message": "405 Method Not Allowed", "error": {"summary": ""}})


def run(monkeypatch: pytest.MonkeyPatch, of_python: str, of_browser: str) -> int:
    answers = {audit.PYTHON: of_python, audit.BROWSER: of_browser}
    monkeypatch.setattr(audit, "answered", answers.__getitem__)
    return audit.main()


@pytest.mark.parametrize(
    ("of_python", "of_browser"), [("", ""), (python(SKIPPED), REFUSED), ("[]", "no JSON")], ids=["none", "no", "other"]
)
def test_what_nobody_answers_is_told_as_not_audited(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], of_python: str, of_browser: str
) -> None:
    """No run fails for want of a service, and none calls sound what was not asked."""
    assert run(monkeypatch, of_python, of_browser) == 0
    assert capsys.readouterr().out.splitlines() == [
        "Python: not audited, as no service answered.",
        "Browser: not audited, as no service answered.",
    ]


@pytest.mark.parametrize(
    ("of_python", "of_browser", "said"),
    [
        (python(SOUND, FOUND, SKIPPED), browser(), "  mirror 3.4: PYSEC-0000-1"),
        (python(SOUND), browser(reel={"range": "<2", "severity": "high"}), "  reel <2: high"),
    ],
    ids=["Python", "browser"],
)
def test_a_finding_fails_the_run(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], of_python: str, of_browser: str, said: str
) -> None:
    """It is told with its release, whichever of the two has it."""
    assert run(monkeypatch, of_python, of_browser) == 1
    assert said in capsys.readouterr().out.splitlines()


def test_releases_without_a_finding_are_sound(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """How many were asked about is told, and of how many nothing is known."""
    assert run(monkeypatch, python(SOUND, SKIPPED), browser()) == 0
    assert capsys.readouterr().out.splitlines() == [
        "Python: 1 release audited, 0 findings; nothing is known of 1 more.",
        "Browser: 7 releases audited, 0 findings.",
    ]


@pytest.mark.parametrize(
    "command",
    [
        (*audit.PYTHON, "--no-such-option"),
        (*audit.PYTHON, "-r", "tests/run"),
        ("npm", "--prefix", "server", *audit.BROWSER[3:]),
    ],
    ids=["usage", "lock", "no-lock"],
)
def test_an_audit_that_fails_by_itself_is_a_fault(command: tuple[str, ...]) -> None:
    """It would be told for ever as a service that is not there."""
    with pytest.raises(audit.AuditFault):
        audit.answered(command)


def test_an_answer_without_a_count_is_one() -> None:
    """No other version of the tool breaks the run."""
    assert audit.told_of_browser('{"vulnerabilities": {}}') == audit.Told(0, 0, ())


def test_a_command_that_is_not_there_answers_nothing() -> None:
    """A missing tool is as a missing service."""
    assert audit.answered(("no-such-command",)) == ""
