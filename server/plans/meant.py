"""What was meant by a value that is nearly right: "7:05pm" is 19:05, "61,5 ft" is 61.5."""

import json
import math
import re
from typing import Final

from server.planning.meant import meant_number, meant_whole, meant_zone
from server.plans.keypaths import Value
from server.timeline.meant_times import meant_clock, meant_duration

_WHOLE: Final = ("rollers", "stretch_rollers", "frames")
_START: Final = re.compile(r"(\d{4}-\d\d-\d\d)T(.+)", re.ASCII)
_NUMBERS: Final = re.compile(r".*_(?:s|ft|m|percent|ppm|hour|station)|frame_rate")
_MINUTES: Final = re.compile(r"\s*([0-9]{1,4})\s*")


def meant_by(key: str, value: object) -> Value | None:
    """The value that somebody who wrote `value` at a key meant; None where that cannot be told, or may be several.

    Of `motors_at`, a day and a time with a T between them, it is both.
    """
    if key == "motors_at":
        start = _START.fullmatch(value) if isinstance(value, str) else None
        clock = _only(meant_clock(start[2])) if start else None
        return f"{start[1]}T{clock}" if start and clock else None
    if key == "duration" and isinstance(value, str) and (minutes := _MINUTES.fullmatch(value)):
        value = f"{minutes[1]} min"  # nobody times a piece of the print in hours or seconds alone
    return _only(_meant_text(key, value))


def _meant_text(key: str, value: object) -> str | None:
    """What was meant as it is to be written in a plan, as the modules for it have it."""
    match key:
        case "advertised":
            return meant_clock(value)
        case "duration":
            return meant_duration(value)
        case "timezone":
            return meant_zone(value)
        case "feet":
            return meant_number("length_ft", value, 0.0, math.inf)
        case _:
            whole, number = key in _WHOLE, _NUMBERS.fullmatch(key)
            return (
                meant_whole(value, 0, 10**7) if whole else meant_number(key, value, 0.0, math.inf) if number else None
            )


def _only(text: str | None) -> Value | None:
    """The one value that a text says; None where it says several, or another key."""
    try:
        value = json.loads(text or "")
    except ValueError:
        return None
    return value if isinstance(value, (str, int, float)) else None
