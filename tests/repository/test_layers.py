"""Who may import whom: arrows point down only, and the bottom is pure."""

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.repository.checkout import ROOT, module_name, python_files

MODULES = {module_name(path): path for path in python_files("server", "adapters")}
# From the top down; a part may import itself and what stands in its set. Only assemble, and contacts for it, name
# concrete parts. Of those that stand side by side, desk may import live: what it serves is a live run.
MAY_IMPORT: dict[str, set[str]] = {
    "server.cli": {
        *("server.assemble", "server.commands", "server.contact_boards", "server.desk.listening", "server.documents"),
        *("server.entrance", "server.playing", "server.settings", "server.terminal", "server.timeline"),
    },
    "server.commands": {
        *(
            "server.access",
            "server.archive",
            "server.assemble",
            "server.clock",
            "server.contact_boards",
            "server.desk.listening",
        ),
        *("server.documents", "server.plan_runs", "server.planning", "server.plans", "server.printing"),
        *("server.rehearsals", "server.review", "server.runlog"),
        *("server.settings", "server.sheets", "server.terminal", "server.timeline", "server.trials"),
        "server.upkeep",
    },
    "server.assemble": {"server", "adapters"},
    "server.rehearsals": {"adapters", "server.plan_runs", "server.review", "server.timeline"},
    "server.playing": {
        *("adapters", "server.clock", "server.demonstration", "server.plan_runs", "server.runlog", "server.timeline"),
    },
    "server.plan_runs": {"server.clock", "server.runlog", "server.timeline"},
    "server.contact_boards": {
        *("adapters", "server.clock", "server.live", "server.live_facts", "server.posting", "server.timeline"),
    },
    "server.posting": {"adapters.base", "server.live", "server.timeline"},
    "server.trials": {"adapters", "server.clock", "server.contact_boards", "server.demonstration", "server.timeline"},
    "server.demonstration": {"server.timeline"},
    "server.entrance": {
        *("server.access", "server.clock", "server.desk", "server.plan_runs", "server.settings", "server.terminal"),
    },
    "server.live_facts": {"adapters.base", "server.live", "server.timeline"},
    "server.terminal": {"server.access", "server.documents", "server.planning", "server.review", "server.timeline"},
    "server.desk": {
        *("server.access", "server.live", "server.planning", "server.plans", "server.printing", "server.review"),
        *("server.sheets", "server.timeline"),
    },
    "server.archive": {
        *("server.clock", "server.desk", "server.live", "server.review", "server.runlog", "server.timeline"),
    },
    "server.upkeep": {
        *("server.access", "server.archive", "server.clock", "server.desk", "server.live"),
        *("server.runlog", "server.settings", "server.timeline"),
    },
    "server.live": {"server.clock", "server.timeline"},
    "server.plans": {"server.planning", "server.timeline"},
    "server.planning": {"server.timeline"},
    "server.sheets": {"server.planning", "server.timeline"},
    "server.review": {"server.timeline"},
    "server.runlog": {"server.access", "server.clock", "server.timeline"},
    "server.access": set(),
    "adapters": {"server.timeline"},
    "server.clock": set(),
    "server.documents": set(),
    "server.printing": set(),
    "server.settings": set(),
    "server.timeline": set(),
    "server": set(),
}
# The last two read a file that people write, with every fault told, as a plan is read.
ADAPTERS_MAY_IMPORT = {
    *("server.timeline.event_kinds", "server.timeline.events", "server.timeline.plan", "server.timeline.film"),
    *("server.timeline.tables", "server.timeline.faults"),
}
# Pure: the same arguments give the same answer. zoneinfo reads the time zone tables, which are constants.
PURE = {
    "__future__", "abc", "bisect", "collections", "contextlib", "copy", "dataclasses", "datetime", "difflib", "enum",
    "fractions", "functools", "heapq", "itertools", "json", "math", "numpy", "operator", "pydantic", "re", "statistics",
    "string", "textwrap", "tomllib", "types", "typing", "zoneinfo",
}  # fmt: skip
# What makes texts and files in memory; nothing of it is read or written anywhere.
PURE_ON_PAPER = PURE | {"csv", "hashlib", "html", "io", "tomlkit", "unicodedata", "zipfile"}
IMPURE_NAMES = {"__import__", "breakpoint", "eval", "exec", "input", "open", "print"}
IMPURE_METHODS = {".now", ".utcnow", ".today", ".read_text", ".read_bytes", ".write_text", ".write_bytes", ".random"}


# The solver of the extra `order`: what is found depends on what is asked alone, with one worker and one seed.
WITH_SOLVER = {"server.planning.ordering_model", "server.planning.ordering_search"}

PURE_MODULES = [name for name in MODULES if name.startswith(("server.timeline", "server.planning"))]


def imported(path: Path) -> Iterator[str]:
    """The dotted name of every module a file imports, also inside a function."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: a relative import"
            assert node.module is not None
            # `from server.timeline import plan` imports server.timeline.plan.
            inner = [f"{node.module}.{alias.name}" for alias in node.names]
            yield from [name for name in inner if name in MODULES] or [node.module]


def imported_of_ours(module: str) -> list[str]:
    return sorted({name for name in imported(MODULES[module]) if name.split(".")[0] in {"server", "adapters"}})


def is_in(module: str, part: str) -> bool:
    return module == part or module.startswith(f"{part}.")


def part_of(module: str) -> str:
    return next(part for part in MAY_IMPORT if is_in(module, part))


def read_names(path: Path) -> set[str]:
    """Every name a file reads: `open` for open(...), `.now` and `datetime.now` for datetime.now(...)."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Attribute):
            owner = node.value.id if isinstance(node.value, ast.Name) else ""
            names |= {f".{node.attr}", f"{owner}.{node.attr}"}
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
            names.add(node.id)
    return names


@pytest.mark.parametrize("module", MODULES)
def test_imports_point_down(module: str) -> None:
    """cli -> assemble -> {desk, live, runlog, adapters} -> timeline, and never back."""
    allowed = {part_of(module), *MAY_IMPORT[part_of(module)]}
    assert [name for name in imported_of_ours(module) if not any(is_in(name, part) for part in allowed)] == []


@pytest.mark.parametrize("module", PURE_MODULES)
def test_the_timeline_and_what_plans_it_import_only_what_is_pure(module: str) -> None:
    """The engine has no clock, thread, file, socket or chance: a show, a recording and a drill are the same code."""
    outside = {name.split(".")[0] for name in imported(MODULES[module])} - {"server"}
    assert outside - PURE == ({"ortools"} if module in WITH_SOLVER else set())


@pytest.mark.parametrize("module", [name for name in MODULES if name.startswith(("server.review", "server.sheets"))])
def test_what_goes_on_paper_is_pure_too(module: str) -> None:
    """The same run gives the same account, and the same plan the same sheets, wherever and whenever they are made."""
    outside = {name.split(".")[0] for name in imported(MODULES[module])} - {"server"}
    assert outside - PURE_ON_PAPER == set()
    assert read_names(MODULES[module]) & (IMPURE_NAMES | IMPURE_METHODS) == set()


@pytest.mark.parametrize("module", PURE_MODULES)
def test_they_call_nothing_impure(module: str) -> None:
    """What the pure modules offer that is not pure is left alone: no time of day, no file, no output."""
    assert read_names(MODULES[module]) & (IMPURE_NAMES | IMPURE_METHODS) == set()


@pytest.mark.parametrize("module", ["server.cli", "server.planning.judge", "server.terminal.asked_order"])
def test_no_command_but_order_waits_for_the_solver(module: str) -> None:
    """It takes a third of a second to import, is an extra, and may not be there."""
    code = f"import sys, {module}; sys.exit('ortools' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False).returncode == 0


@pytest.mark.parametrize("module", ["server.cli", "server.assemble", "server.archive.forwarding"])
def test_a_site_without_an_archive_needs_nothing_of_it(module: str) -> None:
    """What the extra `archive` brings is imported where an archive is asked for, and nowhere before."""
    code = f"import sys, {module}; sys.exit(bool({{'alembic', 'psycopg'}} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False).returncode == 0


@pytest.mark.parametrize("module", [name for name in MODULES if is_in(name, "adapters") and name != "adapters"])
def test_adapters_do_not_know_each_other(module: str) -> None:
    """An adapter can be written, replaced or taken out without reading another."""
    own = ".".join(module.split(".")[:2])
    allowed = {own, "adapters.base", "adapters", *ADAPTERS_MAY_IMPORT}
    assert [name for name in imported_of_ours(module) if not any(is_in(name, part) for part in allowed)] == []


@pytest.mark.parametrize("module", sorted(set(MODULES) - {"server.clock"}))
def test_only_the_clock_reads_the_time(module: str) -> None:
    """Every other part is given the time, so every other part can be tested at any time."""
    assert "time" not in set(imported(MODULES[module]))
    assert read_names(MODULES[module]) & {"datetime.now", ".utcnow", ".today", ".monotonic", ".perf_counter"} == set()


@pytest.mark.parametrize("module", sorted(set(MODULES) - {"server.settings"}))
def test_only_the_settings_read_the_environment(module: str) -> None:
    """One file says what the environment may say."""
    assert read_names(MODULES[module]) & {".environ", ".getenv", ".environb"} == set()
