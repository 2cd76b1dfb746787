"""The checksum that every run and every event of the log carries, so that a row that changed on the disk is known."""

import zlib


def sum_of(*columns: str | int) -> int:
    """CRC-32 (as of ISO-HDLC, by zlib) over the columns of one row, in the order of its table."""
    return zlib.crc32("\0".join(map(str, columns)).encode("utf-8", "surrogatepass"))


NO_SUM = -1
"""The checksum of a row of which it is known that it is not as it was written; no row has it."""


def sum_if_sound(*columns: str | int) -> int:
    """The checksum of a row that never had one; `NO_SUM` where its text is no UTF-8 (read with surrogates for that)."""
    is_sound = all(not isinstance(column, str) or column.isascii() or _is_utf8(column) for column in columns)
    return sum_of(*columns) if is_sound else NO_SUM


def _is_utf8(text: str) -> bool:
    return not any("\ud800" <= char <= "\udfff" for char in text)
