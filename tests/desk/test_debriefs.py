"""Going through a finished run over HTTP."""

import json
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from sqlalchemy import text

from server.desk.access import FILE_BYTES
from server.desk.debrief_messages import DebriefInfo, EventList, Series, StateAt, TableList
from server.desk.records import DROPPED_KEPT, MOST_EVENTS, PLAN_LENGTH
from server.live import Picture
from server.runlog import RunLog, RunLogFault
from server.timeline.engine import replay
from server.timeline.viewing import view_of
from tests.desk.past import EVENTS_TEXT, PLAN_NAME, PLAN_TEXT, RUN, client_of, fill, pair, recording

HERE = f"/api/debriefs/{RUN}"
SEEN = {"starts", "houses", "strikes", "passes", "notes"}
"""The tables that do not depend on when events arrived."""


@pytest.fixture
async def log(tmp_path: Path) -> AsyncIterator[RunLog]:
    log = RunLog.open(tmp_path)
    await fill(log)
    yield log
    log.close()


@pytest.fixture
async def client(log: RunLog) -> AsyncIterator[httpx.AsyncClient]:
    async with client_of(log) as client:
        yield client


async def got(client: httpx.AsyncClient, path: str, status: int = 200) -> Any:
    answer = await client.get(path)
    assert answer.status_code == status, answer.text
    return answer.json()


async def test_every_answer_is_what_its_model_says(client: httpx.AsyncClient) -> None:
    """A page can be written against the models: nothing is missing in an answer, and nothing else is in it."""
    DebriefInfo.model_validate(await got(client, HERE))
    StateAt.model_validate(await got(client, f"{HERE}/state?at_s=100&clock=then"))
    Series.model_validate(await got(client, f"{HERE}/series?points=10"))
    EventList.model_validate(await got(client, f"{HERE}/events"))
    TableList.model_validate(await got(client, f"{HERE}/tables?clock=then"))


async def test_a_state_is_the_picture_that_a_desk_was_sent(client: httpx.AsyncClient) -> None:
    """The wall's picture works on a past instant as it does on a live one."""
    _, fold = replay(
        pair(), [one for one in recording().events if one.kind != "retract" and one.id != "m-wrong"], 10**8
    )
    state = await got(client, f"{HERE}/state?at_s=100")
    assert state["view"]["stations"] == Picture(view_of(fold)).as_json()["stations"]


async def test_a_link_whose_film_has_run_out_has_no_slack(client: httpx.AsyncClient) -> None:
    """State, series and tables have nothing where the film's end has left the gate above, and figures before that."""
    out_s = 740.0  # 40 s of leader, ten minutes and 100 s of tail: House 1 is clear
    for at_s, free in ((out_s - 5.0, False), (out_s + 5.0, True)):
        (link,) = (await got(client, f"{HERE}/state?at_s={at_s}"))["view"]["links"]
        assert [link[key] is None for key in ("slack_s", "drift", "slack_var")] == [free] * 3
    slack = (await got(client, f"{HERE}/series?points=200"))["slack"]
    (link,) = slack["links"]
    assert link["id"] == "a>b"
    assert [value is None for value in link["slack_s"]] == [at_s > out_s + 1.0 for at_s in slack["t_s"]]
    tables = {one["id"]: one["rows"] for one in (await got(client, f"{HERE}/tables"))["tables"]}
    assert [row[1] for row in tables["slack"]] == ["House 1 to 2"] * len(tables["slack"])
    assert [row[2] is None for row in tables["slack"]] == [row[0] > out_s + 1.0 for row in tables["slack"]]
    assert tables["slack"][-1][2] is None


async def test_the_two_clocks_are_told_apart(client: httpx.AsyncClient) -> None:
    """Then there was a misfit, told by a wrong tap that is known now to be one."""
    alarms = {
        clock: [one["kind"] for one in (await got(client, f"{HERE}/series?clock={clock}"))["alarms"]]
        for clock in ("now", "then")
    }
    assert ("misfit" in alarms["then"], "misfit" in alarms["now"]) == (True, False)


async def test_events_say_when_they_arrived(client: httpx.AsyncClient) -> None:
    """The list is in the order of the log, with what was taken back marked so."""
    events = (await got(client, f"{HERE}/events"))["events"]
    assert [one["seq"] for one in events] == list(range(1, len(events) + 1))
    taken_back = {one["event"]["id"]: one["retracted_by"] for one in events if one["retracted_by"]}
    retraction = next(one["event"] for one in events if one["event"]["kind"] == "retract")
    assert taken_back == {retraction["retracts"]: retraction["id"]}
    contact = next(one for one in events if one["event"]["source"].startswith("contact"))
    assert contact["late_s"] == pytest.approx(0.02)


@pytest.mark.parametrize(
    ("path", "status", "says"),
    [
        ("/api/debriefs/other", 404, "no run of this name"),
        ("/api/debriefs/recording-0123456789ab/tables", 404, "drop it again"),
        (f"{HERE}/state", 422, "at_s"),
        (f"{HERE}/state?at_s=nan", 422, "at_s"),
        (f"{HERE}/state?at_s=1&clock=later", 422, "clock"),
        (f"{HERE}/series?points=1", 422, "points"),
    ],
)
async def test_a_question_that_cannot_be_answered_is_told_why(
    client: httpx.AsyncClient, path: str, status: int, says: str
) -> None:
    """One sentence says what is wrong with what was asked."""
    assert says in (await got(client, path, status))["reason"]


async def drop(client: httpx.AsyncClient, text: str, plan: str | None = PLAN_TEXT) -> httpx.Response:
    body: dict[str, Any] = {"recording": {"name": "x.events.jsonl", "text": text}}
    if plan is not None:
        body["plan"] = {"name": PLAN_NAME, "text": plan}
    # Escaped, as a browser may: half a character can come that way.
    headers = {"content-type": "application/json"}
    return await client.post("/api/recordings", content=json.dumps(body), headers=headers)


async def test_a_dropped_recording_is_gone_through_like_a_run(client: httpx.AsyncClient) -> None:
    """What a recording says is the same in the log and in a file; its lines that are not taken are told."""
    answer = await drop(client, EVENTS_TEXT + '{"id": "x"}\n')
    assert answer.status_code == 201
    (line,) = answer.json()["rejected"]
    assert (line["line"], "kind: found nothing" in line["text"]) == (EVENTS_TEXT.count("\n") + 1, True)
    info = await got(client, f"/api/debriefs/{answer.json()['id']}")
    assert (info["source"], info["keeps_arrivals"], info["rejected"]) == ("recording", False, [line])
    mine, theirs = [
        [one for one in (await got(client, f"/api/debriefs/{id_}/tables"))["tables"] if one["id"] in SEEN]
        for id_ in (answer.json()["id"], RUN)
    ]
    assert mine == theirs


def note_lines(count: int) -> str:
    """That many events of a recording."""
    told = '"t": "2026-03-14T23:50:00Z", "kind": "note", "source": "tap:pad", "text": "x"'
    return "".join(f'{{"id": "n{n}", {told}}}\n' for n in range(count))


@pytest.mark.parametrize(
    ("text", "plan", "says"),
    [
        (EVENTS_TEXT, None, "does not carry its plan"),
        (EVENTS_TEXT, "title = 1", "This plan cannot be used"),
        (EVENTS_TEXT, f"# \ud800\n{PLAN_TEXT}", "halves of characters"),
        (EVENTS_TEXT, "#" * (PLAN_LENGTH + 1), "1000001 characters"),
        (note_lines(MOST_EVENTS + 1), PLAN_TEXT, "5001 events"),
        ('{"format": "festoon-events/9"}', PLAN_TEXT, "festoon-events/9"),
        ('{"format": "festoon-events/1", "plan_text": "x"}', None, "plan that this recording carries"),
    ],
)
async def test_a_recording_that_cannot_be_used_is_told_why(
    client: httpx.AsyncClient, text: str, plan: str | None, says: str
) -> None:
    """One sentence, and every fault of a plan with its line."""
    answer = await drop(client, text, plan)
    assert (answer.status_code, says in answer.json()["reason"]) == (422, True)


async def test_a_recording_too_large_is_refused_before_it_is_read(client: httpx.AsyncClient) -> None:
    """A file has a limit of its own, and what is over it is told its size."""
    headers = {"content-length": str(FILE_BYTES + 1), "content-type": "application/json"}
    answer = await client.post("/api/recordings", content=b"{}", headers=headers)
    assert (answer.status_code, str(FILE_BYTES) in answer.json()["reason"]) == (413, True)


async def test_a_recording_pushed_out_by_others_is_told(client: httpx.AsyncClient) -> None:
    """Memory is bounded: the oldest is forgotten, in a sentence that says what to do."""
    first = (await drop(client, EVENTS_TEXT)).json()["id"]
    for n in range(DROPPED_KEPT):
        await drop(client, EVENTS_TEXT.replace("both loops", f"both loops {n}"))
    assert "drop it again" in (await got(client, f"/api/debriefs/{first}", 404))["reason"]


async def test_what_a_damaged_log_lost_of_a_run_is_told(client: httpx.AsyncClient, log: RunLog) -> None:
    """An event that is not as it was written is left out, the run says so, and others are left alone."""
    await fill(log, "other")
    with log._engine.begin() as connection:
        connection.execute(text("UPDATE events SET body = '{}' WHERE run = 'other' AND seq = 2"))
    told = await got(client, "/api/debriefs/other")
    assert told["lacking"] == ["The log was damaged: event 2 is lost."]
    assert 2 not in [one["seq"] for one in (await got(client, "/api/debriefs/other/events"))["events"]]
    assert (await got(client, HERE))["lacking"] == []


async def test_a_log_that_fails_is_told_in_its_own_words(
    client: httpx.AsyncClient, log: RunLog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A database that cannot be read is one sentence, and may be asked again."""

    def fails(_run_id: str) -> None:
        raise RunLogFault("The disk is gone.")

    monkeypatch.setattr(log, "extent", fails)
    assert (await got(client, f"{HERE}/tables", 503))["reason"] == "The disk is gone."
