"""Health and figures: who may ask, and what is told."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from pathlib import Path

import httpx
import pytest
from prometheus_client.parser import text_string_to_metric_families
from sqlalchemy.exc import ResourceClosedError

from server.access import Role
from server.desk.access import Hosts
from server.desk.app import create_app
from server.desk.health import Health
from server.desk.pages import web_folder
from server.live import Hub
from server.runlog import RunLog, RunLogFault
from server.upkeep import readiness
from server.upkeep.counting import CountedRun, Counters
from server.upkeep.lookout import AlarmLines
from server.upkeep.metrics import MEDIA_TYPE, Measured, Metrics
from server.upkeep.readiness import Readiness
from tests.access.fakes import Entrance
from tests.desk.service import LAN
from tests.live.fakes import PLAN, ZERO, ListDesk, ManualClock, tap

TABLET, HERE = ("192.0.2.20", LAN), ("127.0.0.1", "http://127.0.0.1:8440")
Figures = dict[tuple[str, ...], float]


class Served:
    """An application with one counted run, and what it stands on."""

    def __init__(self, log: RunLog, folder: Path, clock: ManualClock) -> None:
        self.counters = Counters()
        self.log = log
        self.entrance = Entrance()
        self.clock = clock
        self.run = CountedRun("one", PLAN, clock, log, Hub(), self.counters)
        doorkeeper = self.entrance.doorkeeper
        metrics = Metrics(Measured({"one": self.run}, doorkeeper, folder, ZERO), self.counters)
        health = Health(Readiness(log.tried, (RunLogFault,), folder, self.counters), metrics.text, MEDIA_TYPE)
        hosts = Hosts("0.0.0.0")
        self.app = create_app({"one": self.run}, hosts, web_folder(), doorkeeper, lambda: LAN, health=health)

    def device(self, peer: str, at: str) -> httpx.AsyncClient:
        transport = httpx.ASGITransport(self.app, client=(peer, 50_000))
        return httpx.AsyncClient(transport=transport, base_url=at)

    async def figures(self) -> Figures:
        """Every sample, by its name and the values of its labels in their order."""
        answer = await self.device(*HERE).get("/metrics")
        assert answer.status_code == 200
        families = list(text_string_to_metric_families(answer.text))
        return {(one.name, *sorted(one.labels.values())): one.value for family in families for one in family.samples}


@pytest.fixture
async def served(tmp_path: Path) -> AsyncIterator[Served]:
    async with opened(tmp_path) as served:
        yield served


@asynccontextmanager
async def opened(folder: Path) -> AsyncIterator[Served]:
    log = RunLog.open(folder)
    log.create_run("one", "the text of the plan", "two.plan.toml", ZERO)
    served = Served(log, folder, ManualClock(100.0))
    served.run.start()
    try:
        yield served
    finally:
        served.run.stop()
        log.close()


@pytest.mark.parametrize("who", [TABLET, HERE])
@pytest.mark.parametrize("path", ["/healthz", "/readyz"])
async def test_health_answers_everybody_with_nothing_but_up(served: Served, who: tuple[str, str], path: str) -> None:
    """Unpaired too: one word, kept by nobody."""
    answer = await served.device(*who).get(path)
    assert (answer.status_code, answer.json()) == (200, {"up": True})
    assert answer.headers["cache-control"] == "no-store"


def closed_to_writing(log: RunLog) -> None:
    """Have the database refuse what is written into it next, as one on a full disk does."""
    with log._writer._connection.begin():
        log._writer._connection.exec_driver_sql("PRAGMA query_only = ON")


async def test_a_log_that_cannot_be_written_is_not_ready(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ready no more, up still; and ready again once it can be written, though nothing was reported meanwhile."""
    monkeypatch.setattr(readiness, "FRESH_S", -1.0)
    device = served.device(*TABLET)
    closed_to_writing(served.log)
    answer = await device.get("/readyz")
    assert (answer.status_code, answer.json()) == (503, {"up": False})
    assert (await device.get("/healthz")).json() == {"up": True}
    # The log may have let go of a connection that failed.
    with suppress(ResourceClosedError), served.log._writer._connection.begin():
        served.log._writer._connection.exec_driver_sql("PRAGMA query_only = OFF")
    assert (await device.get("/readyz")).status_code == 200


async def test_a_disk_that_does_not_answer_is_not_ready(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is tried once, however many ask, and they do not wait for it for long."""
    monkeypatch.setattr(readiness, "PATIENCE_S", 0.05)
    tries: list[asyncio.Future[int]] = []

    def try_log() -> asyncio.Future[int]:
        tries.append(asyncio.get_running_loop().create_future())
        return tries[-1]

    ready = Readiness(try_log, (RunLogFault,), tmp_path, Counters())
    assert await asyncio.gather(*(ready() for _ in range(20))) == [False] * 20
    assert len(tries) == 1
    tries[0].set_result(1)
    assert await ready()
    assert len(tries) == 1


async def test_a_full_disk_is_not_ready(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    """Though what is tried may find room yet: an event is longer."""
    monkeypatch.setattr(readiness, "LEAST_BYTES", 1 << 60)
    assert (await served.device(*TABLET).get("/readyz")).status_code == 503


async def test_events_that_fail_are_not_ready(served: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    """Though what is tried did not: until one is written again."""
    device = served.device(*TABLET)
    served.counters.is_failing = True
    assert (await device.get("/readyz")).status_code == 503
    await served.run.take(tap("e1", 90.0))
    assert (await device.get("/readyz")).status_code == 200


@pytest.mark.parametrize(("role", "status"), [("booth", 200), ("look", 403), ("report", 303), (None, 401)])
async def test_figures_are_for_those_who_run_the_show(served: Served, role: Role | None, status: int) -> None:
    """And for this computer; whoever only looks, reports, or is not paired gets none."""
    device = served.device(*TABLET)
    if role is not None:
        code = served.entrance.doorkeeper.codes.make("Ida", role)[0]
        await device.post("/api/pairing", json={"code": code}, headers={"origin": LAN})
    answer = await device.get("/metrics")
    assert answer.status_code == status
    assert ("festoon_desks" in answer.text) == (status == 200)


async def test_figures_say_how_a_run_fares(served: Served) -> None:
    """Events by kind, refusals, desks and those behind, the log's time, alarms by level, feeds, and the computer's."""
    desk, slow = ListDesk(), ListDesk()
    served.run.hub.attach(desk)
    served.run.hub.attach(slow)
    slow.buffered_bytes = 1 << 20
    down = tap("e1", 90.0, "feed_down", station=None, text="gone").model_copy(update={"source": "contact:north"})
    for event in (down, tap("e2", 91.0, "film_trip"), tap("e3", 92.0, station="nowhere")):
        await served.run.take(event)
    served.run.wake()
    served.run.beat()
    figures = await served.figures()
    expected = {
        ("festoon_events_taken_total", "feed_down", "one"): 1,
        ("festoon_events_taken_total", "film_trip", "one"): 1,
        ("festoon_events_refused_total", "false", "one"): 1,
        ("festoon_events_waiting", "one"): 0,
        ("festoon_run_failed", "one"): 0,
        ("festoon_desks", "one"): 2,
        ("festoon_desks_behind", "one"): 1,
        ("festoon_desk_waiting_bytes", "one"): 1 << 20,
        ("festoon_log_write_seconds_count",): 2,
        ("festoon_log_write_failures_total",): 0,
        ("festoon_feed_up", "contact:north", "one"): 0,
        ("festoon_certificate_end_seconds",): ZERO.timestamp(),
    }
    assert {key: figures.get(key) for key in expected} == expected
    on = [alarm.level for alarm in served.run.view.alarms if alarm.state != "returned"]
    assert figures["festoon_alarms_on", "act", "one"] == on.count("act") > 0
    assert 0 < figures[("festoon_log_write_seconds_sum",)] < 10
    assert figures[("festoon_disk_free_bytes",)] > 0
    assert figures[("process_open_fds",)] > 0


async def test_events_that_cannot_be_written_are_counted(served: Served) -> None:
    """A failing disk shows, as a failure of the log and a refusal that may come again."""
    closed_to_writing(served.log)
    await served.run.take(tap("e1", 90.0))
    figures = await served.figures()
    assert figures[("festoon_log_write_failures_total",)] == 1
    assert figures["festoon_events_refused_total", "one", "true"] == 1


async def test_alarms_are_counted_as_they_come_on(served: Served, caplog: pytest.LogCaptureFixture) -> None:
    """Once each, and their coming and going is a line each."""
    alarms = AlarmLines([served.run], served.counters)
    await served.run.take(tap("e1", 90.0, "film_trip"))
    with caplog.at_level("INFO", "server.upkeep"):
        for _ in range(3):
            alarms.look()
        await served.run.take(tap("x1", 91.0, "retract", retracts="e1"))
        alarms.look()
    said = [(record.message, vars(record).get("alarm")) for record in caplog.records if "alarm" in record.message]
    assert said == [("alarm on", "film_trip:a"), ("alarm off", "film_trip:a")]
    assert (await served.figures())["festoon_alarms_total", "act", "one"] == 1
