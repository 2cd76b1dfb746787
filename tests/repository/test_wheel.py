"""What is handed out runs: a wheel in an empty environment, started in an empty folder."""

import os
import re
import subprocess
import sys
import tarfile
import urllib.request
import venv
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import urljoin

import pytest

from tests.repository.checkout import ROOT

pytestmark = pytest.mark.slow
IMPORT = re.compile(r"""^\s*(?:import|export)\b(?:[\w\s{},*$]+\bfrom\b)?\s*["']([^"']+)["']""", re.MULTILINE)
ADDRESS = re.compile(r"http://127\.0\.0\.1:\d+")


def run(*command: str | Path, folder: Path, **more: str) -> None:
    """Run a command; AssertionError with what it printed where it fails."""
    done = subprocess.run(command, cwd=folder, env={**os.environ, **more}, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def build(source: Path, target: str, folder: Path, **more: str) -> Path:
    """Build the wheel or sdist of a source folder with the hatchling of this environment; the file it made."""
    run(sys.executable, "-m", "hatchling", "build", "-t", target, "-d", folder, folder=source, **more)
    (made,) = folder.iterdir()
    return made


def releases(file: Path) -> Path:
    """Write the releases that tests are run with to a file, without hashes: the wheel made here has none."""
    locked = (ROOT / "tests" / "constraints.txt").read_text(encoding="utf-8").splitlines()
    file.write_text("\n".join(line.removesuffix(" \\") for line in locked if "==" in line), encoding="utf-8")
    return file


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel of this checkout."""
    return build(ROOT, "wheel", tmp_path_factory.mktemp("wheel"))


@pytest.fixture(scope="module")
def festoon(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The `festoon` command of an environment that holds the wheel and what it asks for, and nothing else."""
    folder = tmp_path_factory.mktemp("environment")
    venv.create(folder, symlinks=os.name != "nt")
    binaries = folder / ("Scripts" if os.name == "nt" else "bin")
    pip = [sys.executable, "-m", "pip", "--python", str(binaries / "python"), "install", "-q", "--no-compile"]
    run(*pip, "-c", releases(folder / "releases.txt"), wheel, folder=folder)
    return binaries / "festoon"


class PageReader(HTMLParser):
    """Every file that a page asks for."""

    def __init__(self) -> None:
        super().__init__()
        self.files: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.files += [value for name, value in attrs if name == "src" or (name == "href" and tag == "link") if value]


def asked_for(address: str, media_type: str, text: str) -> list[str]:
    """The addresses that a browser goes on to, from a page or a module."""
    if media_type == "text/html":
        reader = PageReader()
        reader.feed(text)
        return [urljoin(address, name) for name in reader.files]
    if media_type == "text/javascript":
        return [urljoin(address, name) for name in IMPORT.findall(text)]
    return []


def fetched(page: str) -> set[str]:
    """Load a page as a browser does, with every module it leads to; the paths that were fetched. Raises on a 404."""
    seen: set[str] = set()
    waiting = [page]
    while waiting:
        address = waiting.pop()
        if address in seen:
            continue
        seen.add(address)
        with urllib.request.urlopen(address, timeout=20) as answer:
            text = answer.read().decode()
            waiting += asked_for(address, answer.headers.get_content_type(), text)
    return {address.split("/", 3)[3] for address in seen}


@contextmanager
def started(festoon: Path, *arguments: str, folder: Path) -> Iterator[str]:
    """Run `festoon` in empty folders of its own below `folder` until the block ends; the address it gives."""
    for name in ("work", "home", "temporary"):
        (folder / name).mkdir()
    own = {"HOME": str(folder / "home"), "TMPDIR": str(folder / "temporary"), "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        [festoon, *arguments],
        cwd=folder / "work",
        env={"PATH": os.environ["PATH"], **own},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    ) as server:
        assert server.stdout is not None
        said = ""
        try:
            while not (found := ADDRESS.search(said)):
                line = server.stdout.readline()
                assert line, f"festoon ended before it said where the desks are:\n{said}"
                said += line
            yield found.group()
        finally:
            server.terminate()
            server.communicate(timeout=20)


PLAN = str(ROOT / "fixtures" / "plans" / "pair.plan.toml")


@pytest.mark.parametrize("arguments", [["demo"], ["serve", PLAN]], ids=["demo", "serve"])
def test_an_installed_wheel_serves_the_wall(festoon: Path, arguments: list[str], tmp_path: Path) -> None:
    """The wall page, every module it leads to and the bundles come from the wheel, with no checkout near."""
    with started(festoon, *arguments, "--port", "0", folder=tmp_path) as address:
        paths = fetched(f"{address}/wall")
    assert {"wall", "static/vendor/lit.js"} <= paths
    assert len([path for path in paths if path.startswith("static/js/")]) > 1


def test_a_demonstration_leaves_nothing_behind(festoon: Path, tmp_path: Path) -> None:
    """Whoever tries Festoon out finds no file of it afterwards, where it ran, at home or among temporary files."""
    with started(festoon, "demo", "--port", "0", folder=tmp_path):
        pass
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []


def test_an_installed_wheel_plans(festoon: Path, tmp_path: Path) -> None:
    """The terminal commands run from an empty folder."""
    run(festoon, "plan", PLAN, "--json", folder=tmp_path)


def test_the_wheel_holds_packages_and_desks_alone(wheel: Path) -> None:
    """No test, fixture, tool or setting of the checkout is installed on anybody's computer."""
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    assert {name.split("/")[0] for name in names} == {"adapters", "server", "festoon-0.1.0.dist-info"}
    static = {name.removeprefix("server/desk/static/") for name in names if name.startswith("server/desk/static/")}
    assert {"wall.html", "vendor/lit.js", "vendor/d3.js", "vendor/licences.txt"} <= static
    assert "adapters/drill/demo.plan.toml" in names
    assert [name for name in static if name.endswith((".ts", ".py", ".json")) or "node_modules" in name] == []


def test_a_source_archive_needs_no_node(tmp_path: Path) -> None:
    """The bundles are in the source archive: its wheel is built with nothing but Python on the path, offline."""
    archive = build(ROOT, "sdist", tmp_path / "sdist")
    with tarfile.open(archive) as source:
        # Python before 3.11.4 has no filters.
        source.extraction_filter = getattr(tarfile, "data_filter", None)
        source.extractall(tmp_path)
    (unpacked,) = tmp_path.glob("festoon-*")
    assert not (unpacked / "web" / "node_modules").exists()
    (tmp_path / "nothing").mkdir()
    made = build(unpacked, "wheel", tmp_path / "wheel", PATH=str(tmp_path / "nothing"))
    with zipfile.ZipFile(made) as wheel:
        assert "server/desk/static/vendor/lit.js" in wheel.namelist()
