"""Sites kept in a folder, `NAME.site.toml` each: what stays from plan to plan. People may put files there too."""

import re
import threading
from pathlib import Path
from typing import Final, NamedTuple

from server.planning.site import Site, SiteFaults, parse_site
from server.plans.files import PlanFault, text_of, write_whole
from server.plans.store import base_of, name_from_title
from server.timeline.tables import toml_data

SUFFIX: Final = ".site.toml"
_NAME: Final = re.compile(r"[^\x00-\x1f\x7f/\\]{1,200}")


class SiteFault(NamedTuple):
    """One fault of a site file; `line` is 0 where it has none."""

    line: int
    text: str


class KeptSite(NamedTuple):
    """A site file as it is now: `called` is what its site is called, empty where nobody can tell.

    `site` is None where the file has `faults`. `base` names this very text.
    """

    name: str
    text: str
    base: str
    called: str
    site: Site | None
    faults: tuple[SiteFault, ...]


class SiteThere(Exception):
    """A site file that is there already with another text; `kept` is what it is now."""

    def __init__(self, kept: KeptSite) -> None:
        super().__init__(f"sites/{kept.name}{SUFFIX} is there already, and differs.")
        self.kept = kept


class SiteStore:
    """The sites of one folder, which is made when the first is kept; call it from any thread.

    A file is read anew only once it was written again: a plan is judged at every key. OSError goes through.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()
        self._read: dict[Path, tuple[tuple[int, int], KeptSite]] = {}

    def sites(self) -> list[KeptSite]:
        """The sites there are, by the names of their files."""
        return [self._kept(path) for path in self._files()]

    def for_plan(self, called: object) -> KeptSite | None:
        """The site that a plan names by its `site`, the first file's of several; None where there is none."""
        wanted = plain_name(called)
        return next((site for site in self.sites() if wanted and plain_name(site.called) == wanted), None)

    def keep(self, text: str, base: str) -> tuple[KeptSite, bool]:
        """Keep a site; whether it is new or another than before.

        The file that has a site of this name is replaced where `base` names its text. Raises SiteFaults, SiteThere and
        PlanFault.
        """
        site = parse_site(text, "")
        with self._lock:
            known = self.for_plan(site.site)
            if known is not None and known.text == text:
                return known, False
            if known is not None and known.base != base:
                raise SiteThere(known)
            path = self._folder / f"{known.name if known else self._free_name(name_from_title(site.site))}{SUFFIX}"
            write_whole(path, text)
            return self._kept(path), True

    def _files(self) -> list[Path]:
        found = self._folder.glob(f"*{SUFFIX}") if self._folder.is_dir() else ()
        # A link may lead anywhere: whatever it leads to would be read, and written over.
        return sorted(path for path in found if path.is_file() and not path.is_symlink() and _NAME.fullmatch(path.name))

    def _free_name(self, wanted: str) -> str:
        taken = {path.name.lower() for path in self._folder.glob("*")} if self._folder.is_dir() else set()
        number = 1
        while f"{wanted if number == 1 else f'{wanted}-{number}'}{SUFFIX}" in taken:
            number += 1
        return wanted if number == 1 else f"{wanted}-{number}"

    def _kept(self, path: Path) -> KeptSite:
        state = path.stat()
        stamp = (state.st_mtime_ns, state.st_size)
        known = self._read.get(path)
        if known is None or known[0] != stamp:
            known = self._read[path] = (stamp, _kept(path))
        return known[1]


def faults_of(faults: SiteFaults) -> tuple[SiteFault, ...]:
    """What is wrong with a site file, fault by fault, by its lines."""
    return tuple(_fault(text) for text in faults.faults)


def _fault(text: str) -> SiteFault:
    """The reader puts the file's name first, which is told beside it, and the line."""
    _, _, rest = text.partition(": ")
    line, _, said = rest.partition(": ")
    number = re.fullmatch(r"line (\d+)", line)
    return SiteFault(int(number[1]), said) if number else SiteFault(0, rest)


def _kept(path: Path) -> KeptSite:
    name = path.name.removesuffix(SUFFIX)
    try:
        text = text_of(path)
    except PlanFault as fault:
        return KeptSite(name, "", "", "", None, (SiteFault(0, str(fault)),))
    try:
        site = parse_site(text, "")
    except SiteFaults as faults:
        return KeptSite(name, text, base_of(text), _called(text), None, faults_of(faults))
    return KeptSite(name, text, base_of(text), site.site, site, ())


def _called(text: str) -> str:
    """What a site with faults is called."""
    try:
        called = toml_data(text).get("site")
    except ValueError:
        return ""
    return called if isinstance(called, str) else ""


def plain_name(called: object) -> str:
    """A site's name without what people write now so and now so: case and blanks. Empty for what is no text."""
    return " ".join(called.split()).casefold() if isinstance(called, str) else ""
