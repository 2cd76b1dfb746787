"""The sheets of a plan and its threading list over HTTP: opened, linked, refused in a sentence, by whom."""

import re
from collections.abc import AsyncIterator
from pathlib import Path

import httpx
import pytest

from server.access import Role
from server.desk import sheets
from server.desk.access import CONTENT_POLICY, PAPER_POLICY
from server.desk.sheet_messages import SheetList, ThreadingList
from server.planning.judge import Judgement, judgement_of
from server.planning.lacing import DOORWAY_MIN, PLATFORM, WAY_OUT, lacing_of
from server.plans.store import Kept, PlanStore
from server.timeline.plan import Plan, parse_plan
from tests.access.fakes import Entrance
from tests.desk.past import PLAN_TEXT
from tests.desk.test_plans import EXAMPLE, client_of
from tests.plans.sites import SITE
from tests.sheets.shows import Read

AT = "/api/plans/kept"
LINK = re.compile(r"[a-z0-9-]+\.html")


@pytest.fixture
async def client(tmp_path: Path) -> AsyncIterator[httpx.AsyncClient]:
    """A client of a server that keeps the plan of nine houses and the plan of two."""
    keep(tmp_path, "nine", EXAMPLE)
    keep(tmp_path, "pair", PLAN_TEXT)
    async with client_of(tmp_path) as client:
        yield client


def keep(folder: Path, name: str, text: str) -> None:
    """Put a plan beside those that are kept, as somebody does who copies a file."""
    path = folder / "plans" / f"{name}.plan.toml"
    path.parent.mkdir(exist_ok=True)
    path.write_text(text, encoding="utf-8")


async def listed(client: httpx.AsyncClient, name: str, query: str = "") -> SheetList:
    answer = await client.get(f"{AT}/{name}/sheets{query}")
    assert answer.status_code == 200, answer.text
    return SheetList.model_validate(answer.json())


@pytest.mark.parametrize(("query", "folder"), [("", ""), ("?crew=3", "crew-3/")])
@pytest.mark.parametrize("name", ["nine", "pair"])
async def test_every_sheet_and_every_link_of_one_opens(
    client: httpx.AsyncClient, name: str, query: str, folder: str
) -> None:
    """The list has what the overview links; each is a page with no link that leads nowhere."""
    found = await listed(client, name, query)
    names = {f"{sheet.name}.html" for sheet in found.sheets}
    assert ("crew.html" in names) is (query != "")
    linked: set[str] = set()
    for sheet in found.sheets:
        answer = await client.get(f"{AT}/{name}/sheets/{folder}{sheet.name}.html")
        assert (answer.status_code, answer.headers["content-type"]) == (200, "text/html; charset=utf-8")
        page = Read(answer.text)
        assert sheet.title in page.text
        assert all(LINK.fullmatch(link) for link in page.links)
        linked |= set(page.links)
    assert linked == names - {"index.html"}


async def test_a_sheet_may_have_its_style_and_nothing_else(client: httpx.AsyncClient) -> None:
    """Its policy lets no script, picture, form or frame in; every other page keeps its own."""
    answer = await client.get(f"{AT}/pair/sheets/index.html")
    assert answer.headers["content-security-policy"] == PAPER_POLICY
    assert "script-src" not in PAPER_POLICY
    assert PAPER_POLICY.startswith("default-src 'none';")
    assert answer.headers["x-content-type-options"] == "nosniff"
    for path in ("/plan", f"{AT}/pair/sheets", f"{AT}/pair/sheets/nothing.html"):
        assert (await client.get(path)).headers["content-security-policy"] == CONTENT_POLICY


async def test_what_a_plan_says_is_no_markup(client: httpx.AsyncClient, tmp_path: Path) -> None:
    """A title that is a script is read on the sheet, letter by letter."""
    keep(tmp_path, "odd", PLAN_TEXT.replace('title = "Pair"', "title = '<script>alert(1)</script>'"))
    page = (await client.get(f"{AT}/odd/sheets/index.html")).text
    assert "<script" not in page
    assert "<script>alert(1)</script>" in Read(page).text


async def test_the_threading_list_is_the_lacing_of_the_plan(client: httpx.AsyncClient) -> None:
    """Steps, times and people are those that the planner works out, for two or for as many as are asked about."""
    plan = parse_plan(EXAMPLE, "nine")
    for crew in (None, 5):
        answer = await client.get(f"{AT}/nine/threading", params={"crew": crew} if crew else {})
        found, lacing = ThreadingList.model_validate(answer.json()), lacing_of(plan, None, crew)
        assert (found.crew, found.minutes, found.begin_s, found.ready_s) == (
            lacing.crew,
            lacing.minutes,
            lacing.begin_s,
            lacing.ready_s,
        )
        assert [(step.number, step.what, step.people, step.caution) for step in found.steps] == [
            (step.number, step.what, step.people, step.caution) for step in lacing.steps
        ]
        assert (found.title, found.base) == (plan.title, (await listed(client, "nine")).base)


@pytest.mark.parametrize("what", ["sheets", "sheets/index.html", "sheets/crew-2/index.html", "threading"])
@pytest.mark.parametrize("name", ["nothing", "a%00b", "%3Cscript%3E", "pair%20", "Pair", "x" * 300])
async def test_a_plan_that_is_not_here_is_said_in_a_sentence(client: httpx.AsyncClient, name: str, what: str) -> None:
    """404, whatever the name tries; a page says it in plain text, which no browser takes for markup."""
    answer = await client.get(f"{AT}/{name}/{what}")
    reason = "There is no plan of this name here."
    said = ("text/plain; charset=utf-8", reason) if "html" in what else ("application/json", f'{{"reason":"{reason}"}}')
    assert (answer.status_code, answer.headers["content-type"], answer.text) == (404, *said)


@pytest.mark.parametrize("path", ["..%2fpair/sheets", "%2e%2e/%2e%2e/sheets", "pair/sheets/..%2f..%2fx"])
async def test_no_name_leads_out_of_the_folder(client: httpx.AsyncClient, path: str) -> None:
    """A path that goes up is no plan and no sheet."""
    assert (await client.get(f"{AT}/{path}")).status_code == 404


@pytest.mark.parametrize("sheet", ["booth-nowhere", "crew", "..%2findex", "%00", "Index"])
async def test_a_sheet_that_is_not_there_is_said_in_a_sentence(client: httpx.AsyncClient, sheet: str) -> None:
    """404; the crew has a sheet only where somebody says how many people there are."""
    assert (await client.get(f"{AT}/nine/sheets/{sheet}.html")).status_code == 404
    assert (await client.get(f"{AT}/nine/sheets/crew-2/crew.html")).status_code == 200


@pytest.mark.parametrize("crew", ["0", "-1", "201", "many", "1.5", ""])
async def test_a_crew_that_is_none_is_refused(client: httpx.AsyncClient, crew: str) -> None:
    """In a sentence, for the list and for the pages alike."""
    assert (await client.get(f"{AT}/nine/threading?crew={crew}")).status_code == 422
    assert (await client.get(f"{AT}/nine/sheets/crew-{crew}/index.html")).status_code in {404, 422}


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("[", "This plan is not whole yet, so it has no sheets: 1 thing to fill in or mend."),
        (
            PLAN_TEXT.replace('kind = "leader"', 'kind = "x"').replace('house = "2"', ""),
            "This plan is not whole yet, so it has no sheets: 2 things to fill in or mend.",
        ),
        (
            re.sub(r"path_(ft|m) = .*", "", PLAN_TEXT),
            "This plan has no sheets until every path is given: House 1 to 2.",
        ),
    ],
    ids=["no text", "faults", "no path"],
)
async def test_a_plan_that_nobody_can_lace_by_has_no_sheets(
    client: httpx.AsyncClient, tmp_path: Path, text: str, reason: str
) -> None:
    """The same sentence for the list, for a page, and for the tablet."""
    keep(tmp_path, "half", text)
    for what in ("sheets", "threading"):
        answer = await client.get(f"{AT}/half/{what}")
        assert (answer.status_code, answer.json()) == (409, {"reason": reason})
    answer = await client.get(f"{AT}/half/sheets/index.html")
    assert (answer.status_code, answer.text) == (409, reason)


async def test_sheets_say_what_cannot_work(client: httpx.AsyncClient, tmp_path: Path) -> None:
    """A plan that is whole and cannot work has sheets, for whoever mends it, and each of them says so."""
    assert (await listed(client, "nine")).against == 0
    keep(tmp_path, "short", EXAMPLE + '\n[[stations]]\nid = "far"\nhouse = "99"\npath_ft = 9000\nreserve_s = 0\n')
    found = await listed(client, "short")
    assert found.against > 0
    assert "This plan has" in Read((await client.get(f"{AT}/short/sheets/threading.html")).text).text
    assert (await client.get(f"{AT}/short/threading")).json()["against"] == found.against


async def test_the_threading_list_judges_each_text_once_and_no_crew(
    client: httpx.AsyncClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Tablets ask every few seconds, for the lacing alone: a plan is judged anew only once its text is another."""
    judged: list[tuple[object, ...]] = []

    def counted(plan: Plan, *asked: object) -> Judgement:
        judged.append((plan.title, *asked))
        return judgement_of(plan, None)

    monkeypatch.setattr(sheets, "judgement_of", counted)
    for title in ("Judged once", "Judged anew"):
        keep(tmp_path, "pair", PLAN_TEXT.replace('title = "Pair"', f'title = "{title}"'))
        for query in ("", "?crew=5", "?crew=1"):
            assert (await client.get(f"{AT}/pair/threading{query}")).status_code == 200
    assert judged == [("Judged once", None), ("Judged anew", None)]


async def test_sheets_go_by_the_site_of_the_plan(client: httpx.AsyncClient, tmp_path: Path) -> None:
    """What a site file has of the way, doorways and heights, is on the sheet and in the list."""
    keep(tmp_path, "at", PLAN_TEXT.replace('title = "Pair"', 'title = "Pair"\nsite = "Quarry Lane"'))
    before = (await client.get(f"{AT}/at/threading")).json()["steps"][0]
    measured = SITE.replace("path_ft = 101.5", "path_ft = 101.5\ndoorways = 2\nheight_m = 1.5")
    (tmp_path / "sites").mkdir()
    (tmp_path / "sites/quarry.site.toml").write_text(measured, encoding="utf-8")
    after = (await client.get(f"{AT}/at/threading")).json()["steps"][0]
    assert (before["caution"], after["caution"]) == (PLATFORM, WAY_OUT)
    assert after["minutes"] == pytest.approx(before["minutes"] + 2 * DOORWAY_MIN / 2)
    assert "2 doorways" in Read((await client.get(f"{AT}/at/sheets/threading.html")).text).text


async def test_a_changed_file_is_another_sheet_at_once(client: httpx.AsyncClient, tmp_path: Path) -> None:
    """Nothing is kept of a sheet: each is made of the plan as it is when it is asked for."""
    keep(tmp_path, "pair", PLAN_TEXT.replace('title = "Pair"', 'title = "Another"'))
    answer = await client.get(f"{AT}/pair/sheets/index.html")
    assert "Another" in answer.text
    assert answer.headers["cache-control"] == "no-cache"


@pytest.mark.parametrize(("role", "status"), [("booth", 200), ("look", 200), ("report", 403)])
async def test_who_looks_has_sheets_and_list(tmp_path: Path, role: Role, status: int) -> None:
    """What is ticked off is the device's own, so a device that only looks may; a phone that reports has the lobby."""
    keep(tmp_path, "pair", PLAN_TEXT)
    entrance = Entrance()
    async with client_of(tmp_path, entrance=entrance) as client:
        for what in ("sheets", "sheets/index.html", "threading"):
            assert (await client.get(f"{AT}/pair/{what}")).status_code == 401
        _, token = await entrance.pairings.add("Ida", role)
        client.cookies.set("festoon", token)
        for what in ("sheets", "sheets/index.html", "threading"):
            assert (await client.get(f"{AT}/pair/{what}")).status_code == status
        page = await client.get("/threading")
        assert (page.status_code, page.headers.get("location")) == ((200, None) if status == 200 else (303, "/lobby"))


async def test_a_folder_that_cannot_be_used_is_said_in_a_sentence(
    client: httpx.AsyncClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """503: the same may be asked again."""

    def broken(_store: PlanStore, _name: str) -> Kept:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(PlanStore, "kept", broken)
    reason = "The folder of the plans cannot be used: Input/output error. Nothing was lost here."
    answer = await client.get(f"{AT}/pair/threading")
    assert (answer.status_code, answer.json()) == (503, {"reason": reason})
    answer = await client.get(f"{AT}/pair/sheets/index.html")
    assert (answer.status_code, answer.text) == (503, reason)
