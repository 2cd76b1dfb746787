"""Plans as people write them: every way that TOML has, with a comment at every place that can have one."""

import json
from collections.abc import Callable
from typing import Any, NamedTuple

from hypothesis import strategies as st

Owner = tuple[str, ...] | None
"""What a comment is about: an entry by its list and id, a key of it or of a table; None where it is about nothing."""

LETTERS = st.text("abcé ßж'\"\\#=[]{},.\t", max_size=6)
NUMBERS = st.one_of(st.integers(-5, 10**6), st.floats(0.001, 1e6), st.booleans(), LETTERS)
STATION_KEYS = ("house", "booth", "path_ft", "path_m", "rollers", "reserve_s", "advertised", "earliest_s", "unknown")
SEGMENT_KEYS = ("kind", "title", "feet", "frames", "duration", "cue")
INPUTS = ("motor", "lamp", "douser", "cue")
TABLES = ("film", "timing", "threading", "lamp")
TABLE_KEYS = ("reserve_s", "gauge", "earliest_s", "spare_percent", "start")
TOP_KEYS = ("format", "title", "site")


class Written(NamedTuple):
    """A text, what it says, and what each of its comments is about, by the comment."""

    text: str
    data: dict[str, Any]
    comments: dict[str, Owner]


def toml(value: object) -> str:
    """A value on one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {toml(inner)}" for key, inner in value.items()) + "}"
    return json.dumps(value, ensure_ascii=False)


class Writer:
    """Writes a text a line at a time, with comments as they are drawn."""

    def __init__(self, draw: Callable[[Any], Any]) -> None:
        self._draw = draw
        self.lines: list[str] = []
        self.comments: dict[str, Owner] = {}

    def chance(self) -> bool:
        return bool(self._draw(st.booleans()))

    def comment(self, owner: Owner) -> str:
        """A comment of its own, if there is to be one here."""
        if not self.chance():
            return ""
        text = f"# c{len(self.comments)}"
        self.comments[text] = owner
        return text

    def about(self, owner: Owner) -> None:
        if comment := self.comment(owner):
            self.lines.append(comment)

    def key(self, name: str, value: object, owner: Owner) -> None:
        comment = self.comment(owner)
        self.lines.append(f"{name} = {toml(value)}{'  ' if comment else ''}{comment}".rstrip())

    def gap(self) -> None:
        """An empty line, and perhaps a comment that belongs to nothing."""
        self.lines.append("")
        if self.chance():
            self.about(None)
            self.lines.append("")

    def text(self) -> str:
        newline = "\r\n" if self.chance() else "\n"
        return newline.join(self.lines) + ("" if self.chance() else newline)


def entry_of(draw: Callable[[Any], Any], name: str, number: int) -> dict[str, Any]:
    """What one entry of a list says."""
    keys = STATION_KEYS if name == "stations" else SEGMENT_KEYS
    values: dict[str, Any] = {"id": f"{name[0]}{number}"}
    values |= {key: draw(NUMBERS) for key in draw(st.lists(st.sampled_from(keys), unique=True, max_size=4))}
    if {"path_ft", "path_m"} <= values.keys():
        del values["path_m"]
    for length in [key for key in ("frames", "duration", "feet") if key in values][1:]:
        del values[length]
    if name == "stations" and draw(st.booleans()):
        values["inputs"] = dict.fromkeys(draw(st.lists(st.sampled_from(INPUTS), unique=True, min_size=1)), "tap")
    return values


def _write_entry(writer: Writer, name: str, entry: dict[str, Any], way: str) -> None:
    owner = (name, entry["id"])
    writer.about(owner)
    writer.lines.append(f"[[{name}]]")
    for key, value in entry.items():
        if key == "inputs" and way == "table":
            continue
        writer.about(owner)
        if key == "inputs" and way == "dotted":
            for inner, word in value.items():
                writer.key(f"inputs.{inner}", word, owner)
        else:
            writer.key(f'"{key}"' if way == "quoted" else key, value, (*owner, key))
    if "inputs" in entry and way == "table":
        if writer.chance():
            writer.lines.append("")
        writer.lines.append(f"[{name}.inputs]")
        for inner, word in entry["inputs"].items():
            writer.key(inner, word, owner)


def _write_brackets(writer: Writer, name: str, entries: list[dict[str, Any]]) -> None:
    writer.lines.append(f"{name} = [")
    for entry in entries:
        owner = (name, entry["id"])
        writer.lines.append(f"  {toml(entry)}, {writer.comment(owner)}".rstrip())
        writer.about(owner)
    writer.lines.append("]")


def _write_top(writer: Writer, draw: Callable[[Any], Any], data: dict[str, Any]) -> None:
    writer.about(None)
    for key in draw(st.lists(st.sampled_from(TOP_KEYS), unique=True)):
        data[key] = draw(NUMBERS)
        writer.key(key, data[key], (key,))


def _write_tables_on_top(
    writer: Writer, tables: dict[str, dict[str, Any]], ways: dict[str, str], data: dict[str, Any]
) -> None:
    """Tables without a header: on one line, or a key at a time."""
    for name, way in ways.items():
        if way == "inline":
            data[name] = tables[name]
            writer.key(name, tables[name], (name,))
        elif way == "dotted" and tables[name]:
            data[name] = tables[name]
            for key, value in tables[name].items():
                writer.key(f"{name}.{key}", value, (name, key))


def _write_section(writer: Writer, name: str, table: dict[str, Any]) -> None:
    writer.about((name,))
    writer.lines.append(f"[{name}]")
    for key, value in table.items():
        writer.key(key, value, (name, key))


@st.composite
def plan_texts(draw: Callable[[Any], Any]) -> Written:
    """Texts of plans with a few entries in each list, right or wrong in their values."""
    writer = Writer(draw)
    data: dict[str, Any] = {}
    lists = {name: [entry_of(draw, name, n) for n in range(draw(st.integers(0, 3)))] for name in ("print", "stations")}
    tables = {name: {key: draw(NUMBERS) for key in draw(st.sets(st.sampled_from(TABLE_KEYS)))} for name in TABLES}
    in_brackets = {name for name in lists if draw(st.integers(0, 3)) == 0}
    ways = {name: draw(st.sampled_from(("none", "section", "dotted", "inline"))) for name in TABLES}
    _write_top(writer, draw, data)
    _write_tables_on_top(writer, tables, ways, data)
    for name in sorted(in_brackets):
        if lists[name]:
            data[name] = lists[name]
            _write_brackets(writer, name, lists[name])
    pieces: list[Any] = [entry for name in lists if name not in in_brackets for entry in lists[name]]
    pieces += [name for name, way in ways.items() if way == "section"]
    writer.gap()
    for piece in draw(st.permutations(pieces)) if draw(st.booleans()) else pieces:
        if isinstance(piece, str):
            data[piece] = tables[piece]
            _write_section(writer, piece, tables[piece])
        else:
            name = "print" if piece["id"][0] == "p" else "stations"
            data.setdefault(name, []).append(piece)
            _write_entry(writer, name, piece, draw(st.sampled_from(("inline", "table", "dotted", "quoted"))))
        if writer.chance():
            writer.gap()
    return Written(writer.text(), data, writer.comments)
