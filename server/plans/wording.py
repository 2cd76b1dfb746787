"""Findings in the words of the plan desk: there a key of a file is a field, or something that the site file says."""

import re
from collections.abc import Callable
from datetime import datetime
from typing import Final

from server.planning.findings import Finding

_NUMBER: Final = r"(-?\d+(?:\.\d+)?(?:e[+-]?\d+)?)"


def _start(found: re.Match[str]) -> str:
    """A start by the house's clock, as its two fields have it."""
    try:
        start = datetime.fromisoformat(found[1])
    except ValueError:
        return "Write this start under Show."
    return f"Write {start:%H:%M:%S} on {start:%Y-%m-%d} as the start under Show."


_SAID: Final[tuple[tuple[re.Pattern[str], str | Callable[[re.Match[str]], str]], ...]] = tuple(
    (re.compile(key), said)
    for key, said in (
        (rf"write path_m = {_NUMBER}", r"choose m for the path and write \1"),
        (rf"write path_ft = {_NUMBER}", r"choose ft for the path and write \1"),
        (rf"write height_ft = {_NUMBER}", r"write it in the site file as \1 feet"),
        (r"Write rollers = (\d+)\.", r"Write \1 as its rollers."),
        (rf"write reserve_s = {_NUMBER}", r"write \1 s as the reserve of the link, under More"),
        (rf"Set earliest_s to {_NUMBER}", r"Set the earliest strike to \1 s before the picture"),
        (r"write it as path_ft or path_m", "write it as the path, in feet or metres"),
        (r"write it as reserve_s", "write it as the reserve"),
        (r"Write motors_at = (\S+) in the plan\.", _start),
        (
            r"write them in the site file as \[\[walks\]\]",
            "write each in the site file, with the seconds that it takes",
        ),
        (
            r"Where runs say what these motors do \(festoon learn\), write that\.",
            "Where the debrief of a run says what these motors do, write that under Rules.",
        ),
    )
)
"""What the judge says of keys, and what a desk says; tests hold that no key is left in what a desk says."""


def desk_words(text: str) -> str:
    """A sentence of a finding as the desk has it."""
    for key, said in _SAID:
        text = key.sub(said, text)
    return text


def for_desk(finding: Finding) -> Finding:
    """A finding as the desk has it."""
    return finding._replace(
        text=desk_words(finding.text), cause=desk_words(finding.cause), remedy=desk_words(finding.remedy)
    )
