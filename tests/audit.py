"""Whether a release that this checkout is locked to is known to be vulnerable: `python -m tests.audit`.

It asks whom pip-audit and npm ask. Where nobody answers it says so in one line and fails nothing: what was not asked is
told as that, never as sound.
"""

import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from server.timeline.amounts import amount

ROOT = Path(__file__).parents[1]
PATIENCE_S = 60.0
"""Chosen: a service that has not answered all by then is taken for one that is not there."""

USAGE = 2
"""The status of a program that was asked in a way that it does not know."""

LOCKS = ("-r", "tests/constraints.txt", "-r", "tests/node.txt")
PYTHON = (sys.executable, "-m", "pip_audit", "--disable-pip", *LOCKS, "--format=json", "--progress-spinner=off")
BROWSER = ("npm", "--prefix", "web", "audit", "--package-lock-only", "--json", "--fetch-retries=0")


@dataclass(frozen=True)
class Told:
    """What a service said: of how many releases, of how many nothing, and what it found, a sentence each."""

    asked: int
    unknown: int
    found: tuple[str, ...]


def told_of_python(answer: str) -> Told | None:
    """What pip-audit's answer says; None where there is none, or where it knows no release at all."""
    told = _read(answer).get("dependencies", [])
    known = [one for one in told if "vulns" in one]
    found = [f"{one['name']} {one['version']}: {vuln['id']}" for one in known for vuln in one["vulns"]]
    return Told(len(known), len(told) - len(known), tuple(found)) if known else None


def told_of_browser(answer: str) -> Told | None:
    """What npm's answer says; None where there is none."""
    told = _read(answer)
    if "vulnerabilities" not in told:
        return None
    found = [f"{name} {one['range']}: {one['severity']}" for name, one in told["vulnerabilities"].items()]
    asked = told.get("metadata", {}).get("dependencies", {}).get("total", 0)
    return Told(asked, 0, tuple(found))


def _read(answer: str) -> dict[str, Any]:
    try:
        told = json.loads(answer)
    except ValueError:
        return {}
    return told if isinstance(told, dict) else {}


class AuditFault(Exception):
    """An audit was not made for a reason of its own: how it is called, or a lock that it does not take."""


def answered(command: tuple[str, ...]) -> str:
    """What a command prints; empty where it is not there, or has not answered in time.

    Its status says little: it is 1 for a finding as for a service that is not there. Raises AuditFault.
    """
    try:
        done = subprocess.run(
            command, cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=False, timeout=PATIENCE_S
        )
    except (OSError, subprocess.TimeoutExpired):
        return ""
    if fault := fault_in(done.returncode, done.stdout, done.stderr):
        raise AuditFault(fault)
    return done.stdout


def fault_in(status: int, told: str, error: str) -> str:
    """What was wrong with the audit itself, or empty: a usage error, or a lock that is refused or not there."""
    lines = error.splitlines()
    own = [line for line in lines if line.startswith("ERROR:pip_audit") and "connect" not in line]
    wrong = _read(told).get("error", {})
    if isinstance(wrong, dict) and wrong.get("code") in {"ENOLOCK", "EUSAGE"}:
        return str(wrong["summary"])
    return own[0] if own else lines[-1] if status == USAGE and lines else ""


def audited(name: str, told: Told | None) -> tuple[str, bool]:
    """What there is to print of one kind of release, and whether it is sound as far as was asked."""
    if told is None:
        return f"{name}: not audited, as no service answered.", True
    without = f"; nothing is known of {told.unknown} more" if told.unknown else ""
    said = f"{name}: {amount(told.asked, 'release')} audited, {amount(len(told.found), 'finding')}{without}."
    return "\n  ".join([said, *told.found]), not told.found


KINDS: tuple[tuple[str, tuple[str, ...], Callable[[str], Told | None]], ...] = (
    ("Python", PYTHON, told_of_python),
    ("Browser", BROWSER, told_of_browser),
)


def main() -> int:
    """Print what was found; 1 where that is anything."""
    try:
        audits = [audited(name, read(answered(command))) for name, command, read in KINDS]
    except AuditFault as fault:
        print(f"The audit itself failed: {fault}")  # noqa: T201 - what a step of tests/run prints
        return 1
    print("\n".join(said for said, _ in audits))  # noqa: T201 - what a step of tests/run prints
    return 0 if all(is_sound for _, is_sound in audits) else 1


if __name__ == "__main__":
    sys.exit(main())
