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

ROOT = Path(__file__).parents[1]
PATIENCE_S = 60.0
"""Chosen: a service that says nothing for so long has not answered."""

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
    return Told(told["metadata"]["dependencies"]["total"], 0, tuple(found))


def _read(answer: str) -> dict[str, Any]:
    try:
        told = json.loads(answer)
    except ValueError:
        return {}
    return told if isinstance(told, dict) else {}


def answered(command: tuple[str, ...]) -> str:
    """What a command prints, whatever its status: both end with 1 for a finding as for a service that is not there."""
    try:
        done = subprocess.run(
            command, cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=False, timeout=PATIENCE_S
        )
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return done.stdout


def audited(name: str, told: Told | None) -> tuple[str, bool]:
    """What there is to print of one kind of release, and whether it is sound as far as was asked."""
    if told is None:
        return f"{name}: not audited, as no service answered.", True
    without = f"; nothing is known of {told.unknown} more" if told.unknown else ""
    said = f"{name}: {told.asked} releases audited, {len(told.found)} findings{without}."
    return "\n  ".join([said, *told.found]), not told.found


KINDS: tuple[tuple[str, tuple[str, ...], Callable[[str], Told | None]], ...] = (
    ("Python", PYTHON, told_of_python),
    ("Browser", BROWSER, told_of_browser),
)


def main() -> int:
    """Print what was found; 1 where that is anything."""
    audits = [audited(name, read(answered(command))) for name, command, read in KINDS]
    print("\n".join(said for said, _ in audits))  # noqa: T201 - what a step of tests/run prints
    return 0 if all(is_sound for _, is_sound in audits) else 1


if __name__ == "__main__":
    sys.exit(main())
