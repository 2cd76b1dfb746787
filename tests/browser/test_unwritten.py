"""A log that cannot be written, as every desk says it."""

import json
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any

from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.served import Served


def reported(server: Served, name: str) -> tuple[int, Any]:
    """What the server answers to a motor that is reported to have started."""
    event = {"id": name, "kind": "motor_start", "station": "a", "source": "tap"}
    address = f"{server.base}/api/runs/{server.runs[0]}/events"
    asked = urllib.request.Request(address, json.dumps(event).encode(), {"content-type": "application/json"})
    try:
        with urllib.request.urlopen(asked) as answer:
            return answer.status, json.load(answer)
    except urllib.error.HTTPError as refused:
        return refused.code, json.load(refused)


def test_every_desk_says_that_nothing_is_written_down(
    two_houses: Served, context: BrowserContext, tmp_path: Path
) -> None:
    """With the log's folder away wall, booth and lobby say so, and go on; put back, none says it any more."""
    pages: list[Page] = []
    for desk in ("wall", "booth", "lobby"):
        page = context.new_page()
        page.goto(two_houses.desk(desk))
        pages.append(page)
    expect(pages[0].get_by_role("article", name="House 1")).to_be_visible()
    folder = tmp_path / "log"
    folder.rename(tmp_path / "elsewhere")
    status, answer = reported(two_houses, "e1")
    assert (status, answer["known"]) == (503, True)
    said = [page.get_by_role("alert").filter(has_text="Nothing is written down since") for page in pages]
    for alert in said:
        expect(alert).to_contain_text("it was moved, deleted or covered")
    expect(pages[0].get_by_role("article", name="House 1")).to_contain_text("ROLLING", ignore_case=True)
    (tmp_path / "elsewhere").rename(folder)
    for alert in said:
        expect(alert).to_have_count(0)
    status, answer = reported(two_houses, "e1")
    assert (status, answer["type"]) == (200, "taken")
