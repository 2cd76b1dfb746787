"""What is handed on of a run, and opened again elsewhere."""

import asyncio
import csv
import io
import os
import sys
import threading
import zipfile
from collections.abc import AsyncIterator
from datetime import timedelta
from pathlib import Path

import httpx
import pytest

from server.desk.debrief_messages import Comparison, LessonList
from server.printing import PrintingFault, pdf_from_html
from server.runlog import RunLog
from server.timeline.plan import parse_plan
from tests.desk.past import EVENTS_TEXT, PLAN_TEXT, RUN, client_of, fill, pair, recording
from tests.desk.test_debriefs import drop, got
from tests.repository.checkout import ROOT

HERE = f"/api/debriefs/{RUN}"
LATE = {"a-lamp": 75.0, "b-lamp": 3.0}


@pytest.fixture
async def log(tmp_path: Path) -> AsyncIterator[RunLog]:
    """A run with late events and a correction."""
    log = RunLog.open(tmp_path)
    await fill(log, late=LATE)
    async with client_of(log) as client:
        add = {"t": "2026-03-15T00:03:00Z", "kind": "douser_open", "station": "a", "sigma_s": 0.125}
        asked = {"id": "c", "by": "Ada", "add": add, "text": 'the board said "=open", twice'}
        assert (await client.post(f"{HERE}/corrections", json=asked)).status_code == 200
    yield log
    log.close()


@pytest.fixture
async def client(log: RunLog) -> AsyncIterator[httpx.AsyncClient]:
    async with client_of(log) as client:
        yield client


async def file(client: httpx.AsyncClient, path: str) -> httpx.Response:
    answer = await client.get(path)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-disposition"].startswith('attachment; filename="')
    return answer


@pytest.mark.parametrize("clock", ["now", "then"])
async def test_an_export_opened_elsewhere_gives_the_same_account(
    client: httpx.AsyncClient, tmp_path: Path, clock: str
) -> None:
    """Every figure of every table is the same in a server that has only the recording: arrivals and corrections too."""
    mine = (await got(client, f"{HERE}/tables?clock={clock}"))["tables"]
    exported = (await file(client, f"{HERE}/recording.events.jsonl")).text
    elsewhere = RunLog.open(tmp_path / "elsewhere")
    async with client_of(elsewhere) as other:
        dropped = (await drop(other, exported, plan=None)).json()
        assert dropped["rejected"] == []
        info = await got(other, f"/api/debriefs/{dropped['id']}")
        assert info["keeps_arrivals"] is True
        assert (await got(other, f"/api/debriefs/{dropped['id']}/tables?clock={clock}"))["tables"] == mine
        assert (await file(other, f"/api/debriefs/{dropped['id']}/recording.events.jsonl")).text == exported
        assert (await file(other, f"/api/debriefs/{dropped['id']}/plan.toml")).text == PLAN_TEXT
    elsewhere.close()


async def test_an_event_that_came_late_was_known_late_then(client: httpx.AsyncClient) -> None:
    """The clock `then` goes by the times of arrival that the log has kept."""
    lamps = [
        (await got(client, f"{HERE}/state?at_s={at_s}&clock=then"))["view"]["stations"][0]["lamp"]
        for at_s in (12.5 + LATE["a-lamp"] - 0.01, 12.5 + LATE["a-lamp"])
    ]
    assert lamps == ["out", "lit"]


async def test_tables_are_csv_with_the_figures_of_the_page(client: httpx.AsyncClient) -> None:
    """A spreadsheet gets the numbers as they are, and no text that it would take for a formula."""
    tables = (await got(client, f"{HERE}/tables"))["tables"]
    files = zipfile.ZipFile(io.BytesIO((await file(client, f"{HERE}/tables.zip")).content))
    assert files.namelist() == [f"{one['id']}.csv" for one in tables]
    for one in tables:
        text = files.read(f"{one['id']}.csv").decode()
        rows = list(csv.reader(io.StringIO(text, newline="")))
        assert rows[0] == [column["key"] for column in one["columns"]]
        assert rows[1:] == [["" if cell is None else str(cell) for cell in row] for row in one["rows"]]
        assert (await file(client, f"{HERE}/tables/{one['id']}.csv")).text == text
    links = list(csv.reader(io.StringIO(files.read("links.csv").decode(), newline="")))
    assert [row[0] for row in links] == ["link", "House 1 to 2"]
    assert "there are summary, starts" in (await got(client, f"{HERE}/tables/other.csv", 404))["reason"]


async def test_the_report_carries_all_it_needs(client: httpx.AsyncClient) -> None:
    """One page, without script, that asks for nothing and says what is in the tables, whatever is in the texts."""
    page = (await file(client, f"{HERE}/report.html")).text
    assert "<script" not in page
    assert "src=" not in page
    assert "href=" not in page
    assert page.count("<svg") == 2
    assert "the board said &quot;=open&quot;, twice" in page
    assert "Threaded, both loops checked." in page


@pytest.mark.slow
async def test_the_report_is_a_pdf(client: httpx.AsyncClient) -> None:
    """Where the extra is installed, the report comes as paper does."""
    assert (await file(client, f"{HERE}/report.pdf")).content.startswith(b"%PDF-")


async def test_without_the_extra_it_is_said(
    client: httpx.AsyncClient, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sentence says what to install, or what to do instead; here, and in the process that the server has print."""
    (tmp_path / "weasyprint.py").write_text('raise ImportError("not here")')
    monkeypatch.setenv("PYTHONPATH", f"{tmp_path}{os.pathsep}{ROOT}")
    assert "festoon[pdf]" in (await got(client, f"{HERE}/report.pdf", 501))["reason"]
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(PrintingFault, match=r"festoon\[pdf\]"):
        pdf_from_html("<p>x</p>")


async def test_one_pdf_is_made_at_a_time(client: httpx.AsyncClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever asks meanwhile is told to ask again, and is then given it."""
    begun, go_on = threading.Event(), threading.Event()

    def slowly(_html: str) -> bytes:
        begun.set()
        assert go_on.wait(10.0)
        return b"%PDF-"

    monkeypatch.setattr("server.desk.exports.pdf_made_elsewhere", slowly)
    first = asyncio.create_task(file(client, f"{HERE}/report.pdf"))
    assert await asyncio.to_thread(begun.wait, 10.0)
    told = await got(client, f"{HERE}/report.pdf", 503)
    assert told["reason"] == "A PDF is being made: ask again in a moment."
    go_on.set()
    assert (await first).content == (await file(client, f"{HERE}/report.pdf")).content == b"%PDF-"


async def test_lessons_come_as_figures_and_as_a_plan(client: httpx.AsyncClient, log: RunLog) -> None:
    """What runs teach is shown; the plan is made only for whoever asks for it, and is one."""
    await fill(log, "again")
    asked = f"run={RUN}&run=again"
    learned = LessonList.model_validate(await got(client, f"/api/lessons?{asked}"))
    assert (learned.runs, learned.plan_run) == ([RUN, "again"], "again")
    answer = await file(client, f"/api/lessons/plan?{asked}&name=../x y.toml")
    assert answer.headers["content-disposition"] == 'attachment; filename="..-x-y.toml"'
    assert parse_plan(answer.text, "next").links[0].path_m == pytest.approx(learned.paths[0].new * 0.3048, rel=1e-4)
    assert "min_length" not in (await got(client, "/api/lessons", 422))["reason"]


async def test_runs_are_compared_in_tables_and_series(client: httpx.AsyncClient) -> None:
    """The log's run and a dropped one stand side by side, a column for each."""
    dropped = (await drop(client, EVENTS_TEXT)).json()["id"]
    compared = Comparison.model_validate(await got(client, f"/api/comparison?run={RUN}&run={dropped}&points=5"))
    assert [run.id for run in compared.runs] == [RUN, dropped]
    assert [one.id for one in compared.tables] == ["runs", "stations", "links"]
    late = {row[0]: row[1:3] for row in compared.tables[1].rows}
    assert late["1"] == [0.031, 0.031]
    assert [row[0] for row in compared.tables[2].rows] == ["House 1 to 2"]
    assert [len(one.slack.t_s) for one in compared.series] == [5, 5]
    assert "at least 2" in (await got(client, f"/api/comparison?run={RUN}", 422))["reason"]


async def test_chains_that_share_nothing_are_not_compared(client: httpx.AsyncClient) -> None:
    """One sentence says so."""
    other = PLAN_TEXT.replace('id = "a"', 'id = "y"').replace('id = "b"', 'id = "z"')
    dropped = (await drop(client, '{"format": "festoon-events/1"}', other)).json()["id"]
    assert "no station in common" in (await got(client, f"/api/comparison?run={RUN}&run={dropped}", 422))["reason"]
    assert "one chain" in (await got(client, f"/api/lessons?run={RUN}&run={dropped}", 422))["reason"]


async def test_a_recording_with_bad_times_of_arrival_is_still_one(client: httpx.AsyncClient) -> None:
    """What is wrong with the header's arrivals is told, and each event counts as known from its own time."""
    header = '{"format": "festoon-events/1", "arrived": {"n1": "soon"}}\n'
    answer = (await drop(client, header + EVENTS_TEXT.split("\n", 1)[1])).json()
    assert "arrived: found 'soon'" in answer["rejected"][0]["text"]
    info = await got(client, f"/api/debriefs/{answer['id']}")
    assert (info["keeps_arrivals"], info["events"]) == (False, len(recording().events))


async def test_the_last_to_come_in_is_seen_at_the_end(client: httpx.AsyncClient) -> None:
    """What there is to look at reaches to when the last event of the show had arrived."""
    info = await got(client, HERE)
    last = max(one.t + timedelta(seconds=LATE.get(one.id, 0.02)) for one in recording().events)
    assert info["span"]["to_s"] == pytest.approx((last - pair().zero).total_seconds())
