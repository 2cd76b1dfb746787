"""What is wrong with the text of a plan, each fault at its field and in the words of whoever fills it in."""

import re
from collections.abc import Iterable
from typing import Final, NamedTuple

from server.plans.keypaths import Value, at_path, path_from_text
from server.plans.meant import meant_by
from server.plans.naming import place_name
from server.plans.spans import KeyPath
from server.timeline.file_kinds import PLAN

NAME: Final = "plan"
"""What the plan reader calls the text here; it begins each fault."""

_FAULT: Final = re.compile(
    rf"{NAME}: (?:line (?P<line>\d+): )?(?:(?P<path>.*?): )??found (?P<found>.*); accepted (?P<accepted>.*)", re.DOTALL
)
_SYNTAX: Final = re.compile(r"a syntax error in column (\d+) \((.*)\)", re.DOTALL)
_HALF_A_START: Final = re.compile(r"^'\d{4}-\d\d-\d\dT(.+)'$", re.ASCII)
_ASKED: Final = {
    "title": "Write what the show is called.",
    "house": "Write the name of the house, such as 4.",
    "duration": "Write minutes:seconds or hours:minutes:seconds, such as 1:48:05.",
    "advertised": "Write a time of day, such as 19:00.",
    "timing.motors_at": "Write a day, and a time of day such as 19:00.",
    "timezone": "Write a time zone, such as America/Chicago.",
    "after": "Choose the piece that it is counted from.",
    "stations": "Add the first house of the chain.",
    "print": "Add the head leader, then what follows it.",
}
_SAID: Final = (
    ("exactly one of frames", "Say how long it is: a running time such as 1:48:05, feet or frames."),
    ("earliest_s over latest_s", "The earliest strike has to be longer before the picture than the latest."),
    ("none or 0: no path leads", "No path leads to the first house: leave this empty."),
    ("'leader': the first segment", "The first piece is the head leader: choose leader, or move it down."),
    ("a mark in the print", "This is behind the end of the print: shorten it, or choose another piece."),
    ("the id of one", "Two entries have this same name in the file: change one of them under Text."),
    ("2 to ", "Add what follows the leader."),
)
"""Sentences for what the reader accepts, by how it begins or what it says."""


class Fault(NamedTuple):
    """One fault: `path` is its key, empty where it is the text's; `line` 0 where it has none.

    `about` says where it is, `text` what is wrong and what to do. `meant` is the value that was likely meant, None
    where that cannot be told.
    """

    path: str
    line: int
    about: str
    text: str
    meant: Value | None = None


def faults_from_texts(texts: Iterable[str], data: object) -> list[Fault]:
    """The faults that the plan reader told of a text called NAME; `data` is what it was parsed to, None for no TOML."""
    return [_fault(text, data) for text in texts]


def _fault(text: str, data: object) -> Fault:
    match = _FAULT.fullmatch(text)
    if match is None:
        return Fault("", 0, "", text.removeprefix(f"{NAME}: "))
    line, written, found, accepted = int(match["line"] or 0), match["path"] or "", match["found"], match["accepted"]
    if accepted == PLAN:
        return Fault("", 0, "", f"This is {found}. A plan is wanted.")
    if data is None:
        return Fault("", line, f"Line {line}" if line else "The text", _syntax_words(found))
    try:
        path = path_from_text(written)
    except ValueError:  # an unknown key that is written in quotes
        return Fault(written, line, written, _words((), found, accepted))
    value = at_path(data, path)
    return Fault(written, line, place_name(data, path), _words(path, found, accepted), _meant(path, value))


def _syntax_words(found: str) -> str:
    syntax = _SYNTAX.fullmatch(found)
    if syntax is None:
        return f"This cannot be read: {found}."
    return f"This line cannot be read from character {syntax[1]} on: {syntax[2][:1].lower()}{syntax[2][1:]}."


def _meant(path: KeyPath, value: object) -> Value | None:
    return meant_by(str(path[-1]), value) if path else None


def _words(path: KeyPath, found: str, accepted: str) -> str:
    for start, sentence in _SAID:
        if start in accepted:
            return sentence
    if found == "an unknown key":
        return f"This key is not known. Known are {accepted}."
    several = accepted.partition(": write ")[2]
    if " in the " in several:  # the reader knows two times that may be meant
        return f"Found {found}. Write {several}."
    key = ".".join(part for part in path if isinstance(part, str))
    found = _HALF_A_START.sub(r"'\1'", found)  # of two fields the one that is wrong
    asked = _ASKED.get(key) or _ASKED.get(str(path[-1]) if path else "") or f"Write {accepted}."
    return asked if found == "nothing" else f"Found {found}. {asked}"
