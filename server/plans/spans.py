"""Where in a TOML text every table and every `key = value` stands, so that one can be changed and the rest left alone.

Only for texts that are TOML: what is none is read somehow.
"""

import re
import tomllib
from collections.abc import Iterator
from typing import NamedTuple

KeyPath = tuple[str | int, ...]
"""The names from the top down to a key; after that of a list comes the place in it, from 0."""

_TOKEN = re.compile(
    r'"""(?:\\.|[^\\])*?"""(?:"{0,2})'
    r"|'''.*?'''(?:'{0,2})"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'"
    r"|#[^\n]*"
    r"|[\[{\]},\n]"
    r"|[^\"'#\[\]{},\n]+",
    re.DOTALL,
)
_KEY = re.compile(r"""(?:"(?:\\.|[^"\\\n])*"|'[^'\n]*'|[^="'\n])+""")
_HEADER = re.compile(r"""[ \t]*(\[\[?)((?:"(?:\\.|[^"\\\n])*"|'[^'\n]*'|[^\]"'\n])+)\]""")
_BARE = re.compile(r"[A-Za-z0-9_-]+")


class Statement(NamedTuple):
    """One `key = value`: the line or lines from `start` to `end`, which is after the last one's newline."""

    path: KeyPath
    start: int
    key: int
    key_end: int
    value: int
    value_end: int
    end: int


class Block(NamedTuple):
    """A table with what belongs to it: from the comments right above its header to its last key.

    From `own_end` to `end` there are only empty lines and comments that belong to nothing. The first block of a text is
    what stands before every header; its `path` is empty.
    """

    path: KeyPath
    start: int
    body: int
    own_end: int
    end: int
    statements: tuple[Statement, ...]


class _Line(NamedTuple):
    """A line, or all the lines of a value; `kind` is "blank", "comment", "header" or "statement"."""

    kind: str
    start: int
    end: int
    statement: Statement | None = None
    path: KeyPath = ()


def blocks_of(text: str) -> list[Block]:
    """The blocks of a TOML text, in its order, without a gap between them."""
    lines = list(_lines(text))
    heads = [0, *(_first_above(lines, n) for n, line in enumerate(lines) if line.kind == "header")]
    ends = [*heads[1:], len(lines)]
    return [_block(lines[start:end]) for start, end in zip(heads, ends, strict=True)]


def _first_above(lines: list[_Line], header: int) -> int:
    """The first of the comment lines right above a header; the header itself where there are none.

    They are about what comes, also where a key stands right above them.
    """
    first = header
    while first and lines[first - 1].kind == "comment":
        first -= 1
    return first


def _block(lines: list[_Line]) -> Block:
    if not lines:
        return Block((), 0, 0, 0, 0, ())
    header = next((n for n, line in enumerate(lines) if line.kind == "header"), None)
    body = lines if header is None else lines[header + 1 :]
    statements = tuple(line.statement for line in body if line.statement is not None)
    start = lines[0].start
    body_start = start if header is None else lines[header].end
    return Block(
        path=() if header is None else lines[header].path,
        start=start,
        body=body_start,
        own_end=_own_end(body, body_start),
        end=lines[-1].end,
        statements=statements,
    )


def _own_end(body: list[_Line], start: int) -> int:
    """Where what belongs to a block ends: after its last key and the comments right under it."""
    last = max((n for n, line in enumerate(body) if line.kind == "statement"), default=-1)
    end = body[last].end if last >= 0 else start
    for line in body[last + 1 :]:
        if line.kind != "comment":
            break
        end = line.end
    return end


def _lines(text: str) -> Iterator[_Line]:
    at = 0
    prefix: KeyPath = ()
    lists: dict[KeyPath, int] = {}
    while at < len(text):
        end = text.find("\n", at) + 1 or len(text)
        stripped = text[at:end].strip()
        if not stripped:
            yield _Line("blank", at, end)
        elif stripped.startswith("#"):
            yield _Line("comment", at, end)
        elif header := _HEADER.match(text, at):
            prefix = _header_path(key_names(header[2]), lists, is_list=len(header[1]) == 2)
            yield _Line("header", at, end, path=prefix)
        else:
            statement = _statement(text, at, prefix)
            end = statement.end
            yield _Line("statement", at, end, statement)
        at = end


def _header_path(names: list[str], lists: dict[KeyPath, int], *, is_list: bool) -> KeyPath:
    path: KeyPath = ()
    for n, name in enumerate(names):
        path = (*path, name)
        if is_list and n == len(names) - 1:
            lists[path] = lists.get(path, -1) + 1
        if path in lists:
            path = (*path, lists[path])
    return path


def _statement(text: str, start: int, prefix: KeyPath) -> Statement:
    key = _KEY.match(text, start)
    if key is None or text[key.end() : key.end() + 1] != "=":
        raise ValueError(f"no TOML at {start}")
    name = key[0]
    value_end, end = _value_ends(text, key.end() + 1)
    value = value_end - len(text[key.end() + 1 : value_end].lstrip())
    first = start + len(name) - len(name.lstrip())
    return Statement(
        path=(*prefix, *key_names(name)),
        start=start,
        key=first,
        key_end=start + len(name.rstrip()),
        value=value,
        value_end=value_end,
        end=end,
    )


def _value_ends(text: str, at: int) -> tuple[int, int]:
    """Where a value ends, and the line that it ends on."""
    depth, value_end = 0, at
    while at < len(text):
        token = _TOKEN.match(text, at)
        if token is None:
            raise ValueError(f"no TOML at {at}")
        found, at = token[0], token.end()
        if found == "\n" and depth == 0:
            break
        if found in "[{":
            depth += 1
        elif found in "]}":
            depth -= 1
        if not found.startswith("#") and found.strip():
            value_end = token.start() + len(found.rstrip())
    return value_end, at


def tokens_in(text: str, start: int, end: int) -> Iterator[tuple[int, str]]:
    """The tokens of a value and where each begins; brackets, commas and ends of lines are tokens of their own."""
    return ((token.start(), token[0]) for token in _TOKEN.finditer(text, start, end))


def comments_in(text: str) -> list[str]:
    """Every comment of a TOML text, or of a value, without the spaces around it."""
    return [token[0].strip() for token in _TOKEN.finditer(text) if token[0].startswith("#")]


def key_names(text: str) -> list[str]:
    """The names in a key as it is written, quotes and dots taken apart."""
    text = text.strip()
    if _BARE.fullmatch(text):
        return [text]
    names: list[str] = []
    inner: object = tomllib.loads(f"{text} = 0")
    while isinstance(inner, dict):
        [(name, inner)] = inner.items()
        names.append(name)
    return names
