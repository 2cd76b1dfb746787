"""Lists that are written in brackets, `stations = [{…}, {…}]`, changed entry by entry: comments among them stay."""

from typing import NamedTuple

from server.plans.spans import Statement, tokens_in


class _Entry(NamedTuple):
    """Where an entry stands; `comma` is where the comma behind it is, None where it has none."""

    start: int
    end: int
    comma: int | None


def entry_spans(text: str, statement: Statement) -> list[tuple[int, int]]:
    """Where each entry of a statement's list begins and ends."""
    return [(entry.start, entry.end) for entry in _entries(text, statement)]


def add_in_brackets(text: str, statement: Statement, at: int, entry: str) -> str:
    """Put an entry before the one at `at`, or at the end; on a line of its own where the others are."""
    entries = _entries(text, statement)
    if at < len(entries):
        start = entries[at].start
        return f"{text[:start]}{entry},{_gap(text, start)}{text[start:]}"
    if not entries:
        close = statement.value_end - 1
        return f"{text[:close]}{entry}{text[close:]}"
    last = entries[-1]
    if last.comma is None:
        text = f"{text[: last.end]},{text[last.end :]}"
    behind = _behind_comment(text, (last.comma if last.comma is not None else last.end) + 1)
    return f"{text[:behind]}{_gap(text, last.start)}{entry}{'' if last.comma is None else ','}{text[behind:]}"


def remove_in_brackets(text: str, statement: Statement, at: int) -> str:
    """Take an entry out, with a comma."""
    entries = _entries(text, statement)
    entry = entries[at]
    comma = entry.comma if entry.comma is not None else entries[at - 1].comma if at else None
    cuts = [(entry.start, entry.end), *([] if comma is None else [(comma, comma + 1)])]
    for start, end in sorted(cuts, reverse=True):
        text = text[:start] + text[end:]
    return text


def move_in_brackets(text: str, statement: Statement, at: int, to: int) -> str:
    """Put an entry elsewhere; comments stay where they are, because a list does not say what they are about."""
    entries = _entries(text, statement)
    order = list(entries)
    order.insert(to, order.pop(at))
    moved = text
    for place, entry in reversed(list(zip(entries, order, strict=True))):
        moved = moved[: place.start] + text[entry.start : entry.end] + moved[place.end :]
    return moved


def _entries(text: str, statement: Statement) -> list[_Entry]:
    entries: list[_Entry] = []
    depth = 0
    start: int | None = None
    end = 0
    for at, piece in tokens_in(text, statement.value, statement.value_end):
        if piece.startswith("#") or not piece.strip():
            continue
        depth -= piece in {"]", "}"}
        if depth == 0 and start is not None:
            entries.append(_Entry(start, end, None))
        elif depth == 1 and piece == "," and start is not None:
            entries.append(_Entry(start, end, at))
            start = None
        elif depth >= 1:
            start = at + len(piece) - len(piece.lstrip()) if start is None else start
            end = at + len(piece.rstrip())
        depth += piece in {"[", "{"}
    return entries


def _gap(text: str, start: int) -> str:
    """What stands before an entry: a new line with its indent, or a blank."""
    line = text.rfind("\n", 0, start) + 1
    indent = text[line:start]
    newline = "\r\n" if text[max(line - 2, 0) : line] == "\r\n" else "\n"
    return f"{newline}{indent}" if line and not indent.strip() else " "


def _behind_comment(text: str, at: int) -> int:
    """Behind the comment that stands on the same line, if one does; `at` where something else does."""
    line_end = text.find("\n", at)
    line_end = len(text) if line_end < 0 else line_end
    rest = text[at:line_end].strip()
    if rest and not rest.startswith("#"):
        return at
    return line_end - (1 if text[line_end - 1 : line_end] == "\r" else 0) if rest else at
