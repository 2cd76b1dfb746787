"""The only reader of the environment."""

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Literal, NamedTuple, cast

LogKind = Literal["text", "json"]
"""Warnings for a person at a terminal, or everything, an object a line, for programs."""


class SettingsFault(Exception):
    """A variable that cannot be used: one sentence with its name, what was found and what is accepted."""


class Settings(NamedTuple):
    """What the environment may say; a command line option wins over it.

    `data` (FESTOON_DATA) is the folder of the event log; `host` (FESTOON_HOST) and `port`
    (FESTOON_PORT) are where desks connect: this computer only, unless told. `certificate` (FESTOON_CERTIFICATE) and
    `key` (FESTOON_KEY) are the files of TLS, None for none. `log` (FESTOON_LOG) is how a server writes its own log.
    `archive` (FESTOON_ARCHIVE) is the address of an archive of many sites, or a file that holds it; None for none.
    """

    data: str
    host: str = "127.0.0.1"
    port: int = 8440
    certificate: str | None = None
    key: str | None = None
    log: LogKind = "text"
    archive: str | None = None


def settings_from_environment(environment: Mapping[str, str] = os.environ) -> Settings:
    """Read the variables above; one that is absent or empty has its default. Raises SettingsFault."""
    data = data_folder(environment.get("FESTOON_DATA") or str(_default_folder(environment)), "FESTOON_DATA")
    host = environment.get("FESTOON_HOST") or Settings._field_defaults["host"]
    port = _port(environment.get("FESTOON_PORT") or str(Settings._field_defaults["port"]))
    certificate, key = (environment.get(name) or None for name in ("FESTOON_CERTIFICATE", "FESTOON_KEY"))
    log = _log_kind(environment.get("FESTOON_LOG") or Settings._field_defaults["log"])
    return Settings(data, host, port, certificate, key, log, environment.get("FESTOON_ARCHIVE") or None)


def data_folder(given: str, name: str) -> str:
    """The folder of a log as it was given by `name`. Raises SettingsFault for the address of a database."""
    if "://" not in given:
        return given
    raise SettingsFault(
        f"{name}: found the address of a database ({given.partition(':')[0]}); accepted is a folder of this computer."
        " What many sites share is an archive"
    )


def _default_folder(environment: Mapping[str, str]) -> Path:
    """Where programs keep what they must not lose: the XDG base directories, "state"."""
    base = environment.get("XDG_STATE_HOME")
    return (Path(base) if base else Path.home() / ".local" / "state") / "festoon"


def _port(text: str) -> int:
    if text.isascii() and text.isdigit() and 0 <= int(text) < 1 << 16:
        return int(text)
    raise SettingsFault(f"FESTOON_PORT: found {text!r}; accepted is a whole number from 0 (any free port) to 65535")


def _log_kind(text: str) -> LogKind:
    if text in {"text", "json"}:
        return cast("LogKind", text)
    raise SettingsFault(f"FESTOON_LOG: found {text!r}; accepted are text and json")
