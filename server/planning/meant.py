"""What was meant by a value that is nearly right, so that a fault can say what to write instead.

Each function takes what was found and gives what to write, or None where nobody can tell.
"""

import difflib
import re
from collections.abc import Iterable
from typing import Final
from zoneinfo import available_timezones

from server.timeline.faults import either
from server.timeline.film import FOOT_M

# What a unit that people write is, as so many of the one that a key is in.
_UNITS: Final[dict[str, dict[str, float]]] = {
    "_mm": {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inches": 25.4, "micrometres": 0.001},
    "_m": {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": FOOT_M, "inches": 0.0254},
    "_ft": {"ft": 1.0, "m": 1.0 / FOOT_M, "inches": 1.0 / 12.0},
    "_s": {"s": 1.0, "min": 60.0, "h": 3600.0},
    "_percent": {"%": 1.0},
    "_deg": {"deg": 1.0},
}
_SPELLED: Final = {
    **dict.fromkeys(("'", "\u2019", "\u2032", "foot", "feet"), "ft"),
    **dict.fromkeys(('"', "\u201d", "\u2033", "inch", "in"), "inches"),
    **dict.fromkeys(("metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(("sec", "second", "seconds"), "s"),
    **dict.fromkeys(("mins", "minute", "minutes"), "min"),
    **dict.fromkeys(("hour", "hours"), "h"),
    **dict.fromkeys(("percent",), "%"),
    **dict.fromkeys(("°", "degree", "degrees"), "deg"),
}
_LONGEST_NUMBER: Final = 1e9  # chosen: a longer one is no name
_PAIRED: Final = {"path_ft": "path_m", "path_m": "path_ft", "height_ft": "height_m", "height_m": "height_ft"}
_QUANTITY: Final = re.compile(r"\s*([+-]?[0-9]{1,9}(?:[.,][0-9]{1,9})?)\s*([^\s0-9]*)\s*")
_MINUTES: Final = re.compile(r"\s*([0-9]{1,3}):([0-5][0-9])\s*")
_PLACED: Final = re.compile(r"(?:house|booth)\W*(?=\w)", re.IGNORECASE)
# Chosen: how alike two words are (difflib's ratio) from which one is taken for the other; zones are many.
_NEAR: Final = 0.7
_NEAR_ZONE: Final = 0.85


def meant_number(key: str, found: object, low: float, high: float) -> str | None:
    """A number with its unit in a text ("100 ft"), a comma for a point, or a number in another unit than the key's."""
    unit = next((unit for unit in _UNITS if key.endswith(unit)), "")
    if isinstance(found, str):
        return _from_text(key, unit, found, low, high)
    if isinstance(found, bool) or not isinstance(found, (int, float)):
        return None
    others = [(name, round(found * factor, 3)) for name, factor in _UNITS.get(unit, {}).items() if factor != 1.0]
    fitting = [f"{number:g} if it is in {name}" for name, number in others if low < number <= high]
    return either(fitting) if unit in {"_mm", "_m", "_ft"} and found > 0 else None


def meant_whole(found: object, low: int, high: int) -> str | None:
    """A whole number in quotes, or with a point."""
    if isinstance(found, str):
        return found.strip() if re.fullmatch(r"\s*[0-9]{1,9}\s*", found) and low <= int(found) <= high else None
    return str(int(found)) if isinstance(found, float) and found.is_integer() and low <= found <= high else None


def meant_text(found: object) -> str | None:
    """A number without its quotes; a text with blanks about it."""
    if isinstance(found, str):
        return quoted(found.strip()) if found.strip().isprintable() and found.strip() else None
    if isinstance(found, bool) or not isinstance(found, (int, float)) or abs(found) > _LONGEST_NUMBER:
        return None
    return quoted(f"{found}")


def meant_word(found: object, accepted: Iterable[str], nearness: float = _NEAR) -> str | None:
    """The one of the accepted words that is nearest, if any is: "House 3" is 3."""
    if not isinstance(found, (str, int)) or isinstance(found, bool):
        return None
    words = {_bare(word): word for word in accepted}
    near = difflib.get_close_matches(_bare(str(found)), words, n=1, cutoff=nearness)
    return words[near[0]] if near else None


def meant_zone(found: object) -> str | None:
    """A time zone's name as the tables of zones have it: "chicago" is America/Chicago."""
    if not isinstance(found, str):
        return None
    zones = sorted(available_timezones())
    cities = [zone for zone in zones if _bare(zone.rpartition("/")[2]) == _bare(found)]
    meant = cities[0] if len(cities) == 1 else meant_word(found, zones, _NEAR_ZONE)
    return None if meant is None else quoted(meant)


def meant_key(found: str, known: Iterable[str]) -> str | None:
    """A key that is known: the nearest one, or every one that differs by its unit alone."""
    keys = list(known)
    units = [key for key in keys if key.rpartition("_")[0] == found.casefold()]
    near = difflib.get_close_matches(found.casefold(), keys, n=1, cutoff=_NEAR)
    return either(units or near) or None


def meant_name(found: str) -> str | None:
    """The name of a house or booth without the word that is put before it; None where it is without it."""
    match = _PLACED.match(found.strip())
    return found.strip()[match.end() :] if match else None


def quoted(text: str) -> str:
    """Write a text as TOML does; it has no control characters."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _bare(word: str) -> str:
    """A word without what people add to it or write in another way."""
    return re.sub(r"[\s_]+", "_", (meant_name(word) or word).strip().casefold())


def _from_text(key: str, unit: str, text: str, low: float, high: float) -> str | None:
    if unit == "_s" and (match := _MINUTES.fullmatch(text)):
        return _if_between(int(match[1]) * 60.0 + int(match[2]), low, high)
    match = _QUANTITY.fullmatch(text)
    if not match:
        return None
    number, name = float(match[1].replace(",", ".")), match[2].casefold()
    name = _SPELLED.get(name, name)
    paired = _PAIRED.get(key, "")
    if name and paired.endswith(f"_{name}"):
        return f"{paired} = {number:g}"
    factor = _UNITS.get(unit, {}).get(name) if name else 1.0
    return None if factor is None else _if_between(number * factor, low, high)


def _if_between(number: float, low: float, high: float) -> str | None:
    return f"{round(number, 3):g}" if low <= number <= high else None
