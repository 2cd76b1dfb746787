"""The sheets in a browser: opened from a disk, printed on both papers, read by everybody."""

import re
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, expect

from server.timeline.plan import Plan
from tests.planning.chains import chain
from tests.sheets.shows import pages_of, plan_named, show_of

MM_PX = 96.0 / 25.4  # CSS: an inch is 96 px
MARGINS_MM = 22.0  # left and right, as the sheets have them
WIDTHS_MM = {"A4": 210.0, "Letter": 215.9}  # ISO 216; ANSI/ASME Y14.1
HEIGHTS_MM = {"A4": 297.0, "Letter": 279.4}

# Every cell, line and heading that is wider inside than out: its text is cut, or runs into its neighbour.
CUT = """() => [document.documentElement, ...document.querySelectorAll('td, th, p, li, h1, h2, .big div, .box')]
    .filter((one) => one.scrollWidth > one.clientWidth + 1 && getComputedStyle(one).display !== 'inline')
    .map((one) => `${one.tagName} ${one.className}: ${one.textContent.slice(0, 40)}`)"""
BREAKS = """() => [...new Set([...document.querySelectorAll('tbody tr, li')]
    .map((one) => getComputedStyle(one).breakInside))]"""


def crowded() -> Plan:
    """Thirty houses over midnight in five booths, an intermission, and names and titles that are far too long."""
    booths = [f"Projection gallery {k % 5} over the old cloakroom, second door on the left" for k in range(30)]
    plan = chain(
        *[(40.0 + k, 6) for k in range(29)],
        booths=booths,
        motors_at="2026-07-17T23:48:30-05:00",
        timing='start = "common"',
        title="The Extraordinarily Long Title of a Film That Nobody Ever Wanted to Print on Any Paper at All",
        more='[[marks]]\nid = "wide"\nafter = "film"\nsay = "Lens and masking to wide, then lights to half"',
    )
    odd = {3: "Wharfinger's Grand Auditorium of the Upper Quay", 9: "Auditorium" * 6}
    stations = [one.model_copy(update={"house": odd.get(k, one.house)}) for k, one in enumerate(plan.stations)]
    return plan.model_copy(update={"stations": tuple(stations)})


def written(folder: Path, plan: Plan) -> dict[str, str]:
    """The addresses of the sheets of a show, on a disk."""
    pages = pages_of(show_of(plan, crew=2))
    for name, page in pages.items():
        (folder / f"{name}.html").write_text(page)
    return {name: (folder / f"{name}.html").as_uri() for name in pages}


@pytest.mark.slow
@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("name", ["larkspur", "crowded"])
def test_nothing_is_cut_on_paper(tmp_path: Path, clean: BrowserContext, name: str, paper: str) -> None:
    """On either paper no text is wider than its place, no row is split, and the PDF has that paper's size."""
    page = clean.new_page()
    page.emulate_media(media="print")
    for sheet, address in written(tmp_path, crowded() if name == "crowded" else plan_named(name)).items():
        lies = sheet == "chart"
        across_mm = HEIGHTS_MM[paper] if lies else WIDTHS_MM[paper]
        page.set_viewport_size({"width": int((across_mm - MARGINS_MM) * MM_PX), "height": 800})
        page.goto(address)
        assert page.evaluate(CUT) == [], sheet
        assert page.evaluate(BREAKS) == ["avoid"]
        printed = page.pdf(format=paper, print_background=True)
        assert {round(size) for size in sizes_mm(printed)} == {
            round(WIDTHS_MM[paper]),
            round(HEIGHTS_MM[paper]),
        }
        width_mm, height_mm = sizes_mm(printed)
        assert (width_mm > height_mm) is lies


@pytest.mark.slow
def test_a_show_of_nine_houses_is_a_few_pages(tmp_path: Path, clean: BrowserContext) -> None:
    """A card for the lobby is one page, a booth of three houses two, the threading four at most; on both papers."""
    most = {"lobby": 1, "booth-north": 2, "booth-centre": 2, "booth-south": 2, "threading": 4, "chart": 3}
    page = clean.new_page()
    addresses = written(tmp_path, plan_named("larkspur"))
    for paper in WIDTHS_MM:
        counts = {}
        for sheet in most:
            page.goto(addresses[sheet])
            counts[sheet] = len(re.findall(rb"/Type /Page\b", page.pdf(format=paper, print_background=True)))
        assert all(1 <= counts[sheet] <= most[sheet] for sheet in most), counts
    page.goto(written(tmp_path, crowded())["lobby"])
    assert len(re.findall(rb"/Type /Page\b", page.pdf(format="A4"))) == 2


def sizes_mm(printed: bytes) -> tuple[float, float]:
    """Width and height of the first page of a PDF."""
    found = re.search(rb"/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]", printed)
    assert found is not None
    return float(found[1]) / 72.0 * 25.4, float(found[2]) / 72.0 * 25.4


@pytest.mark.slow
def test_the_overview_leads_to_every_sheet_and_none_breaks_a_rule_of_access(
    tmp_path: Path, clean: BrowserContext
) -> None:
    """Each link opens its sheet from the disk; axe-core finds nothing on any of them."""
    page = clean.new_page()
    addresses = written(tmp_path, plan_named("interval"))
    page.goto(addresses["index"])
    links = [link.inner_text() for link in page.get_by_role("link").all()]
    assert links == ["Booth River", "Booth Yard", "Threading", "Lobby", "Chart", "Crew"]
    for title in ("Overview", *links):
        page.goto(addresses["index"])
        if title != "Overview":
            page.get_by_role("link", name=title, exact=True).click()
        expect(page.get_by_role("heading", name=title, level=1)).to_be_visible()
        found = Axe().run(page).response["violations"]
        assert [f"{one['id']}: {[node['html'] for node in one['nodes']]}" for one in found] == [], title


@pytest.mark.slow
def test_a_phone_reads_the_sheets_too(tmp_path: Path, clean: BrowserContext) -> None:
    """On a narrow screen no sheet is wider than the screen, and no text runs into its neighbour."""
    page = clean.new_page()
    page.set_viewport_size({"width": 390, "height": 844})
    for sheet, address in written(tmp_path, plan_named("larkspur")).items():
        page.goto(address)
        assert page.evaluate(CUT) == [], sheet
