"""What a runner does at a booth desk."""

import re
from datetime import UTC, datetime, timedelta
from typing import Any

from playwright.sync_api import Locator, Page

from tests.browser.served import Served


def open_booth(page: Page, served: Served, station: str = "House 1", by: str = "") -> Page:
    """Open the booth desk of the first run with the pad of one station, for somebody who says `by`, or nothing."""
    page.goto(served.desk("booth"))
    name(page, by)
    choose(page, station)
    return page


def name(booth: Page, by: str) -> None:
    """Answer who taps here."""
    if by:
        booth.get_by_label("Who taps here?").fill(by)
        booth.get_by_role("button", name="Keep the name").click()
    else:
        booth.get_by_role("button", name="Without a name").click()


def choose(booth: Page, station: str) -> None:
    """Choose whose pad is shown: `House 1`, or `All` for the chain."""
    picker = booth.get_by_role("group", name="What the taps are about")
    picker.get_by_role("button", name=re.compile(rf"^{station}\b")).click()


def tap(booth: Page, words: str) -> None:
    """Touch a button of the pad."""
    booth.get_by_role("region", name="Pad").get_by_role("button", name=re.compile(f"^{words}")).click()


def answer(booth: Page) -> Locator:
    """Where the last tap is answered."""
    return booth.get_by_role("group", name="Latest tap")


def report(page: Page, served: Served, kind: str, station: str, ago_s: float) -> None:
    """Have the server know that something happened a while ago, as another desk would tell it."""
    t = (datetime.now(UTC) - timedelta(seconds=ago_s)).isoformat()
    event = {"id": f"{kind} {station}", "t": t, "kind": kind, "station": station, "source": "tap"}
    assert page.request.post(f"{served.base}/api/runs/{served.runs[0]}/events", data=event).ok


def events(booth: Page, served: Served) -> list[dict[str, Any]]:
    """What the server has of the first run."""
    found: list[dict[str, Any]] = booth.request.get(f"{served.base}/api/runs/{served.runs[0]}").json()["events"]
    return found
