"""The files of the checkout that are ours, found without git: a source archive is tested as a clone is."""

import os
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
# Made on the spot, and in .gitignore.
MADE = frozenset({"__pycache__", "dist", "node_modules", "test-results", "vendor"})
# `.git` is a file where the checkout is one of several of a clone.
MADE_FILES = frozenset({"wire.d.ts", ".git"})
DOT_FOLDERS_OF_OURS = frozenset({".ci", ".github"})
UNREADABLE_SUFFIXES = frozenset({".png", ".pyc"})


def committed_files() -> Iterator[Path]:
    """Every file that is or would be committed, in a fixed order."""
    for folder, folders, files in os.walk(ROOT):
        folders[:] = sorted(name for name in folders if not is_made(name))
        yield from (Path(folder, name) for name in sorted(files) if name not in MADE_FILES)


def committed_texts() -> Iterator[tuple[str, str]]:
    """Name below the checkout and contents of every committed file that is text; some fixtures are bad UTF-8."""
    for path in committed_files():
        if path.suffix not in UNREADABLE_SUFFIXES:
            yield path.relative_to(ROOT).as_posix(), path.read_text(encoding="utf-8", errors="replace")


def is_made(folder: str) -> bool:
    """Whether a folder of that name is made by an install or a test and never committed."""
    return folder in MADE or (folder.startswith(".") and folder not in DOT_FOLDERS_OF_OURS)


def python_files(*folders: str) -> list[Path]:
    """The Python files below the named folders of the checkout; AssertionError where there is none."""
    found = [path for folder in folders for path in sorted((ROOT / folder).rglob("*.py"))]
    assert found, f"no Python below {folders}"
    return found


def module_name(path: Path) -> str:
    """The dotted name of a Python file of the checkout; that of its folder for `__init__.py`."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
