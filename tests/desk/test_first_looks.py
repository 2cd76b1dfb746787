"""What a debrief is shown first: the run as it was told, and the story that the log keeps of it."""

from collections.abc import AsyncIterator
from pathlib import Path

import httpx
import pytest

from server.desk.debrief_messages import FirstLook, Story
from server.desk.records import Answered
from server.review.kept import kept_of
from server.review.walk import Walk
from server.runlog import RunLog, RunLogFault
from tests.desk.past import EVENTS_TEXT, PLAN_NAME, PLAN_TEXT, RUN, client_of, fill

FIRST = f"/api/library/{RUN}/first"
STORY = f"/api/library/{RUN}/story"


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


def refuse(*_given: object) -> None:
    raise AssertionError("the run was gone through")


async def test_a_run_is_shown_before_it_is_gone_through(
    client: httpx.AsyncClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was planned and told of it is there at once, and that no story is kept."""
    whole = (await client.get(f"/api/debriefs/{RUN}/series?points=2")).json()
    monkeypatch.setattr(Walk, "__init__", refuse)
    first = FirstLook.model_validate((await client.get(FIRST)).json())
    assert first.story is None
    assert (first.debrief.id, first.debrief.events, first.series.slack.links) == (RUN, whole["version"], [])
    seen = {(one.station, one.mark): one.observed_s for one in first.series.passes if one.believed}
    assert seen == {(one["station"], one["mark"]): one["observed_s"] for one in whole["passes"] if one["believed"]}
    assert (first.series.from_s, first.series.to_s) == (whole["from_s"], whole["to_s"])


async def test_a_story_is_made_once_and_kept(
    log: RunLog, client: httpx.AsyncClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever opens the run next has it at once, also from a server that was started since."""
    made = (await client.get(STORY)).json()
    assert Story.model_validate(made).sentences != []
    assert (await client.get(f"/api/debriefs/{RUN}/story")).json() == made
    monkeypatch.setattr(Walk, "__init__", refuse)
    async with client_of(log) as later:
        assert (await later.get(FIRST)).json()["story"] == made
        assert (await later.get(STORY)).json() == made


async def test_a_story_that_cannot_be_kept_is_told(
    log: RunLog, client: httpx.AsyncClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A full disk keeps nobody from reading."""

    def full(*_given: object) -> None:
        raise RunLogFault("There is no room.")

    monkeypatch.setattr(type(log.library), "keep_summary", full)
    assert (await client.get(STORY)).json()["sentences"] != []
    assert log.summaries() == {}


async def test_a_story_of_less_than_there_is_now_is_not_told(log: RunLog, client: httpx.AsyncClient) -> None:
    """One event more, and it is made anew."""
    await client.get(STORY)
    stored = log.events(RUN)[-1]
    note = stored.event.model_copy(update={"id": "new", "kind": "note", "text": "x", "station": None, "mark": None})
    await log.append(RUN, note, stored.arrived)
    assert (await client.get(FIRST)).json()["story"] is None
    assert (await client.get(STORY)).json()["version"] == stored.seq + 1


async def test_the_librarys_count_keeps_the_story_too(log: RunLog, client: httpx.AsyncClient) -> None:
    """A run that was listed is told at once when it is opened; a story alone leaves the alarms to be counted."""
    await client.get(STORY)
    assert kept_of(log.summary(RUN), log.extent(RUN).events).trouble is None
    assert (await client.get("/api/library")).json()["uncounted"] == 1
    (line,) = (await client.get("/api/library")).json()["runs"]
    assert (line["trouble"], line["state"], line["damaged"]) == ({"misfit": 1}, "over", False)
    assert (await client.get(FIRST)).json()["story"]["state"] == "over"


async def test_the_two_clocks_have_their_own_stories(client: httpx.AsyncClient) -> None:
    """As it was known then is asked of the debrief itself, and not kept."""
    then = (await client.get(f"/api/debriefs/{RUN}/story?clock=then")).json()
    assert then["clock"] == "then"
    assert (await client.get(FIRST)).json()["story"] is None


async def test_a_dropped_recording_has_a_first_look_and_a_story(client: httpx.AsyncClient, log: RunLog) -> None:
    """It is in no log, and nothing of it is kept there."""
    dropped = {
        "recording": {"name": "pair.events.jsonl", "text": EVENTS_TEXT},
        "plan": {"name": PLAN_NAME, "text": PLAN_TEXT},
    }
    id_ = (await client.post("/api/recordings", json=dropped)).json()["id"]
    assert (await client.get(f"/api/library/{id_}/first")).json()["debrief"]["source"] == "recording"
    assert (await client.get(f"/api/library/{id_}/story")).json()["sentences"] != []
    assert log.summaries() == {}


async def test_a_run_that_is_not_there_is_told(client: httpx.AsyncClient) -> None:
    """In the same sentence as everywhere."""
    for what in ("first", "story"):
        answer = await client.get(f"/api/library/nobody/{what}")
        assert (answer.status_code, answer.json()["reason"]) == (404, "There is no run of this name in the log.")


class Other:
    """Another process that keeps what it is asked, and has come to an end."""

    def __init__(self) -> None:
        self.asked: list[str] = []
        self.begun = 0

    def begin(self) -> None:
        self.begun += 1

    async def answer(self, path: str, query: bytes) -> Answered | None:
        del query
        self.asked.append(path)
        return None

    def counted(self, run_id: str) -> tuple[int, dict[str, int]]:
        raise AssertionError(run_id)


async def test_the_run_of_a_page_is_begun_while_the_page_is_made(log: RunLog) -> None:
    """Whoever asks for the debrief's page goes through the run next; a dropped recording is here already.

    Whoever asks for the library opens a run soon.
    """
    other = Other()
    async with client_of(log, apart=other) as client:
        for page in ("/library", "/debrief?run=recording-0123456789ab", f"/debrief?run={RUN}"):
            assert (await client.get(page)).status_code == 200
        answer = await client.get(STORY)
    assert (other.begun, other.asked) == (1, [f"/api/debriefs/{RUN}/story"] * 2)
    assert (answer.status_code, answer.json()["reason"]) == (
        503,
        "Going through runs came to an end, perhaps for lack of memory: ask again.",
    )
