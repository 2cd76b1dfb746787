"""What runs measured of paths, written into the text of a site file: comments, order and spacing of all else stay."""

import re
from collections.abc import Iterable
from datetime import date
from typing import Final, NamedTuple

from server.planning.site import Path, parse_site
from server.plans.spans import KeyPath, blocks_of
from server.plans.texts import add_entry, set_key
from server.timeline.film import FOOT_M
from server.timeline.tables import toml_data

_DIGITS: Final = 3  # chosen: a thousandth of a foot or a metre is under a frame by far
_NOTE: Final = re.compile(r";? *measured \d{4}-\d\d-\d\d in (?:\d+ runs|one run)(?:, [\d.]+ (?:ft|m) before)?")
_LEAST_PERCENT: Final = 0.001  # chosen: surer than a millimetre in a hundred metres nobody is


class Measured(NamedTuple):
    """What runs say of the path between two houses, in film order; one standard deviation.

    `enough` says whether they saw enough of it. `unit` is the one that their plan has it in, `rollers` what it says of
    them.
    """

    houses: tuple[str, str]
    path_m: float
    sd_m: float
    enough: bool
    unit: str
    rollers: int


class SiteLessons(NamedTuple):
    """The text of the site file with what was learned; `changes` are a line each, `left` says what stays, and why."""

    text: str
    changes: tuple[str, ...]
    left: tuple[str, ...]


def learned_into_site(text: str, measured: Iterable[Measured], runs: int, day: date) -> SiteLessons:
    """Put what `runs` runs measured into a site file that can be read, noted with the day.

    A path becomes another only where the runs are surer than the file, and differ from it by more than their own error.
    """
    text = text.removeprefix("\ufeff")
    changes: list[str] = []
    left: list[str] = []
    for one in measured:
        site = parse_site(text, "")
        unknown = [f"House {house}" for house in one.houses if house not in site.by_house]
        there = site.path(*one.houses)
        kept = _why_kept(one, there)
        if unknown:
            none = " and no ".join(unknown)
            left.append(f"{_name(one)}: not written. The site file has no {none}: add it there first.")
        elif kept is not None:
            left.append(f"{_name(one)}: left as it is. {kept}")
        elif there is None:
            text = _added(text, one, len(site.paths), _note(runs, day))
            changes.append(f"{_name(one)}: added, {_told(one, one.unit)}. The file had no path here.")
        else:
            text, change = _corrected(text, one, site.paths.index(there), there, _note(runs, day))
            changes.append(change)
    parse_site(text, "")
    return SiteLessons(text, tuple(changes), tuple(left))


def _why_kept(one: Measured, there: Path | None) -> str | None:
    """Why nothing becomes another in the file; None where it does."""
    if not one.enough or one.sd_m >= one.path_m:
        return "The runs say too little of it."
    if there is None:
        return None
    if one.sd_m >= there.path_m * there.path_tolerance_percent / 100.0:
        return "The runs are no surer of it than the file."
    if abs(one.path_m - there.path_m) <= one.sd_m:
        return f"The runs measured the same, to within {_length(one.sd_m, one.unit):g} {one.unit}."
    return None


def _corrected(text: str, one: Measured, place: int, there: Path, note: str) -> tuple[str, str]:
    unit = "ft" if "path_ft" in toml_data(text)["paths"][place] else "m"
    at: KeyPath = ("paths", place, f"path_{unit}")
    old = f"{_length(there.path_m, unit):g} {unit} before"
    text = set_key(text, at, _length(one.path_m, unit))
    text = set_key(text, ("paths", place, "path_tolerance_percent"), _percent(one))
    turned = f" (in the file from {there.houses[0]} to {there.houses[1]}: a path holds both ways)"
    name = f"{_name(one)}{turned if there.houses != one.houses else ''}"
    return _noted(text, at, _name(one), f"{note}, {old}"), f"{name}: {_told(one, unit)}, {old}."


def _added(text: str, one: Measured, place: int, note: str) -> str:
    key = f"path_{one.unit}"
    values = {
        "from": one.houses[0],
        "to": one.houses[1],
        key: _length(one.path_m, one.unit),
        "path_tolerance_percent": _percent(one),
        **({"rollers": one.rollers} if one.rollers else {}),
    }
    return _noted(add_entry(text, "paths", place, values), ("paths", place, key), _name(one), note)


def _note(runs: int, day: date) -> str:
    return f"measured {day.isoformat()} in {'one run' if runs == 1 else f'{runs} runs'}"


def _noted(text: str, at: KeyPath, name: str, note: str) -> str:
    """Write a note behind a key, after what somebody wrote there; of a list in brackets, above it."""
    statements = [statement for block in blocks_of(text) for statement in block.statements]
    own = next((one for one in statements if one.path == at), None)
    if own is not None:
        line_end = text.index("\n", own.value_end) if "\n" in text[own.value_end :] else len(text)
        line_end -= text[own.value_end : line_end].endswith("\r")
        said = _NOTE.sub("", text[own.value_end : line_end].strip().removeprefix("#").strip())
        return f"{text[: own.value_end]}  # {f'{said}; ' if said else ''}{note}{text[line_end:]}"
    text = re.sub(rf"^# {re.escape(name)}: measured .*\n", "", text, flags=re.MULTILINE)
    start = next(one.start for block in blocks_of(text) for one in block.statements if at[: len(one.path)] == one.path)
    return f"{text[:start]}# {name}: {note}\n{text[start:]}"


def _name(one: Measured) -> str:
    return f"House {one.houses[0]} to {one.houses[1]}"


def _told(one: Measured, unit: str) -> str:
    return f"{_length(one.path_m, unit):g} {unit} ± {_length(one.sd_m, unit):g}"


def _length(metres: float, unit: str) -> float:
    return round(metres / FOOT_M if unit == "ft" else metres, _DIGITS)


def _percent(one: Measured) -> float:
    return float(f"{max(one.sd_m / one.path_m * 100.0, _LEAST_PERCENT):.3g}")
