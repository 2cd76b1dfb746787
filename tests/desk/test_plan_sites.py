"""Sites over HTTP: kept, listed, taken by the plans that name them; and a crew that is asked about."""

from collections.abc import AsyncIterator
from pathlib import Path

import httpx
import pytest

from server.desk.plan_messages import CheckedPlan, SiteConflict, SiteInfo, SiteList, SiteRefusal
from server.planning.judge import judgement_of
from server.planning.site import parse_site
from server.plans.wording import for_desk
from server.timeline.plan import parse_plan
from tests.access.fakes import Entrance
from tests.desk.past import PLAN_TEXT
from tests.desk.test_plans import asked, client_of
from tests.plans.sites import BROKEN, SITE

PLAN = PLAN_TEXT.replace("title = ", 'site = "Quarry Lane"\ntitle = ', 1)
SITES = "/api/plans/sites"


@pytest.fixture
async def client(tmp_path: Path) -> AsyncIterator[httpx.AsyncClient]:
    async with client_of(tmp_path) as client:
        yield client


async def test_a_site_is_kept_listed_and_read(client: httpx.AsyncClient, tmp_path: Path) -> None:
    """As it was written, in its own units; a house has all that a station of a plan takes of it."""
    assert await asked(client, SITES) == {"sites": []}
    assert await asked(client, SITES, {"text": SITE}) == {
        "name": "quarry-lane",
        "called": "Quarry Lane",
        "changed": True,
    }
    assert (tmp_path / "sites/quarry-lane.site.toml").read_text(encoding="utf-8") == SITE
    [line] = SiteList.model_validate(await asked(client, SITES)).sites
    assert (line.name, line.called, line.houses, line.paths, line.faults) == ("quarry-lane", "Quarry Lane", 3, 2, [])
    found = SiteInfo.model_validate(await asked(client, f"{SITES}/quarry-lane"))
    assert found.houses[1].values == {
        "house": "2",
        "booth": "South",
        "reserve_s": 1.5,
        "inputs": {"motor": "contact"},
    }
    assert [(path.houses, path.key, path.length, path.rollers) for path in found.paths] == [
        (("2", "1"), "path_ft", 101.5, 8),
        (("2", "3"), "path_m", 12.25, None),
    ]
    await asked(client, f"{SITES}/harbour", status=404)


async def test_what_a_house_has_fits_a_plan(client: httpx.AsyncClient) -> None:
    """A house of the site can be added to a plan as it is told: no key of it is unknown there."""
    await asked(client, SITES, {"text": SITE})
    houses = (await asked(client, f"{SITES}/quarry-lane"))["houses"]
    edits = [
        {"do": "add", "list": "stations", "at": 2 + n, "values": {"id": f"x{n}"} | house["values"]}
        for n, house in enumerate(houses)
    ]
    told = await asked(client, "/api/plans/check", {"text": PLAN, "edits": edits})
    assert (told["refused"], told["faults"]) == ("", [])


async def test_a_site_is_replaced_only_where_it_is_named(client: httpx.AsyncClient) -> None:
    """The first answer says what is there; the second takes its place. The same text again changes nothing."""
    await asked(client, SITES, {"text": SITE})
    assert (await asked(client, SITES, {"text": "\ufeff" + SITE}))["changed"] is False
    other = SITE.replace("101.5", "99")
    there = SiteConflict.model_validate(await asked(client, SITES, {"text": other}, 409))
    assert (there.name, there.called) == ("quarry-lane", "Quarry Lane")
    assert (await asked(client, f"{SITES}/quarry-lane"))["paths"][0]["length"] == 101.5
    assert (await asked(client, SITES, {"text": other, "base": there.base}))["changed"] is True
    assert (await asked(client, f"{SITES}/quarry-lane"))["paths"][0]["length"] == 99


@pytest.mark.parametrize("text", [BROKEN, PLAN_TEXT, "[", "", '{"format": "festoon-events/1"}'])
async def test_what_is_no_site_is_told_with_all_of_its_faults(
    client: httpx.AsyncClient, tmp_path: Path, text: str
) -> None:
    """Nothing of it is kept."""
    told = SiteRefusal.model_validate(await asked(client, SITES, {"text": text}, 422))
    assert told.faults
    assert all(fault.text and not fault.text.startswith((":", "line")) for fault in told.faults)
    assert not (tmp_path / "sites").exists()


async def test_a_plan_is_judged_by_the_site_that_it_names(client: httpx.AsyncClient) -> None:
    """The same findings and the same lacing as in the terminal with --site; none of it while no file has the name."""
    told = CheckedPlan.model_validate(await asked(client, "/api/plans/check", {"text": PLAN}))
    assert told.site is None
    await asked(client, SITES, {"text": SITE})
    told = CheckedPlan.model_validate(await asked(client, "/api/plans/check", {"text": PLAN, "crew": 2}))
    judgement = judgement_of(parse_plan(PLAN, "x"), parse_site(SITE, "x"), 2)
    assert told.site is not None
    assert (told.site.name, told.site.called, told.site.faults) == ("quarry-lane", "Quarry Lane", 0)
    assert [finding.text for finding in told.findings] == [for_desk(one).text for one in judgement.findings]
    assert told.lacing is not None
    assert told.lacing.crew == 2
    assert told.people is not None
    assert [[task.begin_s for task in tasks] for tasks in told.people] == [
        [task.begin_s for task in tasks] for tasks in judgement.crew.people
    ]


async def test_a_crew_that_is_too_few_is_told(client: httpx.AsyncClient) -> None:
    """Of one person whose walk takes too long; nobody is counted where nobody asked."""
    far = SITE.replace("walk_s = 55", "walk_s = 900")
    await asked(client, SITES, {"text": far})
    plan = PLAN.replace('house = "1"', 'house = "1"\nbooth = "North"').replace(
        'house = "2"', 'house = "2"\nbooth = "South"'
    )
    told = await asked(client, "/api/plans/check", {"text": plan, "crew": 1})
    assert "crew_too_few" in [finding["code"] for finding in told["findings"]]
    assert len(told["people"]) == 1
    told = await asked(client, "/api/plans/check", {"text": plan})
    assert (told["people"], "crew_too_few" in [finding["code"] for finding in told["findings"]]) == (None, False)


@pytest.mark.parametrize("crew", [0, 201, -1, "two", 1.5])
async def test_a_crew_is_a_number_of_people(client: httpx.AsyncClient, crew: object) -> None:
    """What is none is refused."""
    await asked(client, "/api/plans/check", {"text": PLAN, "crew": crew}, 422)


async def test_nothing_is_taken_of_a_site_file_with_faults(client: httpx.AsyncClient, tmp_path: Path) -> None:
    """Somebody put it there: the plan is judged without it, and the desk can say so."""
    (tmp_path / "sites").mkdir()
    (tmp_path / "sites/ours.site.toml").write_text(BROKEN, encoding="utf-8")
    told = await asked(client, "/api/plans/check", {"text": PLAN})
    assert (told["site"]["name"], told["site"]["faults"], told["judged"]) == ("ours", 2, True)
    [line] = (await asked(client, SITES))["sites"]
    assert [fault["line"] for fault in line["faults"]] == [25, 37]
    await asked(client, f"{SITES}/ours", status=404)


async def test_an_opened_plan_is_at_its_site(client: httpx.AsyncClient) -> None:
    """Without a word of the browser: the choice is in the plan's own `site`."""
    await asked(client, SITES, {"text": SITE})
    await asked(client, "/api/plans", {"text": PLAN}, 201)
    assert (await asked(client, "/api/plans/kept/pair"))["checked"]["site"]["name"] == "quarry-lane"


async def test_who_only_looks_keeps_no_site(tmp_path: Path) -> None:
    """Whoever may not change a plan may not change what it is judged by."""
    entrance = Entrance()
    async with client_of(tmp_path, entrance=entrance) as client:
        _, token = await entrance.pairings.add("Ida", "look")
        client.cookies.set("festoon", token)
        assert await asked(client, SITES) == {"sites": []}
        await asked(client, SITES, {"text": SITE}, 403)


async def test_a_folder_that_cannot_be_used_is_told(client: httpx.AsyncClient, tmp_path: Path) -> None:
    """One sentence, and nothing is lost."""
    (tmp_path / "sites").write_text("in the way", encoding="utf-8")
    told = await asked(client, SITES, {"text": SITE}, 503)
    assert told["reason"].startswith("The folder of the sites cannot be used: ")
