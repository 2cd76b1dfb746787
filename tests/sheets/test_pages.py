"""Every sheet as a page: whole, self-contained, with every text as it is, under a name of its own."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.planning.cautions import FILM_CAUTIONS, LAMP_CAUTIONS, SITE_RULES
from server.sheets.folder import sheets_of
from server.sheets.page import MADE_BY, page_for_pdf, page_of
from tests.planning.chains import chain
from tests.sheets.shows import NAMES, Read, pages_of, plan_named, show_of

HOSTILE = '</style><script>alert(1)</script><blink a="\'">&amp; \\ \x7f'
TEXTS = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), min_size=1, max_size=60).filter(
    str.strip
)


@pytest.mark.parametrize("name", NAMES)
def test_a_page_carries_all_it_needs(name: str) -> None:
    """No script, nothing from elsewhere, every tag closed, and only the overview links: to the other sheets."""
    show = show_of(plan_named(name), crew=2)
    pages = pages_of(show)
    for stem, page in pages.items():
        read = Read(page)
        assert not read.tags & {"script", "link", "img", "iframe", "object"}
        assert MADE_BY in page
        assert "url(" not in page
        others = [f"{other}.html" for other in pages if other != "index"]
        assert read.links == (others if stem == "index" else [])


@pytest.mark.parametrize("name", NAMES)
def test_every_table_has_its_columns_in_each_row(name: str) -> None:
    """A cell that is missing would shift what stands under a heading."""
    for page in pages_of(show_of(plan_named(name), crew=2)).values():
        for table in re.findall("<table.*?</table>", page, re.DOTALL):
            columns = table.count("<col ")
            rows = re.findall("<tr.*?</tr>", table, re.DOTALL)
            for row in rows:
                across = re.search('colspan="([0-9]+)"', row)
                assert (int(across[1]) if across else len(re.findall("<t[dh]", row))) == columns


@settings(max_examples=40)  # each makes seven pages
@given(TEXTS, TEXTS)
def test_a_text_is_never_markup(title: str, booth: str) -> None:
    """Whatever a plan's texts hold, a browser reads them as they are, and the style sheet ends where it ends."""
    plan = chain((50.0, 6)).model_copy(update={"title": title, "site": HOSTILE})
    stations = tuple(one.model_copy(update={"booth": booth, "house": HOSTILE}) for one in plan.stations)
    for page in pages_of(show_of(plan.model_copy(update={"stations": stations}))).values():
        read = Read(page)
        assert " ".join(title.split()) in read.text
        assert " ".join(HOSTILE.split()) in read.text
        assert not read.tags & {"script", "blink"}
        assert page.count("</style>") == 1 + page.count("<svg")


def test_booths_that_would_share_a_file_have_one_each() -> None:
    """Names that differ by case, accents or signs, names in other scripts, and houses of no booth at all."""
    booths = ["North", "north", "Nörth", "No/rth", "北", "", "North 2", "Booth 9", "x" * 200]
    plan = chain(*[(50.0, 6)] * 8, booths=[booth or "none" for booth in booths])
    stations = [
        one.model_copy(update={"booth": booth or None}) for one, booth in zip(plan.stations, booths, strict=True)
    ]
    sheets = sheets_of(show_of(plan.model_copy(update={"stations": tuple(stations)})))
    names = [sheet.name for sheet in sheets]
    assert len(set(names)) == len(names) == len(booths) + 4
    assert all(re.fullmatch("[a-z0-9-]{1,44}", name) for name in names)
    titles = [sheet.title for sheet in sheets if sheet.name.startswith("booth")]
    assert titles[:2] == ["Booth North", "Booth north"]
    assert "Booth, not named" in titles
    assert "Booth 9" in titles


def test_a_plan_without_booths_has_one_sheet_for_all() -> None:
    """It is called Booth, and has every house."""
    sheets = sheets_of(show_of(plan_named("pair")))
    assert [(sheet.name, sheet.title) for sheet in sheets] == [
        ("index", "Overview"),
        ("booth", "Booth"),
        ("threading", "Threading"),
        ("lobby", "Lobby"),
        ("chart", "Chart"),
    ]


def test_a_booth_between_two_others_has_one_sheet() -> None:
    """A chain that comes back to a booth does not make a second sheet of it; the film's way shows both visits."""
    show = show_of(chain(*[(50.0, 6)] * 3, booths=["Up", "Down", "Up", "Up"]))
    text = Read(pages_of(show)["booth-up"]).text
    assert "House 11 → House 12 (Down); House 12 (Down) → House 13 → House 14" in text
    assert [sheet.title for sheet in sheets_of(show)][1:3] == ["Booth Up", "Booth Down"]


def test_past_midnight_the_day_stands_above() -> None:
    """A booth's sheet has the new day as a line of its own, once, before the first time of that day."""
    rows = Read(pages_of(show_of(plan_named("sixteen")))["booth-mill"]).rows
    firsts = [row[0] for row in rows]
    assert firsts.count("Saturday 18 July 2026") == 1
    day = firsts.index("Saturday 18 July 2026")
    assert firsts[day - 1] == "23:59:54"
    assert firsts[day + 1] == "00:00:19"


def test_faults_are_told_on_what_people_work_by() -> None:
    """A sheet of a plan that cannot work says so at its top, to the crew and not to the lobby."""
    pages = pages_of(show_of(plan_named("interval"), crew=2))
    told = {name for name, page in pages.items() if "This plan has a fault." in page}
    assert told == set(pages) - {"lobby"}
    assert not any("This plan has" in page for page in pages_of(show_of(plan_named("larkspur"))).values())


def test_cautions_stand_where_the_danger_is() -> None:
    """Lamps on every booth's sheet, moving film on the threading sheet, site rules on both."""
    pages = pages_of(show_of(plan_named("larkspur")))
    for name in ("booth-north", "booth-centre", "booth-south"):
        text = Read(pages[name]).text
        assert all(caution in text for caution in (*LAMP_CAUTIONS, SITE_RULES))
        assert "Film stops? 1. Shut the douser: film bears the light for 1 s." in text
    threading = Read(pages["threading"]).text
    assert all(caution in threading for caution in (*FILM_CAUTIONS, SITE_RULES))


def test_a_pdf_has_a_paper_that_prints_on_both() -> None:
    """No wider than A4 (210 mm, ISO 216) and no higher than letter (279.4 mm); the chart lies. A page has no size."""
    show = show_of(plan_named("pair"))
    for sheet in sheets_of(show):
        size = "279mm 210mm" if sheet.wide else "210mm 279mm"
        assert f"@page {{ size: {size};" in page_for_pdf(sheet, show)
        assert " size: " not in page_of(sheet, show).replace("size: landscape;", "").replace("-size", "")
