"""Text files of a folder that people may edit, copy and delete too."""

import os
import secrets
import shutil
from datetime import UTC, datetime
from pathlib import Path


class PlanFault(Exception):
    """What cannot be done with a file of the plan desk, in one sentence, with the status that answers it."""

    def __init__(self, reason: str, status: int) -> None:
        super().__init__(reason)
        self.status = status


def text_of(path: Path) -> str:
    """The text of a file, without a byte order mark. Raises PlanFault where it is not UTF-8, and OSError."""
    try:
        return path.read_bytes().decode().removeprefix("\ufeff")
    except UnicodeDecodeError:
        raise PlanFault(f"{path.name} is no text in UTF-8: save it as that in an editor.", 409) from None


def changed_at(path: Path) -> datetime:
    """When a file was last written, to the second."""
    return datetime.fromtimestamp(path.stat().st_mtime, UTC).replace(microsecond=0)


def write_whole(path: Path, text: str) -> None:
    """Write a file so that it is there whole, or as it was, and for the same readers. Raises OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        # Not as a temporary file, which nobody else may read.
        with part.open("xb") as file:
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            shutil.copymode(path, part)
        part.replace(path)
    except OSError:
        part.unlink(missing_ok=True)
        raise
