"""Plans kept in a folder: one file a plan, and every version that was ever saved of it.

`lantern-night.plan.toml` is a plan. `versions/lantern-night/0003.plan.toml` is its third version, with a comment on top
that says when it was saved and by whom, and otherwise the same text. People may edit, copy and delete the files.
"""

import hashlib
import re
import threading
import unicodedata
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Final, NamedTuple

from server.plans.files import PlanFault, changed_at, text_of, write_whole

__all__ = ["Kept", "PlanFault", "PlanStore", "SavedMeanwhile", "Version", "base_of", "name_from_title"]

SUFFIX: Final = ".plan.toml"
NAME_LENGTH: Final = 60
"""Chosen: a name that can be read in a list."""

MOST_COPIES: Final = 999
OUTSIDE: Final = "somebody outside this desk"
"""Who saved what was changed in the file itself."""

_VERSIONS: Final = "versions"
_NAME: Final = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9 _-]{0,78}[A-Za-z0-9_-])?", re.ASCII)
_VERSION_FILE: Final = re.compile(r"(\d{4,6})\.plan\.toml", re.ASCII)
_VERSION_LINE: Final = re.compile(r"# Saved (\S+) by (.*)")


class Version(NamedTuple):
    """One saved text of a plan; `number` counts from 1."""

    number: int
    at: datetime
    by: str
    text: str


class Kept(NamedTuple):
    """A plan as it is now. `base` names this very text: who saves says what it was changed from."""

    name: str
    text: str
    base: str
    at: datetime
    by: str


class SavedMeanwhile(Exception):
    """A plan that is not any more what was changed; `kept` is what it is now."""

    def __init__(self, kept: Kept) -> None:
        super().__init__(f"This plan was saved meanwhile by {kept.by}.")
        self.kept = kept


def base_of(text: str) -> str:
    """What names a text."""
    return hashlib.sha256(text.encode()).hexdigest()


def name_from_title(title: str) -> str:
    """What the file of a plan is called: its title in plain letters."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower().replace("'", "")
    return "-".join(re.findall("[a-z0-9]+", plain))[:NAME_LENGTH].strip("-") or "plan"


class PlanStore:
    """The plans of one folder, which is made when the first is saved; call it from any thread.

    OSError goes through: the disk is full, or the folder may not be written.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()

    def names(self) -> list[str]:
        """The plans there are, by name."""
        return sorted(path.name.removesuffix(SUFFIX) for path in self._files() if self._is_plan(path))

    def strange(self) -> list[str]:
        """Files that look like plans and cannot be opened here: their names are not plain, or they are links."""
        return sorted(path.name for path in self._files() if not self._is_plan(path))

    def kept(self, name: str) -> Kept:
        """A plan as it is now. Raises PlanFault."""
        path = self._path(name)
        text = text_of(path)
        last = self._last(name)
        if last is not None and last.text == text:
            return Kept(name, text, base_of(text), last.at, last.by)
        return Kept(name, text, base_of(text), changed_at(path), OUTSIDE)

    def versions(self, name: str) -> list[Version]:
        """Every version of a plan, oldest first; what was changed in the file itself is the last. Raises PlanFault."""
        kept = self.kept(name)
        saved = list(self._saved(name))
        if not saved or saved[-1].text != kept.text:
            saved.append(Version(saved[-1].number + 1 if saved else 1, kept.at, kept.by, kept.text))
        return saved

    def create(self, wanted: str, text: str, now: datetime, by: str) -> Kept:
        """Keep a new plan, by the wanted name or the next one that is free. Raises PlanFault."""
        with self._lock:
            name = self._free_name(name_from_title(wanted))
            return self._write(name, text, now, by)

    def save(self, name: str, text: str, base: str, now: datetime, by: str) -> Kept:
        """Keep a changed plan; `base` names what it was changed from.

        Raises SavedMeanwhile where that is not what there is, unless that has this very text; and PlanFault.
        """
        with self._lock:
            kept = self.kept(name)
            if kept.base not in {base, base_of(text)}:
                raise SavedMeanwhile(kept)
            if kept.by == OUTSIDE:
                self._keep_version(name, kept.text, kept.at, kept.by)
            return self._write(name, text, now, by)

    def _files(self) -> list[Path]:
        return list(self._folder.glob(f"*{SUFFIX}")) if self._folder.is_dir() else []

    def _is_plan(self, path: Path) -> bool:
        # A link may lead anywhere: whatever it leads to would be read, and written over.
        return bool(_NAME.fullmatch(path.name.removesuffix(SUFFIX))) and path.is_file() and not path.is_symlink()

    def _path(self, name: str) -> Path:
        path = self._folder / f"{name}{SUFFIX}"
        if not _NAME.fullmatch(name) or not self._is_plan(path):
            raise PlanFault("There is no plan of this name here.", 404)
        return path

    def _free_name(self, wanted: str) -> str:
        taken = {path.name.removesuffix(SUFFIX).lower() for path in self._files()}
        versions = self._folder / _VERSIONS
        taken |= {path.name.lower() for path in versions.iterdir()} if versions.is_dir() else set()
        for number in range(1, MOST_COPIES):
            name = wanted if number == 1 else f"{wanted}-{number}"
            if name not in taken:
                return name
        raise PlanFault(f"There are {MOST_COPIES} plans called {wanted}: choose another title.", 409)

    def _write(self, name: str, text: str, now: datetime, by: str) -> Kept:
        """The version first: a crash between the two leaves nothing that was not kept."""
        text = text.removeprefix("\ufeff")
        last = self._last(name)
        if last is None or last.text != text:
            self._keep_version(name, text, now, by)
        write_whole(self._folder / f"{name}{SUFFIX}", text)
        return self.kept(name)

    def _keep_version(self, name: str, text: str, at: datetime, by: str) -> None:
        numbers = [number for number, _ in self._version_files(name)]
        stamp = at.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
        path = self._folder / _VERSIONS / name / f"{max(numbers, default=0) + 1:04}{SUFFIX}"
        write_whole(path, f"# Saved {stamp} by {' '.join(by.split())}\n{text}")

    def _version_files(self, name: str) -> list[tuple[int, Path]]:
        folder = self._folder / _VERSIONS / name
        found = ((_VERSION_FILE.fullmatch(path.name), path) for path in (folder.iterdir() if folder.is_dir() else ()))
        return sorted((int(match[1]), path) for match, path in found if match and path.is_file())

    def _saved(self, name: str) -> Iterator[Version]:
        return (version for file in self._version_files(name) if (version := _version(*file)) is not None)

    def _last(self, name: str) -> Version | None:
        files = reversed(self._version_files(name))
        return next((version for file in files if (version := _version(*file)) is not None), None)


def _version(number: int, path: Path) -> Version | None:
    """A version as it was saved; None where somebody made it a file that is no text.

    One whose first line somebody changed has the time and the maker that can be known.
    """
    try:
        first, _, text = text_of(path).partition("\n")
    except PlanFault:
        return None
    line = _VERSION_LINE.fullmatch(first)
    try:
        at = datetime.fromisoformat(line[1]) if line else None
    except ValueError:
        at = None
    if line is None or at is None or at.tzinfo is None:
        return Version(number, changed_at(path), OUTSIDE, text if line else f"{first}\n{text}")
    return Version(number, at, line[2], text)
