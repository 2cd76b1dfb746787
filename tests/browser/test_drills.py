"""A rehearsal at the desks: what is tapped at the booth desk is done in the drill, and reviewed."""

import json
import signal
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, expect

from tests.browser.hands import choose, open_booth, tap
from tests.browser.served import PATIENCE_S, served, written_plan

pytestmark = pytest.mark.slow


def test_a_rehearsal_is_tapped_at_the_booth_desk_and_reviewed(tmp_path: Path, clean: BrowserContext) -> None:
    """With no crew the wall shows what is done, the booth desk what the lookout sees, and the review has both."""
    plan, review = written_plan(tmp_path), tmp_path / "review.json"
    arguments = ("--crew", "none", "--fault", "clean", "--seed", "3", "--speed", "10", "--review", str(review))
    with served("drill", str(plan), *arguments, "--port", "0") as server:
        wall, booth = clean.new_page(), clean.new_page()
        wall.goto(server.desk("wall"))
        open_booth(booth, server)
        expect(wall.get_by_text("Demo: a simulated run at 10 times speed")).to_be_visible()
        tap(booth, "Lamp lit")
        expect(wall.get_by_role("article", name="House 1")).to_contain_text("lamp lit")
        choose(booth, "All")
        tap(booth, "All motors started")
        expect(wall.get_by_role("article", name="House 2")).to_contain_text("rolling")
        expect(booth.get_by_text("House 1: the first picture is at the gate")).to_be_visible(timeout=15_000)
        tap(booth, "All motors stopped")
        expect(wall.get_by_role("article", name="House 2")).to_contain_text("stopped")
        server.process.send_signal(signal.SIGINT)
        assert server.process.wait(PATIENCE_S) == 0
    document = json.loads(review.read_text(encoding="utf-8"))
    done = [(each["kind"], each["changed"]) for each in document["done"]]
    assert done == [("lamp_lit", True), ("chain_start", True), ("chain_stop", True)]
    assert [strike["station"] for strike in document["strikes"] if strike["struck_s"] is not None] == ["a"]
    assert document["dark"][0]["dark_s"] > 0.0
