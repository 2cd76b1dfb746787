"""A server's own log: a line for each thing, and no secret in any."""

import io
import json
import logging
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.access import Signer
from server.access.certificates import make_certificate
from server.access.codes import Codes
from server.access.sessions import Session
from server.upkeep.lines import HIDDEN, JsonLines, TextLines, begin_lines, without_secrets


@pytest.fixture(autouse=True)
def left_as_it_was() -> Iterator[None]:
    """What a test sets up of the logging is taken down."""
    root = logging.getLogger()
    handlers, level = root.handlers[:], root.level
    yield
    root.handlers, root.level = handlers, level
    for name in ("server", "adapters", "uvicorn.error"):
        logging.getLogger(name).setLevel(logging.NOTSET)


def lines_of(log: Callable[[], None]) -> list[str]:
    stream = io.StringIO()
    begin_lines("json", stream)
    log()
    return stream.getvalue().splitlines()


def test_each_line_is_one_object() -> None:
    """Time in UTC, level, who says it, what happened, and what is known of it; a failure of the program too."""

    def log() -> None:
        logging.getLogger("server.x").info("event taken", extra={"run": "one", "seq": 3})
        with suppress(ZeroDivisionError):
            try:
                1 / 0  # noqa: B018
            except ZeroDivisionError:
                logging.getLogger("server.x").exception("two\nlines")
                raise

    first, second = map(json.loads, lines_of(log))
    assert datetime.fromisoformat(first.pop("t")).tzinfo == UTC
    assert first == {"level": "info", "logger": "server.x", "text": "event taken", "run": "one", "seq": 3}
    assert second["text"] == "two\nlines"
    assert "ZeroDivisionError" in second["failure"]


def test_others_are_heard_where_something_is_wrong() -> None:
    """What libraries say of their own doings is no line of ours; what strangers send that is no HTTP is none either."""

    def log() -> None:
        for name in ("server.x", "adapters.x", "sqlalchemy", "uvicorn.error"):
            logging.getLogger(name).info("said")
            logging.getLogger(name).warning("warned")
            logging.getLogger(name).error("failed")

    told = [(line["logger"], line["level"]) for line in map(json.loads, lines_of(log))]
    assert told == [
        *(("server.x", "info"), ("server.x", "warning"), ("server.x", "error")),
        *(("adapters.x", "info"), ("adapters.x", "warning"), ("adapters.x", "error")),
        *(("sqlalchemy", "warning"), ("sqlalchemy", "error"), ("uvicorn.error", "error")),
    ]


def secrets_of(folder: Path) -> list[str]:
    """One of each kind, as the program makes them."""
    code, _ = Codes(lambda: datetime.now(UTC)).make("Ida", "booth")
    token = Signer(bytes(32)).token(Session("0123456789abcdef", "s" * 43))
    made = make_certificate(folder, ["localhost"], datetime.now(UTC))
    return [code, token, made.certificate.read_text(), made.key.read_text(), "ida:word"]


@pytest.mark.parametrize("kind", [TextLines, JsonLines])
def test_no_line_has_a_secret(tmp_path: Path, kind: type[logging.Formatter]) -> None:
    """A pairing code, a session, a certificate, a key, a password: in the text, beside it, or in a failure."""
    code, token, certificate, key, word = secrets_of(tmp_path)
    said = f"#{code} festoon={token}; {token} {certificate} {key} postgresql://{word}@db/x"
    record = logging.makeLogRecord({"msg": said, "name": "x", "levelname": "INFO", "beside": said})
    record.exc_info = (ValueError, ValueError(said), None)
    line = kind().format(record)
    assert HIDDEN in line
    for secret in (code, token.split(".")[1], "BEGIN", certificate.splitlines()[1], key.splitlines()[1], word):
        assert secret not in line


@given(st.text(alphabet=st.characters(codec="utf-8")))
def test_whatever_is_said_is_one_line(text: str) -> None:
    """Line ends of whatever kind, quotes and controls come back as they were."""
    record = logging.makeLogRecord({"msg": "%s", "args": (text,), "name": "x", "levelname": "INFO"})
    line = JsonLines().format(record)
    assert len(line.split("\n")) == 1
    assert json.loads(line)["text"] == without_secrets(text)


@pytest.mark.parametrize(
    "text", ["pair-2026-03-14-2350", "contact:north/3", "2026-03-14T23:50:00Z", "http://localhost:8440/wall?run=x"]
)
def test_what_is_no_secret_is_said(text: str) -> None:
    """Names of runs, sources, times and addresses are what a log is for."""
    assert without_secrets(text) == text
