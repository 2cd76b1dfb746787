"""Changing one key or one entry of a list in the text of a plan or a site: comments, order and spacing else stay.

Texts are TOML without a byte order mark. ValueError, KeyError, IndexError and TypeError are for what is written in a
way that cannot be changed so.
"""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import tomlkit
from tomlkit.items import Item

from server.plans.brackets import add_in_brackets, entry_spans, move_in_brackets, remove_in_brackets
from server.plans.spans import Block, KeyPath, Statement, blocks_of, comments_in

_SECTIONS: Final = (
    *("film", "timing", "threading", "lamp", "print", "marks", "stations", "stop_groups"),
    *("houses", "paths", "walks"),
)
_LENGTHS: Final = ("duration", "feet", "frames")
_LAMP: Final = ("earliest_s", "latest_s", "douser_limit_s", "gate_limit_s")
_ORDER: Final[dict[str, tuple[str, ...]]] = {
    "": ("format", "title", "site", "timezone"),
    "film": ("gauge", "frame_rate", "shrinkage_percent"),
    "timing": ("motors_at", "reserve_s"),
    "lamp": _LAMP,
    "print": ("id", "kind", "title", *_LENGTHS, "cue"),
    "marks": ("id", "after", *_LENGTHS, "cue", "say", "notice_s", "houses"),
    "stations": (
        *("id", "house", "booth", "path_ft", "path_m", "rollers", "start_offset_s", "reserve_s", "advertised"),
        *(*_LAMP, "inputs"),
    ),
    "paths": ("from", "to", "path_ft", "path_m", "path_tolerance_percent", "rollers"),
}
"""In which order keys are put into a table, as the documents have them; others come at its end."""

_FOR_ONE_THING: Final = (_LENGTHS, ("path_ft", "path_m"))


def giving_way(key: str | int) -> tuple[str, ...]:
    """The other keys for what a key is for: a plan has one of them."""
    return tuple(other for keys in _FOR_ONE_THING if key in keys for other in keys if other != key)


def set_key(text: str, path: KeyPath, value: object | None) -> str:
    """Give a key a value, or take it out where that is None."""
    names = (path[-1], *giving_way(path[-1])) if value is not None else (path[-1],)
    found = [one for one in _statements(text) if one.path[:-1] == path[:-1] and one.path[-1] in names]
    if found:
        return _written_over(text, found, path, value)
    holder = next((one for one in _statements(text) if one.path == path[: len(one.path)]), None)
    if holder is not None:
        return _set_inside(text, holder, path, value)
    return text if value is None else _written_anew(text, path, value)


def add_entry(text: str, name: str, at: int, values: Mapping[str, object]) -> str:
    """Put an entry into a list of tables, before the one at `at` or at the end."""
    inline = _inline_list(text, name)
    if inline is not None:
        return add_in_brackets(text, inline, at, toml_from_value(values))
    lines = [f"[[{name}]]", *(f"{key} = {toml_from_value(values[key])}" for key in _sorted_keys(name, values))]
    return _with_entry(text, name, at, "".join(f"{line}\n" for line in lines))


def remove_entry(text: str, name: str, at: int) -> str:
    """Take an entry out, with the comments right above it, in it and right under it."""
    inline = _inline_list(text, name)
    if inline is not None:
        only = len(entry_spans(text, inline)) == 1
        return _only_comments(text, inline) if only else remove_in_brackets(text, inline, at)
    for block in reversed(_group(text, name, at)):
        text = _without(text, block)
    return text


def move_entry(text: str, name: str, at: int, to: int) -> str:
    """Put an entry elsewhere in its list: at `to` once it is out."""
    inline = _inline_list(text, name)
    if inline is not None:
        return move_in_brackets(text, inline, at, to)
    parts = [_ended(text[block.start : block.own_end]) for block in _group(text, name, at)]
    return _with_entry(remove_entry(text, name, at), name, to, "\n".join(parts))


def toml_from_value(value: object) -> str:
    """A value as TOML has it; a table on one line."""
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{key} = {toml_from_value(inner)}' for key, inner in value.items())} }}"
    return str(tomlkit.item(value).as_string())


def _item(value: object) -> Item:
    return tomlkit.value(toml_from_value(value))


def _statements(text: str) -> list[Statement]:
    return [statement for block in blocks_of(text) for statement in block.statements]


def _written_over(text: str, found: Sequence[Statement], path: KeyPath, value: object | None) -> str:
    """Write over the first of what was found, and take out the others."""
    kept = next((one for one in found if one.path == path), found[0]) if value is not None else None
    for one in reversed(found):
        if one is not kept:
            text = _cut(text, one)
        elif one.path == path:
            text = text[: one.value] + toml_from_value(value) + text[one.value_end :]
        else:
            name = text[one.key : one.key_end].rpartition(".")[0]
            key = f"{name}.{path[-1]}" if name else path[-1]
            text = f"{text[: one.key]}{key} = {toml_from_value(value)}{text[one.value_end :]}"
    return text


def _set_inside(text: str, holder: Statement, path: KeyPath, value: object | None) -> str:
    """Change a key of a table that is written on one line, or of one in a list in brackets."""
    inner = path[len(holder.path) :]
    start, end = holder.value, holder.value_end
    if isinstance(inner[0], int):
        start, end = entry_spans(text, holder)[inner[0]]
        inner = inner[1:]
    document: Any = tomlkit.parse(f"x = {text[start:end]}")
    table = document["x"]
    for part in inner[:-1]:
        if part not in table:
            if value is None:
                return text
            table[part] = _item({})
        table = table[part]
    is_new = value is not None and inner[-1] not in table
    if value is None:
        table.pop(inner[-1], None)
    else:
        for other in giving_way(inner[-1]):
            table.pop(other, None)
        table[inner[-1]] = _item(value)
    # A new key is put in without the spaces that people put: then all is written anew, where no comment is lost by it.
    plain = is_new and not comments_in(text[start:end])
    written = toml_from_value(document["x"].unwrap()) if plain else str(document["x"].as_string())
    return text[:start] + written + text[end:]


def _depth_of(text: str, statement: Statement) -> int:
    """How many parts of a statement's path are those of the table that it stands in."""
    return next(len(block.path) for block in blocks_of(text) if statement in block.statements)


def _inline_list(text: str, name: str) -> Statement | None:
    """The statement of a list that is written in brackets, not as tables of their own."""
    return next((one for one in _statements(text) if one.path == (name,)), None)


def _only_comments(text: str, statement: Statement) -> str:
    """Take a statement out but for the comments in it."""
    comments = comments_in(text[statement.value : statement.value_end])
    return _cut(text, statement, "".join(f"{one}{_newline(text)}" for one in comments))


def _cut(text: str, statement: Statement, left: str = "") -> str:
    """Take a statement out but for what is `left` of it.

    Comments that stood above it, or are left, get an empty line under them where they would come to stand right above
    a header: there they would be about that table, and go with it.
    """
    head, rest = text[: statement.start] + left, text[statement.end :]
    taken_over = any(block.start < len(head) < block.body for block in blocks_of(head + rest))
    return f"{head}{_newline(text) if taken_over else ''}{rest}"


def _written_anew(text: str, path: KeyPath, value: object) -> str:
    """Write a key that is not there, where its table is or would be."""
    *above, key = path
    line = f"{key} = {toml_from_value(value)}"
    for block in blocks_of(text):
        if block.path == tuple(above):
            return _with_line(text, block, path, line)
    beside = [one for one in _statements(text) if one.path[: len(above)] == tuple(above)]
    if above and beside:
        last = beside[-1]
        name = ".".join(str(part) for part in above[_depth_of(text, last) :])
        return _with_line_after(text, last, f"{name}.{line}")
    match above:
        case []:
            return _with_line(text, blocks_of(text)[0], path, line)
        case [str(table)]:
            return _with_section(text, table, f"[{table}]\n{line}\n")
        case [str(), int(), str()]:
            return _written_anew(text, tuple(above), {str(key): value})
        case _:
            raise ValueError(f"no place for {path}")


def _with_line(text: str, block: Block, path: KeyPath, line: str) -> str:
    """Put a line into a table, behind the keys that come before it."""
    order = _ORDER.get(str(path[0]) if len(path) > 1 else "", ())
    before = order[: order.index(str(path[-1]))] if path[-1] in order else None
    behind = [one for one in block.statements if before is None or one.path[-1] in before]
    if behind:
        return _with_line_after(text, behind[-1], line)
    at = block.body if block.path else block.statements[0].start if block.statements else block.end
    head = _ended(text[:at], _newline(text))
    return f"{head}{line}{_newline(text)}{text[at:]}"


def _with_line_after(text: str, statement: Statement, line: str) -> str:
    indent = text[statement.start : statement.key]
    return f"{_ended(text[: statement.end], _newline(text))}{indent}{line}{_newline(text)}{text[statement.end :]}"


def _sorted_keys(name: str, values: Mapping[str, object]) -> list[str]:
    order = _ORDER.get(name, ())
    return sorted(values, key=lambda key: order.index(key) if key in order else len(order))


def _group(text: str, name: str, at: int) -> list[Block]:
    """What belongs to an entry of a list: its table, and tables in it. Raises IndexError where there is none."""
    group = [block for block in blocks_of(text) if block.path[:2] == (name, at)]
    if not group:
        raise IndexError(f"{name}[{at}]")
    return group


def _with_entry(text: str, name: str, at: int, entry: str) -> str:
    blocks = [block for block in blocks_of(text) if block.path[:1] == (name,)]
    if not blocks:
        return _with_section(text, name, entry)
    here = next((block for block in blocks if block.path == (name, at)), None)
    return _with_block(text, here.start if here else blocks[-1].own_end, entry)


def _with_section(text: str, name: str, block_text: str) -> str:
    """Put in a table or a list that the text does not have, where the documents have it."""
    before = _SECTIONS[: _SECTIONS.index(name)]
    blocks = blocks_of(text)
    above = [block for block in blocks if block.path and block.path[0] in before] or blocks[:1]
    last = above[-1]
    return _with_block(text, last.own_end if last.statements else last.end, block_text)


def _with_block(text: str, at: int, block_text: str) -> str:
    """Put a table in, with an empty line on either side."""
    newline = _newline(text)
    head, rest = _ended(text[:at], newline), text[at:]
    if head and not head.endswith(("\n\n", "\n\r\n")):
        head += newline
    if rest and not rest.startswith(("\n", "\r\n")):
        rest = newline + rest
    return head + block_text.replace("\r\n", "\n").replace("\n", newline) + rest


def _without(text: str, block: Block) -> str:
    """Take a table out; comments under it that are about nothing stay."""
    left = text[block.own_end : block.end]
    head = text[: block.start]
    if left.strip():
        return head + left + text[block.end :]
    rest = text[block.end :]
    return head + rest if rest else f"{head.rstrip()}{_newline(text)}"


def _ended(text: str, newline: str = "\n") -> str:
    return text if not text or text.endswith("\n") else text + newline


def _newline(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"
