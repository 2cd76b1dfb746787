"""Where a server of a data folder is, for commands on the same computer: a file that is there while it runs."""

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import NamedTuple

import orjson

from server.access.keys import write_private

FILE = "serving.json"


class Whereabouts(NamedTuple):
    """The `address` at this computer, and the `certificate` (PEM) that the server there shows, None without TLS."""

    address: str
    certificate: str | None


@contextmanager
def found_in(folder: Path, whereabouts: Whereabouts) -> Iterator[None]:
    """Have `whereabouts` find them until the block ends; what a killed server left is replaced. Raises OSError."""
    path = folder / FILE
    path.unlink(missing_ok=True)
    write_private(path, orjson.dumps(whereabouts._asdict()))
    try:
        yield
    finally:
        with suppress(OSError):
            path.unlink()


def whereabouts(folder: Path) -> Whereabouts | None:
    """Where the server of a folder is, or was when it was killed; None where there is none that this user started."""
    try:
        with (folder / FILE).open("rb") as file:
            if os.name == "posix" and not _is_own(os.fstat(file.fileno())):
                return None
            return Whereabouts(**orjson.loads(file.read()))
    except (OSError, orjson.JSONDecodeError, TypeError):
        return None


def _is_own(found: os.stat_result) -> bool:
    return found.st_uid in {os.getuid(), 0} and not stat.S_IMODE(found.st_mode) & 0o022
