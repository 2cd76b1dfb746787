"""The browser, what it must not complain about, and the shows that are served to it."""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, ConsoleMessage, Page, expect

from tests.archive.conftest import archive, postgres  # noqa: F401 - fixtures of the overview
from tests.browser.served import LAN, TITLES, Served, served, served_plans, written_plan

PATIENCE_MS = 15_000
"""Chosen: how long a page is waited for, on a computer that does much else."""

expect.set_options(timeout=PATIENCE_MS)

BROWSER = "chromium-headless-shell"
"""The same engine without a browser's own windows, which cost more than most pages: 0.9 s of a processor each."""

QUIET = ("--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-sync")
ELSEWHERE = f"--host-resolver-rules=MAP {LAN} 127.0.0.1"


KEEPING = pytest.mark.browser_context_args(service_workers="allow")
"""The browser keeps the booth desk and the threading list on the device."""


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Debian's Chromium: no browser is downloaded."""
    return browser_type_launch_args | {"executable_path": shutil.which(BROWSER), "args": [*QUIET, ELSEWHERE]}


@pytest.fixture(scope="session")
def browser_context_args(browser_context_args: dict[str, Any]) -> dict[str, Any]:
    """A page keeps no copy of itself, which takes longer than all else it does, unless a test is marked `KEEPING`."""
    size = {"width": 1920, "height": 1080}
    return browser_context_args | {"locale": "en-US", "viewport": size, "service_workers": "block"}


@pytest.fixture
def clean(context: BrowserContext) -> Iterator[BrowserContext]:
    """A context whose pages raise nothing, log no error and ask for nothing that the content policy refuses."""
    complaints: list[str] = []

    def listen(said: ConsoleMessage) -> None:
        if said.type == "error":
            complaints.append(said.text)

    context.on("weberror", lambda error: complaints.append(str(error.error)))
    context.on("console", listen)
    yield context
    assert complaints == []


@pytest.fixture(scope="module")
def demo() -> Iterator[Served]:
    """The demonstration, one for all tests of a module."""
    with served("demo", "--port", "0", "--speed", "40") as server:
        yield server


@pytest.fixture
def two_houses(tmp_path: Path) -> Iterator[Served]:
    """A live run of two houses, threaded, in which only taps tell anything."""
    with served_plans(written_plan(tmp_path)) as server:
        yield server


@pytest.fixture
def two_runs(tmp_path: Path) -> Iterator[Served]:
    """Two live runs of two houses each."""
    with served_plans(*(written_plan(tmp_path, title) for title in TITLES)) as server:
        yield server


@pytest.fixture
def wall(two_houses: Served, context: BrowserContext) -> Page:
    """The wall of the run of two houses."""
    page = context.new_page()
    page.goto(two_houses.desk("wall"))
    page.get_by_role("article", name="House 1").wait_for()
    return page
