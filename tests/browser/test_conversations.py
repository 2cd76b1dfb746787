"""What happens between a desk and the server: taps that register, and a server that goes away."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, expect

from tests.browser.hands import answer, open_booth, tap
from tests.browser.served import Served, served_plans, written_plan

pytestmark = pytest.mark.slow

READ_MS = 10_000
AGE = re.compile(r"[0-9]+ s old: it stood so at [0-9]+:[0-9]{2}:[0-9]{2}")


def test_a_tap_is_answered_seen_on_the_wall_and_taken_back(two_houses: Served, clean: BrowserContext) -> None:
    """A motor start tapped at the booth is answered there and rolls the house on the wall, until it is taken back."""
    wall, booth = clean.new_page(), clean.new_page()
    wall.goto(two_houses.desk("wall"))
    open_booth(booth, two_houses)
    house = wall.get_by_role("article", name="House 1")
    expect(house).to_contain_text("threaded", timeout=READ_MS)
    tap(booth, "Motor started")
    expect(answer(booth)).to_contain_text(re.compile("House 1: motor started.*taken", re.DOTALL), timeout=READ_MS)
    expect(house).to_contain_text("rolling", timeout=READ_MS)
    expect(wall.get_by_role("article", name="House 2")).to_contain_text("threaded")
    booth.get_by_role("button", name="Take back House 1: motor started").click()
    expect(house).to_contain_text("threaded", timeout=READ_MS)


def test_a_lost_server_is_told_with_the_age_and_comes_back(tmp_path: Path, context: BrowserContext) -> None:
    """The wall and the lobby say that the server is lost and how old they are, and go on when it is there again."""
    plan = written_plan(tmp_path)
    wall, lobby = context.new_page(), context.new_page()
    lost = [page.get_by_role("alert").filter(has_text="No word from the server") for page in (wall, lobby)]
    with served_plans(plan) as server:
        wall.goto(server.desk("wall"))
        lobby.goto(f"{server.base}/lobby")
        expect(wall.get_by_role("article", name="House 1")).to_be_visible(timeout=READ_MS)
        expect(lobby.get_by_role("rowheader", name="1", exact=True)).to_be_visible(timeout=READ_MS)
        server.kill()
        for page, alert in zip((wall, lobby), lost, strict=True):
            expect(alert).to_be_visible(timeout=READ_MS)
            expect(page.get_by_text(AGE)).to_be_visible()
    with served_plans(plan, port=server.port):
        for alert in lost:
            expect(alert).to_be_hidden(timeout=READ_MS)
        expect(lobby.get_by_role("rowheader", name="1", exact=True)).to_be_visible()
