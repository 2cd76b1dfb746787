"""How a fault in a file is worded: what was found, and what is accepted."""

from collections.abc import Iterable
from datetime import date, time

_SHOWN = 60  # chosen: of a long text, this many characters are shown
_LISTED = 24  # chosen: of a long list, this many words


def found_text(value: object) -> str:
    """Word what was found: one line without control characters, short whatever the value; "nothing" for None."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return repr(value if len(value) <= _SHOWN else value[:_SHOWN] + "…")
    if isinstance(value, int) and abs(value) >= 10**18:
        return "a number of 19 digits or more"
    if isinstance(value, (date, time)):
        return value.isoformat()
    if isinstance(value, dict):
        return "{…}" if value else "{}"
    if isinstance(value, list):
        return "[…]" if value else "[]"
    return repr(value)


def either(words: Iterable[str]) -> str:
    """List what is accepted: "a, b or c"."""
    return _listed(words, "or")


def both(words: Iterable[str]) -> str:
    """List what was found: "a, b and c"."""
    return _listed(words, "and")


def _listed(words: Iterable[str], joint: str) -> str:
    listed = list(words)
    if len(listed) > _LISTED:
        listed = [*listed[:_LISTED], f"{len(listed) - _LISTED} more"]
    return f"{', '.join(listed[:-1])} {joint} {listed[-1]}" if len(listed) > 1 else "".join(listed)
