"""The text files that people hand to a command."""

from pathlib import Path

PLAN_LIMIT_BYTES = 1_000_000
"""Chosen: a plan of a hundred stations and fifty segments has 30 kB."""

RECORDING_LIMIT_BYTES = 200_000_000
"""Chosen: a thousand shows of a thousand events."""


class DocumentFault(Exception):
    """A file that could not be used, said in one sentence that names it."""


def text_from_file(path: Path) -> str:
    """The text of the UTF-8 file at `path`; `DocumentFault` where there is none to be had."""
    content = _content(path, PLAN_LIMIT_BYTES)
    if not content.strip():
        raise DocumentFault(f"{path}: this file is empty")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise DocumentFault(f"{path}: line {line} is not UTF-8 text") from error


def lines_from_file(path: Path) -> list[bytes]:
    """The lines of the recording at `path`, not decoded, so that one that is not UTF-8 is told by itself."""
    return _content(path, RECORDING_LIMIT_BYTES).split(b"\n")


def _content(path: Path, limit_bytes: int) -> bytes:
    """No more than the limit is read, so that a pipe works and an endless device does no harm."""
    try:
        with path.open("rb") as file:
            content = file.read(limit_bytes + 1)
    except OSError as error:
        raise DocumentFault(f"{path}: {_said(error)}") from error
    except ValueError as error:  # a zero byte in the name
        raise DocumentFault(f"{str(path)!r}: this is not a file name") from error
    if len(content) > limit_bytes:
        raise DocumentFault(f"{path}: this file is over {limit_bytes} bytes, the most that is read")
    return content


def _said(error: OSError) -> str:
    match error:
        case FileNotFoundError():
            return "there is no such file"
        case IsADirectoryError():
            return "this is a folder, not a file"
        case PermissionError():
            return "this file may not be read by you"
        case _:
            return f"this file cannot be read ({error.strerror})"
