"""web/build_hook.py: what a build needs, and what goes into the wheel."""

import importlib.util
import shutil
from pathlib import Path
from types import ModuleType

import pytest

from server.desk.pages import MEDIA_TYPES
from tests.repository.checkout import ROOT


@pytest.fixture(scope="module")
def hook() -> ModuleType:
    """The hook as hatchling loads it: from its path."""
    spec = importlib.util.spec_from_file_location("build_hook", ROOT / "web" / "build_hook.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def web(tmp_path: Path) -> Path:
    """A copy of what the bundles follow from, and of the bundles as they were made."""
    web = tmp_path / "web"
    shutil.copytree(ROOT / "web" / "bundles", web / "bundles")
    shutil.copytree(ROOT / "web" / "vendor", web / "vendor")
    shutil.copy(ROOT / "web" / "package-lock.json", web)
    return web


def test_bundles_made_from_these_inputs_are_not_made_again(hook: ModuleType, web: Path) -> None:
    """A second install fetches and bundles nothing."""
    assert hook.is_current(web)


@pytest.mark.parametrize("name", ["package-lock.json", "bundles/lit.js", "bundles/d3.js"])
def test_a_changed_input_makes_the_bundles_stale(hook: ModuleType, web: Path, name: str) -> None:
    """Another locked version or another export is bundled at the next install."""
    with (web / name).open("a", encoding="utf-8") as file:
        file.write("\n")
    assert not hook.is_current(web)


@pytest.mark.parametrize("name", ["lit.js", "d3.js", "made_from"])
def test_a_missing_bundle_makes_the_bundles_stale(hook: ModuleType, web: Path, name: str) -> None:
    """Half a vendor folder is not taken for a whole one."""
    (web / "vendor" / name).unlink()
    assert not hook.is_current(web)


@pytest.mark.parametrize(
    ("scripts", "is_stale", "needed"),
    [
        ({"node": "exit 0", "npm": "exit 0"}, True, False),
        ({"node": "exit 0", "npm": "exit 1"}, True, True),
        ({"node": "exit 0"}, True, True),
        ({}, True, True),
        ({}, False, False),
    ],
    ids=["both", "an npm that does not run", "node alone", "neither", "nothing to bundle"],
)
def test_node_is_a_build_requirement_only_where_it_is_missed(
    hook: ModuleType, web: Path, monkeypatch: pytest.MonkeyPatch, scripts: dict[str, str], is_stale: bool, needed: bool
) -> None:
    """Node comes from a Python package where there is something to bundle and no node with npm that runs."""
    if is_stale:
        (web / "vendor" / "made_from").unlink()
    binaries = web.parent / "bin"
    binaries.mkdir()
    for name, body in scripts.items():
        (binaries / name).write_text(f"#!/bin/sh\n{body}\n", encoding="utf-8")
        (binaries / name).chmod(0o755)
    monkeypatch.setenv("PATH", str(binaries))
    build = hook.BrowserCode(str(web.parent), {}, None, None, "", "wheel")
    assert build.dependencies() == ([hook.NODE_WHEEL] if needed else [])


def test_a_failing_command_says_what_it_printed(hook: ModuleType, tmp_path: Path) -> None:
    """Whoever installs without a network reads why it failed."""
    with pytest.raises(RuntimeError, match=r"git no-such-command failed:\n(.|\n)*no-such-command"):
        hook.run(["git", "no-such-command"], tmp_path)


def test_a_wheel_carries_what_the_server_serves(hook: ModuleType) -> None:
    """An installed desk has every kind of file that a checkout's has."""
    assert set(MEDIA_TYPES) == hook.SERVED_SUFFIXES


def test_the_tools_of_web_are_not_served(hook: ModuleType) -> None:
    """Settings, locks, types and the hook stay out of the wheel; pages, scripts, styles and bundles are in it."""
    web = ROOT / "web"
    served = {path.relative_to(web).as_posix() for path in hook.served_files(web)}
    assert {"wall.html", "vendor/lit.js", "vendor/d3.js", "vendor/licences.txt"} <= served
    tools = {"build_hook.py", "package.json", "package-lock.json", "tsconfig.json", "eslint.config.js", ".npmrc"}
    assert tools & served == set()
    assert [name for name in served if name.startswith(("node_modules/", "bundles/"))] == []


def test_every_bundled_package_brings_its_licence() -> None:
    """Minified code loses most notices; the file beside it keeps them all."""
    texts = (ROOT / "web" / "vendor" / "licences.txt").read_text(encoding="utf-8").split("-" * 72)
    packages = {text.split()[0] for text in texts}
    assert {"lit", "lit-html", "@lit/reactive-element", "d3-scale", "d3-shape"} <= packages
    assert all("Copyright" in text for text in texts)
