"""Keys of a plan by their paths, as people and faults write them: `stations[2].path_ft`."""

import re
from collections.abc import Iterator
from datetime import date, datetime, time
from typing import Any, TypeGuard

from server.plans.spans import KeyPath
from server.timeline.faults import found_text

Scalar = str | int | float | bool
Value = Scalar | list[str]

_PART = re.compile(r"([A-Za-z_]+)|\[(\d{1,4})\]|\.")
_WHOLE = re.compile(r"[A-Za-z_]+(?:\[\d{1,4}\])?(?:\.[A-Za-z_]+)*")
_EXACT = 2**53
"""Up to here a JavaScript number is a whole number."""
_INTEGER_BITS = 64
"""What TOML asks a reader to take; of more, Python may refuse to write the digits."""


def path_from_text(text: str) -> KeyPath:
    """`stations[2].path_ft` as ("stations", 2, "path_ft"). Raises ValueError for anything else."""
    if not _WHOLE.fullmatch(text):
        raise ValueError(f"{text!r} is no key of a plan")
    return tuple(int(place) if place else name for name, place in _PART.findall(text) if name or place)


def text_from_path(path: KeyPath) -> str:
    """The reverse."""
    return "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in path).removeprefix(".")


def at_path(data: object, path: KeyPath) -> object | None:
    """What a parsed text has at a path; None where it has nothing there."""
    for part in path:
        if isinstance(part, int):
            data = data[part] if isinstance(data, list) and part < len(data) else None
        else:
            data = data.get(part) if isinstance(data, dict) else None
    return data


def values_of(data: dict[str, Any]) -> dict[str, Value]:
    """Every value of a parsed text by its path, dates as text; what no field could show is left out."""
    return {text_from_path(path): shown for path, value in _leaves(data, ()) if (shown := _shown(value)) is not None}


def _leaves(value: object, path: KeyPath) -> Iterator[tuple[KeyPath, object]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _leaves(inner, (*path, key))
    elif isinstance(value, list) and value and all(isinstance(entry, dict) for entry in value):
        for place, inner in enumerate(value):
            yield from _leaves(inner, (*path, place))
    else:
        yield path, value


def _shown(value: object) -> Value | None:
    if isinstance(value, (date, datetime, time)):
        return value.isoformat()
    if isinstance(value, list):
        return [entry if isinstance(entry, str) else found_text(entry) for entry in value]
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) > _EXACT:
        return str(value) if value.bit_length() <= _INTEGER_BITS else found_text(value)
    if isinstance(value, float) and value - value != 0.0:
        return str(value)
    return value if is_scalar(value) else None


def is_scalar(value: object) -> TypeGuard[Scalar]:
    """Whether it is a single value that JSON has too."""
    return isinstance(value, (str, int, float, bool))
