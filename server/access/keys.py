"""The key that signs sessions: a file of its own in the data folder, for this user alone."""

import os
import secrets
import stat
from pathlib import Path

KEY_FILE = "session.key"
KEY_BYTES = 32


class KeyFault(Exception):
    """The key cannot be used: one sentence that says why and what to do."""


def signing_key(folder: Path) -> bytes:
    """The key of a folder, made if there is none: with a new one no earlier session holds.

    Raises KeyFault where it cannot be read or made, or where others may read it.
    """
    path = folder / KEY_FILE
    try:
        return _read(path)
    except FileNotFoundError:
        pass
    except OSError as error:
        raise KeyFault(f"{path} cannot be read ({error.strerror}): let this user read it, or take it away.") from error
    try:
        return _made(path)
    except OSError as error:
        raise KeyFault(f"{path} cannot be written ({error.strerror}): let this user write there.") from error


def _read(path: Path) -> bytes:
    with path.open("rb") as file:
        if os.name == "posix" and stat.S_IMODE(os.fstat(file.fileno()).st_mode) & 0o077:
            raise KeyFault(f"Others may read {path}: take it away, and pair every device again.")
        key = file.read()
    if len(key) != KEY_BYTES:
        raise KeyFault(f"{path} is not a key of Festoon: take it away, and pair every device again.")
    return key


def _made(path: Path) -> bytes:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    key = secrets.token_bytes(KEY_BYTES)
    write_private(path, key)
    return key


def write_private(path: Path, contents: bytes) -> None:
    """Write a new file that nobody but this user can read, from its first byte on. Raises OSError."""
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(contents)
        file.flush()
        os.fsync(file.fileno())
