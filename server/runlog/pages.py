"""Rows read straight off the pages of a SQLite file, whatever became of the pages that lead to them.

Pure: bytes in, rows out. The layout is that of SQLite, "Database File Format": table leaf pages hold rows, index leaf
pages copies of their keys, overflow pages what does not fit. A write-ahead log holds newer pages in front.
"""

import struct
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Value = str | int | float | bytes | None
Row = tuple[Value, ...]

_TABLE_LEAF, _INDEX_LEAF, _INDEX_INTERIOR = 0x0D, 0x0A, 0x02
_WAL_MAGIC = 0x377F0682
_WAL_HEADER, _FRAME_HEADER = 32, 24
_DEFAULT_PAGE = 4096
_INT_BYTES = (0, 1, 2, 3, 4, 6, 8)


class Ahead(NamedTuple):
    """What a write-ahead log holds.

    `pages` are its sound pages by number, each as of the last commit. `damaged` are pages with wrong bytes in them;
    where there are any, SQLite passes over them and over all that was committed after them.
    """

    pages: Mapping[int, bytes]
    damaged: Sequence[bytes] = ()


class Found(NamedTuple):
    """Rows of tables and keys of indexes, in no order, also such as are there twice or have been deleted."""

    rows: list[Row]
    keys: list[Row]


def found_in(database: bytes, ahead: Ahead) -> Found:
    """Every row and key that can still be read of a file and of what was written ahead of it."""
    pages = _Pages(database, ahead)
    found = Found([], [])
    # What damaged pages say comes first: a sound copy of the same row wins.
    numbered = [*((0, page) for page in ahead.damaged), *((number, pages.page(number)) for number in pages.numbers())]
    for number, page in numbered:
        start = 100 if number == 1 else 0
        kind = page[start] if len(page) > start else 0
        if kind in {_TABLE_LEAF, _INDEX_LEAF, _INDEX_INTERIOR}:
            (found.rows if kind == _TABLE_LEAF else found.keys).extend(pages.cells(page, start, kind))
    return found


def ahead_of(log: bytes) -> Ahead:
    """Read a write-ahead log to its last commit, past frames that are damaged; an earlier turn of it is left out."""
    if len(log) <= _WAL_HEADER + _FRAME_HEADER:
        return Ahead({})
    magic, _, size = struct.unpack(">3I", log[:12])
    order = ">" if magic & 1 else "<"
    headed = magic & ~1 == _WAL_MAGIC and _summed(order, log[:24], (0, 0)) == struct.unpack(">2I", log[24:32])
    if not headed:
        order, size = "<", _DEFAULT_PAGE
    turn = log[16:24] if headed else log[_WAL_HEADER + 8 : _WAL_HEADER + 16]
    before = log[24:32] if headed else None
    pages: dict[int, bytes] = {}
    damaged: list[bytes] = []
    since: list[tuple[int, bytes, bool]] = []
    for at in range(_WAL_HEADER, len(log) - _FRAME_HEADER - size + 1, _FRAME_HEADER + size):
        head, page = log[at : at + _FRAME_HEADER], log[at + _FRAME_HEADER : at + _FRAME_HEADER + size]
        # Each sum goes on from the one before it, so that one wrong frame leaves those after it to be told sound.
        is_sound = before is not None and _frame_sum(order, head, page, before) == head[16:24]
        before = head[16:24]
        if head[8:16] != turn and not _goes_on(log, at + _FRAME_HEADER + size, turn):
            break
        since.append((int.from_bytes(head[:4], "big"), page, is_sound and head[8:16] == turn))
        if head[4:8] != bytes(4):
            pages.update({number: page for number, page, sound in since if sound})
            damaged += [page for _, page, sound in since if not sound]
            since = []
    return Ahead(pages, damaged)


def _frame_sum(order: str, head: bytes, page: bytes, before: bytes) -> bytes:
    started = struct.unpack(">2I", before)
    return struct.pack(">2I", *_summed(order, page, _summed(order, head[:8], started)))


def _goes_on(log: bytes, at: int, turn: bytes) -> bool:
    """Whether the next frame is of this turn, so that the one before it had its head damaged."""
    return log[at + 8 : at + 16] == turn


def _summed(order: str, data: bytes, before: tuple[int, ...]) -> tuple[int, int]:
    """The sum of a write-ahead log gone on with: for each pair of words `one += left + other; other += right + one`.

    That is linear modulo 2^32, so that a page is one product.
    """
    words = np.frombuffer(data, dtype=f"{order}u4").astype(np.uint32)
    of_words, of_before = _coefficients(len(words) // 2)
    added = (of_words * words).sum(axis=1, dtype=np.uint32)
    one, other = (
        (int(added[row]) + of_before[row][0] * before[0] + of_before[row][1] * before[1]) & 0xFFFFFFFF
        for row in range(2)
    )
    return one, other


@lru_cache(maxsize=8)
def _coefficients(pairs: int) -> tuple[NDArray[np.uint32], tuple[tuple[int, int], tuple[int, int]]]:
    """What each word, and the sum before, counts in the sum after so many pairs of words."""
    one, other = (1, 0), (0, 1)
    of_words = np.zeros((2, 2 * pairs), dtype=np.uint32)
    for pair in reversed(range(pairs)):
        # A left word goes into both sums of its pair, a right one into the other alone.
        of_words[:, 2 * pair] = ((one[0] + one[1]) & 0xFFFFFFFF, (other[0] + other[1]) & 0xFFFFFFFF)
        of_words[:, 2 * pair + 1] = (one[1], other[1])
        one, other = _a_pair_earlier(one), _a_pair_earlier(other)
    return of_words, (one, other)


def _a_pair_earlier(counts: tuple[int, int]) -> tuple[int, int]:
    of_one, of_other = counts
    return (of_one + of_other) & 0xFFFFFFFF, (of_one + 2 * of_other) & 0xFFFFFFFF


class _Pages:
    """The pages of a database as of its last commit that can be read."""

    def __init__(self, database: bytes, ahead: Ahead) -> None:
        stated = int.from_bytes(database[16:18], "big")
        stated = 65536 if stated == 1 else stated
        self._size = stated if stated >= 512 and stated & (stated - 1) == 0 else _DEFAULT_PAGE
        self._usable = self._size
        self._database = database
        self._ahead = ahead.pages
        self._free = frozenset(self._free_pages())

    def numbers(self) -> Iterator[int]:
        """Of all pages that are in use."""
        there = {*range(1, len(self._database) // self._size + 1), *self._ahead}
        return iter(sorted(there - self._free))

    def page(self, number: int) -> bytes:
        """One page; nothing for one that is not there, or not the whole of it."""
        there = self._ahead.get(number)
        if there is None:
            there = self._database[(number - 1) * self._size : number * self._size]
            return there if len(there) == self._size else b""
        return there

    def cells(self, page: bytes, start: int, kind: int) -> Iterator[Row]:
        """The rows of one leaf page of a table, or the keys of one page of an index."""
        count = int.from_bytes(page[start + 3 : start + 5], "big")
        first = start + (12 if kind == _INDEX_INTERIOR else 8)
        for place in range(first, min(first + 2 * count, len(page) - 1), 2):
            at = int.from_bytes(page[place : place + 2], "big")
            try:
                row = self._cell(page, at + (4 if kind == _INDEX_INTERIOR else 0), kind)
            except (IndexError, ValueError, struct.error):
                continue  # this cell is damaged; those beside it may be sound
            if row is not None:
                yield row

    def _cell(self, page: bytes, at: int, kind: int) -> Row | None:
        length, at = _varint(page, at)
        most = self._usable - 35
        if kind == _TABLE_LEAF:
            _, at = _varint(page, at)
        else:
            most = (self._usable - 12) * 64 // 255 - 23
        if length > len(self._database) + len(self._ahead) * self._size:
            return None
        return _record(self._payload(page, at, length, most))

    def _payload(self, page: bytes, at: int, length: int, most: int) -> bytes:
        if length <= most:
            return page[at : at + length]
        least = (self._usable - 12) * 32 // 255 - 23
        here = least + (length - least) % (self._usable - 4)
        here = here if here <= most else least
        parts = [page[at : at + here]]
        following, left = page[at + here : at + here + 4], length - here
        while left > 0:
            overflow = self.page(int.from_bytes(following, "big"))
            if not overflow:
                raise ValueError("the row goes on in a page that is not there")
            following, part = overflow[:4], overflow[4 : 4 + left]
            parts.append(part)
            left -= len(part)
        return b"".join(parts)

    def _free_pages(self) -> Iterator[int]:
        """The pages that were let go of, with rows that were deleted: as far as their list can be followed."""
        head = self.page(1)
        trunk, seen = int.from_bytes(head[32:36], "big"), set[int]()
        while trunk and trunk not in seen and (page := self.page(trunk)):
            seen.add(trunk)
            yield trunk
            count = min(int.from_bytes(page[4:8], "big"), len(page) // 4 - 2)
            yield from struct.unpack(f">{count}I", page[8 : 8 + 4 * count])
            trunk = int.from_bytes(page[:4], "big")


def _varint(data: bytes, at: int) -> tuple[int, int]:
    value = 0
    for step in range(8):
        byte = data[at + step]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, at + step + 1
    return value << 8 | data[at + 8], at + 9


def _record(payload: bytes) -> Row:
    """The columns of one record. Raises ValueError or IndexError where it is none."""
    end, at = _varint(payload, 0)
    kinds: list[int] = []
    while at < end:
        kind, at = _varint(payload, at)
        kinds.append(kind)
    row: list[Value] = []
    for kind in kinds:
        value, at = _value(payload, at, kind)
        row.append(value)
    if at != len(payload):
        raise ValueError("the columns are not as long as their record")
    return tuple(row)


def _value(payload: bytes, at: int, kind: int) -> tuple[Value, int]:
    if kind >= 12:
        length = (kind - 12) // 2
        data = payload[at : at + length]
        if len(data) < length:
            raise ValueError("the record ends too early")
        return data.decode() if kind % 2 else data, at + length
    if kind in {8, 9}:
        return kind - 8, at
    if kind == 7:
        return struct.unpack(">d", payload[at : at + 8])[0], at + 8
    if kind == 0:
        return None, at
    length = _INT_BYTES[kind]
    return int.from_bytes(payload[at : at + length], "big", signed=True), at + length
