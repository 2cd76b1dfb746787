"""Which of our files a text is, so that one that is in another's place is said to be what it is."""

import re
from typing import Final

PLAN: Final = 'a plan, a TOML file with format = "festoon-plan/1"'
RECORDING: Final = 'a recording, JSON lines with "format": "festoon-events/1"'

_NAMES: Final = {
    "plan": "a plan",
    "site": "a site file",
    "contacts": "a wiring file",
    "schedule": "a schedule",
    "events": "a recording",
}
_FORMAT: Final = re.compile(r"""^\s*\{?\s*["']?format["']?\s*[=:]\s*["']festoon-(\w{1,20})/""", re.MULTILINE)
_LOOKED_AT: Final = 20_000  # chosen: characters of a file within which its format stands


def kind_of(text: str) -> str | None:
    """Return what a file's text is, in words: "a plan", "a recording"; None where it does not say.

    JSON that names no format is a recording, whose header may be left out.
    """
    start = text.removeprefix("\ufeff")[:_LOOKED_AT]
    found = _FORMAT.search(start)
    if found:
        return _NAMES.get(found[1])
    return _NAMES["events"] if start.lstrip().startswith("{") else None


def in_anothers_place(text: str, name: str, accepted: str) -> str | None:
    """Return the fault of a file that is one of ours and not the one accepted, `PLAN` or `RECORDING`; else None."""
    kind = kind_of(text)
    if kind is None or accepted.startswith(kind):
        return None
    return f"{name}: found {kind}; accepted {accepted}"
