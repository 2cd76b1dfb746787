"""The plan desk and the threading list in the browser, where answers are slow or never come, and nothing is kept."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, Request, Route, expect

from tests.browser.desk_of_plans import house, open_new, serving_plans
from tests.browser.served import Served
from tests.browser.test_threading import STEPS, keep, open_list, plan_in, standing, step

pytestmark = pytest.mark.slow

REFUSED = """for (const name of ["localStorage", "sessionStorage"]) {
  Object.defineProperty(window, name, { get() { throw new DOMException("refused", "SecurityError"); } });
}"""
"""A browser that is told to keep nothing answers so."""


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[tuple[Served, Path]]:
    """A server without a plan, and the folder of its plans."""
    with serving_plans(tmp_path) as served:
        yield served


def holding(page: Page, address: str) -> list[Route]:
    """Leave what is asked of an address without an answer; what was asked so far."""
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.route(re.compile(address), hold)
    return held


def test_a_plan_is_saved_once_however_often_it_is_asked_for(desk: tuple[Served, Path], context: BrowserContext) -> None:
    """Keys that are pressed while an answer is out, or held down, save nothing more; a refused name is asked anew.

    All of it in a browser that keeps nothing.
    """
    server, folder = desk
    page = context.new_page()
    page.add_init_script(REFUSED)
    open_new(page, server.base)
    page.get_by_role("button", name="Save", exact=True).click()
    who = page.get_by_label("Who does it")
    expect(who).to_have_attribute("maxlength", "200")
    who.fill("A\tda")
    page.get_by_role("button", name="Save it").click()
    expect(page.get_by_role("dialog")).to_contain_text("has a character that cannot be seen, such as a tab")
    held = holding(page, "/api/plans(/kept/[^/]*)?$")
    who.fill("Ada")
    page.get_by_role("button", name="Save it").click()
    expect(page.get_by_role("button", name="Saving")).to_be_disabled()
    path = house(page, "House 1").get_by_label("Path from House 3", exact=True)
    path.focus()
    page.keyboard.press("Control+S")
    page.keyboard.press("Control+S")
    path.fill("45")
    for route in held:
        route.continue_()
    expect(page).to_have_url(re.compile(r"plan=the-cartographers-daughter"))
    expect(page.get_by_text("Changed since it was saved")).to_be_visible()
    page.unroute_all()
    posts: list[str] = []

    def listen(request: Request) -> None:
        if request.method == "POST" and "/kept/" in request.url:
            posts.append(request.url)

    page.on("request", listen)
    page.keyboard.down("Control")
    page.keyboard.down("s")
    expect(page.get_by_text(re.compile("^Saved .* by Ada$"))).to_be_visible()
    page.keyboard.down("s")
    page.keyboard.up("s")
    page.keyboard.up("Control")
    expect(page.get_by_role("button", name="Save", exact=True)).to_be_disabled()
    assert posts == [f"{server.base}/api/plans/kept/the-cartographers-daughter"]
    [file] = folder.glob("*.plan.toml")
    assert "path_ft = 45\n" in file.read_text(encoding="utf-8")
    assert len(list((folder / "versions" / "the-cartographers-daughter").iterdir())) == 2


def test_a_list_whose_server_hangs_says_so(desk: tuple[Served, Path], context: BrowserContext) -> None:
    """A connection that neither answers nor breaks is as good as none: the list is told to be an old one."""
    server, folder = desk
    keep(folder, plan_in(41.3))
    page = context.new_page()
    open_list(page, server.base)
    step(page, r"1\. ").check()
    asked = holding(page, "/api/plans/kept/nine/threading")
    page.reload()
    expect(standing(page)).to_contain_text(f"1 of {STEPS} done")
    expect(page.get_by_role("alert").filter(has_text="No word from the server")).to_be_visible()
    expect(page.get_by_text(re.compile("This is the list of [0-9]+ s ago"))).to_be_visible()
    assert len(asked) == 1
    page.unroute_all()
