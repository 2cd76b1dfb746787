"""What was meant by a time that is nearly right, so that a fault can say what to write instead.

Each function takes what was found and gives what to write, in quotes, or None where nobody can tell.
"""

import re
from datetime import datetime, time, tzinfo
from typing import Final, TypeGuard

_WORDS: Final = {"noon": "12:00", "midday": "12:00", "midnight": "00:00"}
_CLOCK: Final = re.compile(
    r"(?P<hour>[0-9]{1,2})(?:[:.,h ]?(?P<minute>[0-5][0-9]))?(?P<second>:[0-5][0-9])?"
    r"\s*(?:(?P<half>[ap])\.?\s*m?\.?|h|hrs?|hours?|o'clock)?"
)
_MOST_MINUTES: Final = 60_000  # chosen: over forty days is no print
_LONGEST: Final = 40  # chosen: a text of more characters is not a time
_COLONS: Final = re.compile(r"(?:([0-9]{1,2}):)?([0-9]{1,3}):([0-9]{1,2})")
# Hours and minutes, minutes and seconds, or seconds, each with its unit; the last may go without.
_UNITS: Final = [
    re.compile(
        r"(?P<h>[0-9]{1,2})\s*h[a-z.]*\s*(?:(?P<m>[0-9]{1,3})\s*(?:m[a-z.]*)?)?\s*(?:(?P<s>[0-9]{1,3})\s*s[a-z.]*)?"
    ),
    re.compile(r"(?P<h>)(?P<m>[0-9]{1,3})\s*(?:m[a-z.]*|')\s*(?:(?P<s>[0-9]{1,3})\s*(?:s[a-z.]*|\"|'')?)?"),
    re.compile(r"(?P<h>)(?P<m>)(?P<s>[0-9]{1,5})\s*(?:s[a-z.]*|\"|'')"),
]


def meant_clock(found: object) -> str | None:
    """A time of day as `"HH:MM"`: "7:05pm" is "19:05"; of "7:05" nobody knows which half of the day."""
    if isinstance(found, time):
        return f'"{found:%H:%M}"'
    if not _is_short(found):
        return None
    said = (f"{found:05.2f}" if isinstance(found, float) else f"{found}").strip().casefold()
    if said in _WORDS:
        return f'"{_WORDS[said]}"'
    match = _CLOCK.fullmatch(said)
    if not match or not (match["minute"] or match["half"]):
        return None
    return _on_the_clock(int(match["hour"]), match["minute"] or "00", match["half"], padded=len(match["hour"]) > 1)


def _on_the_clock(hour: int, minute: str, half: str | None, *, padded: bool) -> str | None:
    if half:
        return f'"{hour % 12 + (12 if half == "p" else 0):02}:{minute}"' if 1 <= hour <= 12 else None
    if hour > 24 or (hour == 24 and minute != "00"):
        return None
    if 0 < hour < 12 and not padded:
        return f'"{hour:02}:{minute}" in the morning, "{hour + 12}:{minute}" in the evening'
    return f'"{hour % 24:02}:{minute}"'


def meant_duration(found: object) -> str | None:
    """A running time as `"minutes:SS"` or `"hours:MM:SS"`: "1h48" is "1:48:00"."""
    if isinstance(found, time):
        return _duration(found.hour * 3600 + found.minute * 60 + found.second)
    if not _is_short(found):
        return None
    if isinstance(found, str):
        return _from_text(found.strip().casefold())
    if found < 1:
        return None
    return f"{_duration(round(found))} for seconds, {_duration(round(found * 60))} for minutes"


def meant_instant(found: object, zone: tzinfo | None, years: tuple[int, int]) -> str | None:
    """A date and time with its offset, without quotes; one that has none is by the clock of `zone`, if given."""
    if isinstance(found, str) and len(found) <= _LONGEST and ":" in found:
        try:
            found = datetime.fromisoformat(found.strip())
        except ValueError:
            return None
    if not isinstance(found, datetime) or not years[0] <= found.year <= years[1]:
        return None
    at = found if found.tzinfo else found.replace(tzinfo=zone)
    return at.isoformat().replace("+00:00", "Z") if at.tzinfo else None


def _is_short(found: object) -> TypeGuard[str | int | float]:
    """Whether it is a text or a number that somebody can have meant for a time."""
    if isinstance(found, str):
        return len(found) <= _LONGEST
    return isinstance(found, (int, float)) and not isinstance(found, bool) and 0 <= found <= _MOST_MINUTES


def _from_text(said: str) -> str | None:
    if match := _COLONS.fullmatch(said):
        hours, minutes, seconds = (int(part or 0) for part in match.groups())
        return _duration(hours * 3600 + minutes * 60 + seconds)
    for pattern in _UNITS:
        if match := pattern.fullmatch(said):
            hours, minutes, seconds = (int(match[part] or 0) for part in "hms")
            return _duration(hours * 3600 + minutes * 60 + seconds)
    return None


def _duration(seconds: int) -> str | None:
    if not seconds:
        return None
    minutes, rest = divmod(seconds, 60)
    hours, left = divmod(minutes, 60)
    return f'"{hours}:{left:02}:{rest:02}"' if hours else f'"{minutes}:{rest:02}"'
