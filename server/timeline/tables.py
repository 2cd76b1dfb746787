"""Reading a TOML file table by table, with every fault noted and none fatal.

A reader takes each key it knows out of a `Table` and closes it; what is left over is an unknown key. A value that
is not accepted is noted in the file's `Faults` and its default is handed back, so that reading goes on to the end.
"""

import re
import tomllib
from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from typing import Any, Final, TypeGuard, TypeVar

from server.timeline.faults import either, found_text

Word = TypeVar("Word", bound=str)

_TEXT_LENGTH = 200  # chosen: longest text of a plan
_ID_LENGTH = 64  # chosen

MOST_DEPTH: Final = 20
"""Chosen: a file of ours has tables in tables, and no more."""
_TOO_DEEP: Final = "values nested too deeply"

_HEADER = re.compile(r"\s*(\[\[?)\s*([^\[\]]+?)\s*\]")
_KEY = re.compile(r"""\s*((?:"[^"]*"|'[^']*'|[\w.-])+)\s*=""")
_SYNTAX = re.compile(r"(.*) \(at line (\d+), column (\d+)\)", re.DOTALL)


def key_lines(text: str) -> dict[str, int]:
    """Find the line, from 1, of each key path written in a TOML text.

    A best effort for messages: keys inside inline tables are not found; `Faults` falls back to what holds them.
    """
    lines: dict[str, int] = {}
    tables: Counter[str] = Counter()
    prefix, in_text = "", False
    for number, line in enumerate(text.split("\n"), 1):
        if not in_text and (header := _HEADER.match(line)):
            prefix = _path_of_header(header, tables)
            lines.setdefault(prefix, number)
        elif not in_text and (key := _KEY.match(line)):
            lines.setdefault(_joined(prefix, _unquoted(key[1])), number)
        in_text ^= (line.count('"""') + line.count("'''")) % 2 == 1
    return lines


def _path_of_header(header: re.Match[str], tables: Counter[str]) -> str:
    name = _unquoted(header[2])
    if header[1] == "[[":
        tables[name] += 1
        return f"{name}[{tables[name] - 1}]"
    first, dot, rest = name.partition(".")
    return f"{first}[{tables[first] - 1}]{dot}{rest}" if first in tables else name


def _unquoted(key: str) -> str:
    return re.sub(r"[\"'\s]", "", key)


def _joined(path: str, key: str) -> str:
    return f"{path}.{key}" if path and key else path or key


@dataclass(slots=True)
class Faults:
    """The faults of one file, each worded `name: line N: key.path: found X; accepted Y`."""

    name: str
    lines: dict[str, int] = field(default_factory=dict)
    noted: list[tuple[int, str]] = field(default_factory=list)

    def add(self, path: str, found: str, accepted: str) -> None:
        """Note a fault at a key path; the line is that of the key, or of the nearest table that holds it."""
        line = self._line(path)
        where = f"line {line}: {path}" if line else path
        self.noted.append((line, f"{self.name}: {where}: found {found}; accepted {accepted}"))

    def texts(self) -> list[str]:
        """Every fault, in the order of the lines; those without a line come first."""
        return [text for _, text in sorted(self.noted, key=lambda noted: noted[0])]

    def _line(self, path: str) -> int:
        while path:
            if path in self.lines:
                return self.lines[path]
            path = path.rpartition(".")[0]
        return 0


def toml_data(text: str) -> dict[str, Any]:
    """Parse TOML. Raises ValueError where it is none, or is nested deeper than MOST_DEPTH, as no file of ours is."""
    try:
        data = tomllib.loads(text)
    except RecursionError:
        raise ValueError(_TOO_DEEP) from None
    level: list[object] = [data]
    for _ in range(MOST_DEPTH):
        level = [inner for value in level for inner in _inside(value)]
    if level:
        raise ValueError(_TOO_DEEP)
    return data


def _inside(value: object) -> Iterable[object]:
    return value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()


def toml_from_text(text: str, faults: Faults) -> dict[str, object] | None:
    """Parse TOML; None, and one fault noted, where it is none."""
    try:
        return toml_data(text)
    except ValueError as error:  # TOMLDecodeError is one; so is an integer too long to convert
        problem = f"found {error}" if str(error) == _TOO_DEEP else _syntax_problem(str(error))
    faults.noted.append((0, f"{faults.name}: {problem}; accepted a TOML file"))
    return None


def _syntax_problem(message: str) -> str:
    if match := _SYNTAX.fullmatch(message):
        return f"line {match[2]}: found a syntax error in column {match[3]} ({_one_line(match[1])})"
    return f"found a syntax error ({_one_line(message)})"


def _one_line(text: str) -> str:
    return "".join(char if char.isprintable() else repr(char)[1:-1] for char in text)


class Table:
    """One table of a file; each method takes a key, notes what is wrong with it and hands back a usable value."""

    def __init__(self, data: dict[str, object], path: str, faults: Faults) -> None:
        self.data = data
        self.path = path
        self.faults = faults
        self._known: list[str] = []

    def fault(self, key: str, found: str, accepted: str) -> None:
        """Note a fault at a key of this table, or at the table itself where the key is empty."""
        self.faults.add(_joined(self.path, key), found, accepted)

    def take(self, key: str) -> object | None:
        """Take a key as it stands; None where it is absent (TOML has no null)."""
        self._known.append(key)
        return self.data.get(key)

    def known(self, *keys: str) -> None:
        """Say of keys that they are known, though nobody took them: what close() notes then names them."""
        self._known += [key for key in keys if key not in self._known]

    def close(self) -> None:
        """Note every key that no reader took."""
        for key in self.data:
            if key not in self._known:
                self.fault(_shown_key(key), "an unknown key", either(self._known))

    def text(self, key: str) -> str | None:
        """An optional text."""
        value = self.take(key)
        if value is None or (isinstance(value, str) and 0 < len(value) <= _TEXT_LENGTH and value.isprintable()):
            return value
        self.fault(key, found_text(value), f"a text on one line, 1 to {_TEXT_LENGTH} characters")
        return None

    def required_text(self, key: str) -> str:
        """A text that must be there; empty on a fault."""
        if key not in self.data:
            self.fault(key, "nothing", f"a text on one line, 1 to {_TEXT_LENGTH} characters")
        return self.text(key) or ""

    def identifier(self, key: str) -> str | None:
        """An id that can stand in `a>b` and `kind:subject`; None on a fault."""
        value = self.take(key)
        if isinstance(value, str) and 0 < len(value) <= _ID_LENGTH and re.fullmatch(r"[\w.-]+", value):
            return value
        self.fault(key, found_text(value), f"an id of 1 to {_ID_LENGTH} letters, digits, '_', '-' and '.'")
        return None

    def number(self, key: str, default: float, low: float, high: float, *, over: bool = False) -> float:
        """A number from `low` (where `over`: over `low`) to `high`."""
        value = self.take(key)
        if value is None:
            return default
        if _is_number(value) and low <= value <= high and not (over and value == low):
            return float(value)
        span = f"over {low:g} and at most {high:.0f}" if over else f"from {low:g} to {high:.0f}"
        self.fault(key, found_text(value), f"a number {span}")
        return default

    def whole(self, key: str, default: int, low: int, high: int) -> int:
        """A whole number from `low` to `high`."""
        value = self.take(key)
        if value is None:
            return default
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        self.fault(key, found_text(value), f"a whole number from {low} to {high}")
        return default

    def flag(self, key: str) -> bool:
        """True or false; false where it is absent."""
        value = self.take(key)
        if value is None or isinstance(value, bool):
            return bool(value)
        self.fault(key, found_text(value), "true or false")
        return False

    def word(self, key: str, accepted: tuple[Word, ...], default: Word) -> Word:
        """One of the accepted words."""
        value = self.take(key)
        if value is None:
            return default
        for word in accepted:
            if value == word:
                return word
        self.fault(key, found_text(value), either(accepted))
        return default

    def table(self, key: str) -> "Table":
        """A table inside this one; empty where it is absent."""
        value = self.take(key)
        if value is not None and not isinstance(value, dict):
            self.fault(key, found_text(value), f"a table [{_joined(self.path, key)}]")
        return Table(value if isinstance(value, dict) else {}, _joined(self.path, key), self.faults)

    def words(self, key: str, accepted: Collection[str], least: int) -> tuple[str, ...]:
        """At least so many of the accepted words, each once; empty on a fault."""
        value = self.take(key)
        if not isinstance(value, list) or len(value) < least:
            self.fault(key, found_text(value), f"a list of {least} or more of {either(accepted)}")
            return ()
        wrong = [word for place, word in enumerate(value) if word not in accepted or word in value[:place]]
        for word in wrong:
            self.fault(key, found_text(word), f"each once, and only {either(accepted)}")
        return () if wrong else tuple(value)

    def optional_tables(self, key: str, accepted: str) -> list["Table"]:
        """The same as `tables`, none where the key is absent."""
        return self.tables(key, accepted) if key in self.data else self._none_of(key)

    def _none_of(self, key: str) -> list["Table"]:
        self.known(key)
        return []

    def tables(self, key: str, accepted: str) -> list["Table"]:
        """A list of tables; an absent, empty or other value is a fault."""
        value = self.take(key)
        if not isinstance(value, list) or not value or not all(isinstance(entry, dict) for entry in value):
            self.fault(key, f"[{key}]" if isinstance(value, dict) else found_text(value), accepted)
            return []
        path = _joined(self.path, key)
        return [Table(entry, f"{path}[{index}]", self.faults) for index, entry in enumerate(value)]


def _is_number(value: object) -> TypeGuard[int | float]:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _shown_key(key: str) -> str:
    return key if re.fullmatch(r"[\w-]+", key) else found_text(key)
