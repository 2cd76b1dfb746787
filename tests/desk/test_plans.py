"""Plans over HTTP: checked, kept, compared; who may, and what a live run goes by."""

import json
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any, cast

import httpx
import pytest
from starlette.types import Scope

from server.access import Role
from server.desk.access import Hosts
from server.desk.app import create_app
from server.desk.contacts import RollCallOrder
from server.desk.debrief_messages import ArchiveRequest, Correction
from server.desk.pages import web_folder
from server.desk.plan_messages import NAME_LENGTH, CheckedPlan, OpenedPlan, PlanList, PlanUsual
from server.desk.plans import UNNAMED, PlanDesk
from server.desk.records import Past
from server.desk.visitors import is_this_computer
from server.live import LiveRun
from server.plans.site_store import SiteStore
from server.plans.store import PlanStore
from server.runlog import RunLog, RunLogFault
from server.timeline.plan import parse_plan
from server.timeline.schedule import schedule_from_plan
from tests.access.fakes import Entrance
from tests.desk.past import AT, PLAN_NAME, PLAN_TEXT, TOMORROW, fill
from tests.desk.service import LAN

EXAMPLE = (Path(__file__).parents[2] / "fixtures/plans/larkspur.plan.toml").read_text(encoding="utf-8")
ASKING = Path(__file__).parents[2] / "web/js/elements/sure-question.js"
Json = dict[str, Any]


def elsewhere(_scope: Scope) -> bool:
    return False


@asynccontextmanager
async def client_of(
    folder: Path, live: Mapping[str, LiveRun] | None = None, entrance: Entrance | None = None
) -> AsyncIterator[httpx.AsyncClient]:
    """A client of a server whose log has one run of the plan of two houses, live where `live` names it."""
    log = RunLog.open(folder)
    await fill(log, "pair")
    past = Past(log, lambda: TOMORROW, (RunLogFault,))
    desk = PlanDesk(PlanStore(folder / "plans"), EXAMPLE, SiteStore(folder / "sites"))
    app = create_app(
        live or {},
        Hosts("127.0.0.1"),
        web_folder(),
        (entrance or Entrance()).doorkeeper,
        lambda: LAN,
        past=past,
        plans=desk,
        is_here=is_this_computer if entrance is None else elsewhere,
    )
    async with httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url=AT) as client:
        yield client
    log.close()


@pytest.fixture
async def client(tmp_path: Path) -> AsyncIterator[httpx.AsyncClient]:
    async with client_of(tmp_path) as client:
        yield client


async def asked(client: httpx.AsyncClient, path: str, body: Json | None = None, status: int = 200) -> Json:
    answer = await (client.get(path) if body is None else client.post(path, json=body))
    assert answer.status_code == status, answer.text
    found: Json = answer.json()
    return found


async def test_a_text_is_checked_with_its_schedule(client: httpx.AsyncClient) -> None:
    """The answer is what the plan's own schedule says, with nothing rounded, and keeps the promise of its model."""
    told = await asked(client, "/api/plans/check", {"text": PLAN_TEXT})
    found = CheckedPlan.model_validate(told)
    schedule = json.loads(json.dumps(schedule_from_plan(parse_plan(PLAN_TEXT, "x")).as_json()))
    assert told["schedule"] == schedule
    assert (found.text, found.faults, found.refused, found.values["title"]) == (PLAN_TEXT, [], "", "Pair")  # type: ignore[index]


async def test_edits_are_made_before_it_is_checked(client: httpx.AsyncClient) -> None:
    """Text, values and schedule are those of the changed plan; a fault is told at its key."""
    edits = [
        {"do": "set", "path": "stations[1].path_m", "value": 30},
        {"do": "add", "list": "stations", "at": 2, "values": {"id": "x", "house": "7", "inputs": {"motor": "tap"}}},
    ]
    told = await asked(client, "/api/plans/check", {"text": PLAN_TEXT, "edits": edits})
    assert [station["house"] for station in told["schedule"]["stations"]] == ["1", "2", "7"]
    assert told["values"]["stations[1].path_m"] == 30
    wrong = [{"do": "set", "path": "stations[1].rollers", "value": "many"}]
    told = await asked(client, "/api/plans/check", {"text": told["text"], "edits": wrong})
    assert [(fault["path"], fault["about"]) for fault in told["faults"]] == [
        ("stations[1].rollers", "House 2: rollers")
    ]
    assert (told["schedule"], told["info"], told["lacing"], told["findings"]) == (None, None, None, [])


async def test_an_edit_that_cannot_be_made_is_told_and_changes_nothing(client: httpx.AsyncClient) -> None:
    """Neither of an entry that is not there nor of a text that is none."""
    edit = {"do": "remove", "list": "stations", "at": 9}
    told = await asked(client, "/api/plans/check", {"text": PLAN_TEXT, "edits": [edit]})
    assert (told["text"], told["refused"]) == (PLAN_TEXT, "This plan has no stations[9]: look at its text.")
    told = await asked(client, "/api/plans/check", {"text": "[", "edits": [edit]})
    assert (told["text"], told["refused"], told["values"]) == ("[", "The text cannot be read: mend it first.", None)


@pytest.mark.parametrize(
    "body",
    [
        {"text": "x" * 200_001},
        {"text": "\ud800"},
        {"text": "", "edits": [{"do": "set", "path": "a b", "value": 1}]},
        {"text": "", "edits": [{"do": "set", "path": "title", "value": "\ud800"}]},
        {"text": "", "edits": [{"do": "eat"}]},
        {"text": "", "edits": [{"do": "add", "list": "lamp", "at": 0, "values": {}}]},
        {"text": "", "edits": [{"do": "move", "list": "print", "at": -1, "to": 0}]},
    ],
)
async def test_what_is_no_question_is_refused(client: httpx.AsyncClient, body: Json) -> None:
    """In a sentence, and by its model alone."""
    answer = await client.post(
        "/api/plans/check", content=json.dumps(body), headers={"content-type": "application/json"}
    )
    assert answer.status_code == 422
    assert answer.json()["reason"]


async def test_a_plan_is_kept_opened_changed_and_compared(client: httpx.AsyncClient) -> None:
    """From new to its versions, each with who saved it and what became another."""
    saved = await asked(client, "/api/plans", {"text": PLAN_TEXT, "by": "Ada"}, 201)
    assert (saved["name"], saved["saved_by"], saved["copied"]) == ("pair", "Ada", False)
    opened = OpenedPlan.model_validate(await asked(client, "/api/plans/kept/pair"))
    assert (opened.checked.text, opened.base, opened.in_use) == (PLAN_TEXT, saved["base"], False)
    text = PLAN_TEXT.replace('title = "Pair"', 'title = "Two"')
    again = await asked(client, "/api/plans/kept/pair", {"text": text, "base": saved["base"]})
    assert (again["name"], again["saved_by"]) == ("pair", UNNAMED)
    versions = (await asked(client, "/api/plans/kept/pair/versions"))["versions"]
    assert [(one["number"], one["saved_by"], one["changes"]) for one in versions] == [
        (2, UNNAMED, ["Title Two, was Pair."]),
        (1, "Ada", []),
    ]
    two = await asked(client, "/api/plans/compare", {"old": text, "new": PLAN_TEXT})
    assert two == {"changes": ["Title Pair, was Two."]}
    [line] = PlanList.model_validate(await asked(client, "/api/plans")).plans
    assert (line.name, line.title, line.houses, line.faults, line.in_use) == ("pair", "Two", ["1", "2"], 0, False)


async def test_a_second_save_from_the_same_text_is_told(client: httpx.AsyncClient) -> None:
    """409 with what is there now, and nothing of either is lost."""
    saved = await asked(client, "/api/plans", {"text": PLAN_TEXT, "by": "Ada"}, 201)
    mine, theirs = (PLAN_TEXT + f"# {who}\n" for who in ("mine", "theirs"))
    await asked(client, "/api/plans/kept/pair", {"text": theirs, "base": saved["base"], "by": "Bo"})
    told = await asked(client, "/api/plans/kept/pair", {"text": mine, "base": saved["base"]}, 409)
    assert (told["reason"], told["text"], told["saved_by"]) == ("This plan was saved meanwhile by Bo.", theirs, "Bo")
    await asked(client, "/api/plans/kept/pair", {"text": mine, "base": told["base"]})


@pytest.mark.parametrize(
    ("by", "reason"),
    [
        ("x" * 201, "The name of who saves has 201 characters: it may have at most 200."),
        ("A\tda", "The name of who saves has a character that cannot be seen, such as a tab: write it anew."),
        ("\ud800", "The name of who saves has a character that cannot be seen, such as a tab: write it anew."),
    ],
)
async def test_a_name_that_cannot_be_kept_is_refused_in_a_sentence(
    client: httpx.AsyncClient, by: str, reason: str
) -> None:
    """No key, no rule for machines: a person reads it, for a new plan and for a changed one."""
    saved = await asked(client, "/api/plans", {"text": PLAN_TEXT, "by": "x" * 200}, 201)
    for path, more in (("/api/plans", {}), ("/api/plans/kept/pair", {"base": saved["base"]})):
        body = json.dumps({"text": PLAN_TEXT, "by": by} | more)
        answer = await client.post(path, content=body, headers={"content-type": "application/json"})
        assert (answer.status_code, answer.json()) == (422, {"reason": reason})


def test_a_name_may_be_as_long_as_the_others_have_it() -> None:
    """A browser keeps one name for plans, corrections and the library: whatever one takes the other takes too."""
    schemas = [Correction.model_json_schema(), ArchiveRequest.model_json_schema(), RollCallOrder.model_json_schema()]
    taken = [schema["properties"]["by"] for schema in schemas]
    longest = {one.get("maxLength") or one["anyOf"][0]["maxLength"] for one in taken}
    assert longest == {NAME_LENGTH}
    assert f"const LONGEST_NAME = {NAME_LENGTH};" in ASKING.read_text(encoding="utf-8")


async def test_a_plan_that_a_live_run_goes_by_is_copied(tmp_path: Path) -> None:
    """By its text, and by an earlier version of the same file: what is saved is another plan."""
    live = cast(Mapping[str, LiveRun], {"pair": None})
    async with client_of(tmp_path, live) as client:
        saved = await asked(client, "/api/plans", {"text": PLAN_TEXT}, 201)
        assert saved["name"] == PLAN_NAME.removesuffix(".plan.toml")
        assert (await asked(client, "/api/plans/kept/pair"))["in_use"]
        text = PLAN_TEXT + "# changed\n"
        copy = await asked(client, "/api/plans/kept/pair", {"text": text, "base": saved["base"]})
        assert (copy["name"], copy["copied"]) == ("pair-2", True)
        assert (await asked(client, "/api/plans/kept/pair"))["checked"]["text"] == PLAN_TEXT
        again = await asked(client, "/api/plans/kept/pair-2", {"text": text + "#\n", "base": copy["base"]})
        assert (again["name"], again["copied"]) == ("pair-2", False)
        (tmp_path / "plans/pair.plan.toml").write_text(text, encoding="utf-8")
        assert (await asked(client, "/api/plans/kept/pair"))["in_use"]
        assert [line["in_use"] for line in (await asked(client, "/api/plans"))["plans"]] == [True, False]


async def test_a_new_plan_has_something_to_begin_with(client: httpx.AsyncClient) -> None:
    """The example is whole and still to come; the empty one asks for what is missing."""
    example = CheckedPlan.model_validate(await asked(client, "/api/plans/beginnings/example"))
    assert (example.faults, example.day, example.time) == ([], "2026-03-15", "18:52:30")
    empty = CheckedPlan.model_validate(await asked(client, "/api/plans/beginnings/empty?zone=America/Chicago"))
    assert [fault.path for fault in empty.faults] == ["stations", "print[1]"]
    assert empty.values is not None
    assert (empty.values["timezone"], empty.time) == ("America/Chicago", "19:00")
    nowhere = CheckedPlan.model_validate(await asked(client, "/api/plans/beginnings/empty?zone=Nowhere"))
    assert nowhere.values is not None
    assert nowhere.values["timezone"] == "UTC"


async def test_what_is_usual_is_what_the_plan_reader_takes(client: httpx.AsyncClient) -> None:
    """Beside each field stands the very default of the format."""
    usual = PlanUsual.model_validate(await asked(client, "/api/plans/usual"))
    plan = parse_plan(PLAN_TEXT, "x")
    assert usual.values["timing.reserve_s"] == plan.timing.reserve_s
    assert usual.values["lamp.earliest_s"] == plan.lamp.earliest_s
    assert usual.values["threading.stretch_rollers"] == plan.threading.stretch_rollers
    assert usual.values["film.gauge"] == plan.film.gauge
    assert usual.tolerances_ppm["synchronous"] == plan.timing.rate_tolerance_ppm


@pytest.mark.parametrize("name", ["nothing", "..%2fsecret", "%2e%2e", "a%00b"])
async def test_a_plan_that_is_not_here_is_said_in_a_sentence(client: httpx.AsyncClient, name: str) -> None:
    """404, whatever the name tries."""
    assert (await client.get(f"/api/plans/kept/{name}")).status_code == 404
    answer = await client.post(f"/api/plans/kept/{name}", json={"text": "", "base": ""})
    assert answer.status_code == 404


async def test_a_folder_that_cannot_be_used_is_said_in_a_sentence(tmp_path: Path) -> None:
    """503: nothing is lost, and the same may be asked again."""
    async with client_of(tmp_path) as client:
        (tmp_path / "plans").write_text("a file in the way", encoding="utf-8")
        told = await asked(client, "/api/plans", {"text": PLAN_TEXT}, 503)
        assert told["reason"].startswith("The folder of the plans cannot be used: ")


@pytest.mark.parametrize(("role", "statuses"), [("booth", (200, 201)), ("look", (200, 403)), ("report", (403, 403))])
async def test_only_who_runs_the_show_changes_plans(tmp_path: Path, role: Role, statuses: tuple[int, int]) -> None:
    """Who looks may read; who saves is the device's person, whatever it says."""
    entrance = Entrance()
    async with client_of(tmp_path, entrance=entrance) as client:
        _, token = await entrance.pairings.add("Ida", role)
        client.cookies.set("festoon", token)
        assert (await client.get("/api/plans")).status_code == statuses[0]
        answer = await client.post("/api/plans", json={"text": PLAN_TEXT, "by": "somebody else"})
        assert answer.status_code == statuses[1]
        if answer.is_success:
            assert answer.json()["saved_by"] == "Ida"


async def test_a_plan_of_many_houses_may_be_sent(client: httpx.AsyncClient) -> None:
    """A hundred houses with their comments are more than what else may be said at once."""
    many = "".join(f'[[stations]]\nid = "s{n}"\nhouse = "{n}"\n# {"x" * 200}\n' for n in range(3, 103))
    assert len(PLAN_TEXT + many) > 16_384
    told = await asked(client, "/api/plans/check", {"text": PLAN_TEXT + many})
    assert told["counts"]["stations"] == 102
