"""Changing paths in the text of a plan, and nothing else of it: comments, order and spacing stay."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final, Literal

import tomlkit

PathUnit = Literal["ft", "m"]
_KEYS: Final[dict[PathUnit, str]] = {"ft": "path_ft", "m": "path_m"}


def path_units(text: str) -> dict[str, PathUnit]:
    """The unit that a plan gives each station's path in, by station id; those that give none are left out."""
    return {
        str(station["id"]): unit
        for station in _stations(tomlkit.parse(text.removeprefix("\ufeff")))
        for unit, key in _KEYS.items()
        if key in station
    }


def corrected_text(text: str, paths: Mapping[str, float], runs: Sequence[str]) -> str:
    """Put new paths, each in the unit that the plan has it in, into the text of a plan that can be read.

    `paths` is by station id. A comment on top says which runs the paths come from; without paths the text is as it was.
    """
    if not paths:
        return text
    document = tomlkit.parse(text.removeprefix("\ufeff"))
    for station in _stations(document):
        new = paths.get(str(station["id"]))
        if new is not None:
            station[_KEYS["m"] if _KEYS["m"] in station else _KEYS["ft"]] = new
    return (
        f"# Paths of {', '.join(paths)} corrected from what was seen in {', '.join(runs)}.\n{tomlkit.dumps(document)}"
    )


def _stations(document: tomlkit.TOMLDocument) -> Iterable[Any]:
    stations: Iterable[Any] = document["stations"]
    return stations
