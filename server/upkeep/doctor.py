"""What is wrong with an installation, and how it is mended. It looks, and changes nothing."""

import errno
import os
import shutil
import stat
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final, Literal, NamedTuple

from server.access.asking import Server, ServerFault
from server.access.keys import KEY_FILE, KeyFault, signing_key
from server.access.whereabouts import whereabouts
from server.archive.faults import ArchiveFault
from server.archive.place import archive_address
from server.archive.sending import site_at
from server.desk.access import is_loopback
from server.desk.listening import PortFault, open_port
from server.desk.pages import PAGES, web_folder
from server.desk.tls import CertificateFault, SiteCertificate, site_certificate
from server.desk.visitors import READY
from server.runlog import RunLogFault, StoredRuns
from server.runlog.sqlite import FILE
from server.runlog.stored import is_damaged_for_good
from server.settings import Settings

LITTLE_BYTES: Final = 1_000_000_000
NOTHING_BYTES: Final = 50_000_000
"""Free on the disk of the log. Chosen: a show writes under 1 MB, its backups as much as the whole log each time."""

SOON: Final = timedelta(days=30)
BUILT: Final = 2026
"""No clock that is right is before the year in which this was written."""

Level = Literal["well", "look", "bad"]


class Finding(NamedTuple):
    """One thing that was looked at: what was found, and for what is not `well` what mends it."""

    level: Level
    about: str
    found: str
    remedy: str = ""


class Looked(NamedTuple):
    """What is looked at: what the server is given, `now`, what the clock says of itself, and this computer's names."""

    settings: Settings
    now: datetime
    is_in_step: bool | None
    names: Sequence[str]

    @property
    def folder(self) -> Path:
        """Where the log is, and what belongs to it."""
        return Path(self.settings.data)


def findings(looked: Looked) -> Iterator[Finding]:
    """Everything that was looked at, the well too."""
    for look in _LOOKS:
        yield from look(looked)


def _folder(looked: Looked) -> Iterator[Finding]:
    folder = looked.folder
    if not folder.exists():
        yield Finding("look", "folder", f"{folder} is not there yet", "the first start makes it: festoon serve")
        return
    try:
        with tempfile.NamedTemporaryFile(dir=folder, prefix=".doctor-") as tried:
            tried.write(b"x")
            tried.flush()
            os.fsync(tried.fileno())
    except OSError as error:
        mend = "make room on that disk" if error.errno == errno.ENOSPC else f"chown {_user()} {folder}"
        yield Finding("bad", "folder", f"{folder} cannot be written ({error.strerror})", mend)
        return
    yield Finding("well", "folder", f"{folder} can be written")
    for path in (folder, folder / FILE):
        if others := _open_to_others(path):
            yield Finding("look", "folder", f"others may use {path} (mode {others:o})", f"chmod go-rwx {path}")


def _disk(looked: Looked) -> Iterator[Finding]:
    folder = next(each for each in (looked.folder, *looked.folder.absolute().parents) if each.exists())
    free = shutil.disk_usage(folder).free
    level: Level = "bad" if free < NOTHING_BYTES else "look" if free < LITTLE_BYTES else "well"
    yield Finding(level, "disk", f"{free / 1e9:.1f} GB are free for {looked.folder}", "make room on that disk")


def _clock(looked: Looked) -> Iterator[Finding]:
    if looked.now.year < BUILT:
        yield Finding("bad", "clock", f"it is {looked.now:%Y-%m-%d}, as this computer has it", "set the clock")
    elif looked.is_in_step is False:
        mend = "timedatectl set-ntp true, and a network or a time server that can be reached"
        yield Finding("look", "clock", "nothing keeps the clock in step with others", mend)
    else:
        how = "is kept in step with others" if looked.is_in_step else "is plausible"
        yield Finding("well", "clock", f"{looked.now:%Y-%m-%d %H:%M} UTC {how}")


def _log(looked: Looked) -> Iterator[Finding]:
    data = looked.settings.data
    file = Path(data) / FILE
    if "://" not in data and not file.exists():
        yield Finding("well", "log", f"there is none in {data} yet")
        return
    try:
        if "://" not in data and is_damaged_for_good(file):
            mend = (
                "start the server, which sets it aside and goes on with what can be saved, or festoon restore a backup"
            )
            yield Finding("bad", "log", f"{file} is damaged", mend)
            return
        with closing(StoredRuns.reading(data)) as log:
            runs = list(log.runs())
        yield Finding("well", "log", f"{len(runs)} {'run' if len(runs) == 1 else 'runs'} can be read")
    except RunLogFault as fault:
        yield Finding("bad", "log", *_in_two(fault))


def _server(looked: Looked) -> Iterator[Finding]:
    """The server that runs here and whether it is ready; without one, whether its port is free."""
    there = whereabouts(looked.folder)
    if there is not None:
        try:
            Server(there, looked.folder).ask(READY)
        except ServerFault as fault:
            yield Finding("bad", "server", f"one ran at {there.address} and is not ready ({fault})", "see its own log")
        else:
            yield Finding("well", "server", f"one runs at {there.address} and can write its log")
        return
    host, port = looked.settings.host, looked.settings.port
    try:
        open_port(host, port).close()
    except PortFault as fault:
        yield Finding("bad", "port", *_in_two(fault))
    else:
        yield Finding("well", "port", f"{host} port {port} is free; no server runs on this log")


def _keys(looked: Looked) -> Iterator[Finding]:
    if (looked.folder / KEY_FILE).exists():
        try:
            signing_key(looked.folder)
        except KeyFault as fault:
            yield Finding("bad", "sessions", *_in_two(fault))
        else:
            yield Finding("well", "sessions", "the key of paired devices is there, and this user's alone")


def _certificate(looked: Looked) -> Iterator[Finding]:
    certificate, key = looked.settings.certificate, looked.settings.key
    if certificate is None and key is None:
        if is_loopback(looked.settings.host):
            yield Finding("well", "certificate", "none is needed: only this computer connects")
        else:
            yield Finding(
                "look", "certificate", "none: whoever shares the network can read along", "festoon certificate"
            )
    elif certificate is None or key is None:
        mend = "set both FESTOON_CERTIFICATE and FESTOON_KEY"
        yield Finding("bad", "certificate", "only one of certificate and key is given", mend)
    else:
        try:
            yield from _of_certificate(looked, site_certificate(Path(certificate), Path(key)))
        except CertificateFault as fault:
            yield Finding("bad", "certificate", *_in_two(fault))
        if others := _open_to_others(Path(key)):
            yield Finding("look", "certificate", f"others may read {key} (mode {others:o})", f"chmod go-rwx {key}")


def _of_certificate(looked: Looked, found: SiteCertificate) -> Iterator[Finding]:
    left = found.until - looked.now
    names = ", ".join(found.names)
    if left < timedelta(0):
        yield Finding("bad", "certificate", f"it ended on {found.until:%Y-%m-%d}", "festoon certificate --folder NEW")
    elif left < SOON:
        yield Finding("look", "certificate", f"it ends in {left.days} days", "festoon certificate --folder NEW")
    else:
        yield Finding("well", "certificate", f"good for {names} until {found.until:%Y-%m-%d}")
    if not {name.lower() for name in looked.names} & set(found.names) - {"localhost", "127.0.0.1", "::1"}:
        mend = "festoon certificate --folder NEW, or reach it by a name that the certificate has"
        yield Finding("look", "certificate", f"no name of this computer is among {names}", mend)


def _pages(_looked: Looked) -> Iterator[Finding]:
    web = web_folder()
    missing = [name for name in (*PAGES.values(), "vendor/lit.js", "vendor/d3.js") if not (web / name).is_file()]
    if missing:
        mend = "install Festoon again: pip install --force-reinstall"
        yield Finding("bad", "pages", f"{web} lacks {', '.join(missing)}", mend)
    else:
        yield Finding("well", "pages", f"all are in {web}")


def _archive(looked: Looked) -> Iterator[Finding]:
    """Whether the archive that the log is sent on to takes it; a show does without."""
    given = looked.settings.archive
    if given is None:
        return
    try:
        address = archive_address(given)
        yield Finding("well", "archive", f"{address} takes what {site_at(address)} sends")
    except ArchiveFault as fault:
        yield Finding("look", "archive", str(fault), "what comes meanwhile waits in the log, and is sent later")


_LOOKS: Final[tuple[Callable[[Looked], Iterator[Finding]], ...]] = (
    _folder,
    _disk,
    _clock,
    _log,
    _server,
    _keys,
    _certificate,
    _pages,
    _archive,
)


def _in_two(fault: Exception) -> tuple[str, str]:
    """What a fault says, and after its colon what to do about it."""
    found, _, remedy = str(fault).rpartition(": ")
    return (found, remedy.rstrip(".")) if found else (remedy.rstrip("."), "see README.md")


def _open_to_others(path: Path) -> int:
    """The mode of a file or folder that others may use; 0 where they may not, or it is not there."""
    if os.name != "posix" or not path.exists():
        return 0
    mode = stat.S_IMODE(path.stat().st_mode)
    return mode if mode & 0o077 else 0


def _user() -> str:
    return str(os.getuid()) if os.name == "posix" else "this user"
