"""A server's own log: a line for each thing that happened, with nothing in it that lets anybody in."""

import logging
import re
import sys
from datetime import UTC, datetime
from typing import IO, Final

import orjson

from server.access.codes import ALPHABET, LENGTH
from server.settings import LogKind
from server.timeline.events import rfc3339

HIDDEN: Final = "(hidden)"
_HALF: Final = f"[{ALPHABET}]{{{LENGTH // 2}}}"
_SECRETS: Final = re.compile(
    r"-----BEGIN [A-Z ]+-----.*?(?:-----END [A-Z ]+-----|\Z)"  # a certificate or a key, PEM
    r"|(?<=festoon=)[^\s;\"']+"  # a session's cookie
    r"|\b[0-9a-f]{16}\.[\w-]{20,}\.[0-9a-f]{64}\b"  # the same, by itself
    rf"|\b{_HALF}-{_HALF}\b"  # a pairing code
    r"|(?<=://)[^\s/@]+:[^\s/@]+(?=@)",  # who may use a database
    re.DOTALL,
)
_OF_EVERY_RECORD: Final = frozenset(vars(logging.makeLogRecord({}))) | {"message", "asctime", "taskName"}


def without_secrets(text: str) -> str:
    """The same without codes, sessions, certificates, keys and passwords."""
    return _SECRETS.sub(HIDDEN, text)


class TextLines(logging.Formatter):
    """For a person: what happened, and what is known of it; where the program failed, also how."""

    def format(self, record: logging.LogRecord) -> str:
        """The line of a record."""
        known = "".join(f" {key}={value}" for key, value in _known(record).items())
        text = f"{record.levelname} {record.name}: {record.getMessage()}{known}"
        return without_secrets(f"{text}\n{_failure(record)}" if record.exc_info else text)


class JsonLines(logging.Formatter):
    """For programs: one JSON object on one line, `t` in UTC."""

    def format(self, record: logging.LogRecord) -> str:
        """The line of a record."""
        said = {
            "t": rfc3339(datetime.fromtimestamp(record.created, UTC)),
            "level": record.levelname.lower(),
            "logger": record.name,
            "text": record.getMessage(),
            **_known(record),
        }
        if record.exc_info:
            said["failure"] = _failure(record)
        return orjson.dumps({key: _hidden(value) for key, value in said.items()}, default=str).decode()


def begin_lines(kind: LogKind, stream: IO[str] | None = None) -> None:
    """Have everything that this program logs go to `stream`, standard error unless given."""
    lines = logging.StreamHandler(stream or sys.stderr)
    lines.setFormatter(TextLines() if kind == "text" else JsonLines())
    logging.basicConfig(level=logging.WARNING, handlers=[lines], force=True)
    # What strangers send that is no HTTP is no line each: they could fill a disk with that.
    logging.getLogger("uvicorn.error").setLevel(logging.ERROR)
    if kind == "json":
        for ours in ("server", "adapters"):
            logging.getLogger(ours).setLevel(logging.INFO)


def _known(record: logging.LogRecord) -> dict[str, object]:
    """What was said of it with `extra`."""
    return {key: value for key, value in vars(record).items() if key not in _OF_EVERY_RECORD}


def _hidden(value: object) -> object:
    return without_secrets(value) if isinstance(value, str) else value


def _failure(record: logging.LogRecord) -> str:
    return logging.Formatter().formatException(record.exc_info) if record.exc_info else ""
