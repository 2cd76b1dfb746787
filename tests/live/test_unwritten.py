"""A run whose log cannot be written: it goes on by what it sees, says so everywhere, and writes it down later."""

import asyncio

import orjson
import pytest

from server.live import LiveRun, Refused, Taken
from server.runlog import RunLogFault
from server.runlog.faults import NotTaken
from tests.live.fakes import ListDesk, Stage, tap
from tests.live.test_run import settle

FULL = RunLogFault("The disk that holds /log is full: free some space and send it again.")


async def tried(stage: Stage, run: LiveRun, *events: tuple[str, float, str]) -> list[Taken | Refused]:
    """Events that come one after another while the disk fails each."""
    answers = []
    for name, at_s, kind in events:
        answer = asyncio.ensure_future(run.take(tap(name, at_s, kind)))
        await settle()
        stage.log.fail(FULL)
        answers.append(await answer)
    return answers


def warnings_of(desk: ListDesk) -> list[list[str]]:
    return [message["warnings"] for message in desk.told()[1:] if "warnings" in message]


async def test_a_motor_that_stops_while_the_disk_is_full_is_told_as_lost() -> None:
    """By contacts alone, with nobody to tap: the wall shows the stop, its alarm, and that nothing is written down."""
    stage = Stage(at_s=100.0, at_once=False)
    with stage.live() as run:
        run.hub.attach(desk := ListDesk())
        await tried(stage, run, ("start", 50.0, "motor_start"), ("stop", 99.0, "motor_stop"))
        stage.clock.pass_s(2.0)
        run.wake()
        assert not run.view.stations[0].running
        assert "motor_lost" in {alarm.kind for alarm in run.view.alarms}
        assert any("motor_lost" in str(message) for message in desk.told()[1:])
        (said,) = warnings_of(desk)[-1]
        assert said.startswith("Nothing is written down since ")
        assert "is full: free some space" in said
        assert orjson.loads(run.snapshot())["warnings"] == [said]


async def test_an_event_that_a_log_does_not_take_holds_up_no_other() -> None:
    """It is refused for good, whether it came just now or was held; what came after it is written."""
    stage, never = Stage(at_s=100.0, at_once=False), NotTaken("The log cannot be used (its id is there already).")
    with stage.live() as run:
        answer = asyncio.ensure_future(run.take(tap("e1", 50.0, "motor_start")))
        await settle()
        stage.log.fail(never)
        assert await answer == Refused(str(never))
        assert run.warnings == {}
        await tried(stage, run, ("e2", 60.0, "lamp_lit"), ("e3", 70.0, "douser_open"))
        run.beat()
        stage.log.fail(never)
        await settle()
        stage.log.commit()
        await settle()
        assert [stored.event.id for stored in stage.log.stored] == ["e3"]
        assert run.warnings == {}


async def test_who_waits_is_answered_whatever_becomes_of_the_desks(monkeypatch: pytest.MonkeyPatch) -> None:
    """The event is on the disk: a fault in telling others of it is no reason to say nothing."""
    stage = Stage(at_s=100.0, at_once=False)
    with stage.live() as run:

        def broken(*_given: object) -> None:
            raise RuntimeError("no desk")

        monkeypatch.setattr(run.hub, "publish", broken)
        asyncio.get_running_loop().set_exception_handler(lambda *_told: None)
        answer = asyncio.ensure_future(run.take(tap("e1", 50.0, "motor_start")))
        await settle()
        stage.log.commit()
        assert isinstance(await answer, Taken)


async def test_no_desk_is_told_an_event_as_taken_before_it_is_on_disk() -> None:
    """What is only known is in no desk's list of events; once it is written it is, and the warning is gone."""
    stage = Stage(at_s=100.0, at_once=False)
    with stage.live() as run:
        run.hub.attach(desk := ListDesk())
        await tried(stage, run, ("start", 50.0, "motor_start"))
        assert not any(message.get("events") for message in desk.told()[1:])
        run.beat()
        stage.log.commit()
        await settle()
        assert [event["id"] for message in desk.told()[1:] for event in message.get("events", [])] == ["start"]
        assert warnings_of(desk)[-1] == []
        assert stage.log.stored[0].event.id == "start"


async def test_what_was_not_written_is_written_in_the_order_in_which_it_came() -> None:
    """Also what comes while the log is tried again; nothing is lost or there twice, and each has the time it came."""
    stage = Stage(at_s=100.0, at_once=False)
    with stage.live() as run:
        await tried(stage, run, ("e1", 50.0, "motor_start"))
        stage.clock.pass_s(1.0)
        assert isinstance(await run.take(tap("e2", 60.0, "lamp_lit")), Refused)
        run.beat()
        assert isinstance(await run.take(tap("e3", 70.0, "douser_open")), Refused)
        while stage.log.coming:
            assert len(stage.log.coming) == 1, "each is written before the next is tried"
            stage.log.commit()
            await settle()
        assert [stored.event.id for stored in stage.log.stored] == ["e1", "e2", "e3"]
        assert [event.id for event in run.events] == ["e1", "e2", "e3"]
        assert [stored.arrived.second for stored in stage.log.stored] == [40, 41, 41]
        assert run.warnings == {}
        rebuilt = stage.new_run()
        rebuilt.start()
        assert rebuilt.view.stations == run.view.stations
        rebuilt.stop()


async def test_a_log_that_fails_again_is_tried_again() -> None:
    """As long as it takes; each heartbeat tries once."""
    stage = Stage(at_s=100.0, at_once=False)
    with stage.live() as run:
        await tried(stage, run, ("e1", 50.0, "motor_start"))
        for _ in range(3):
            run.beat()
            run.beat()
            assert len(stage.log.coming) == 1
            stage.log.fail(FULL)
            await settle()
        run.beat()
        stage.log.commit()
        await settle()
        assert [stored.event.id for stored in stage.log.stored] == ["e1"]


async def test_what_is_only_known_can_be_taken_back() -> None:
    """A wrong tap that is not on disk yet is retracted as any other."""
    stage = Stage(at_s=100.0, at_once=False)
    with stage.live() as run:
        await tried(stage, run, ("e1", 50.0, "motor_start"))
        answer = await run.take(tap("e2", 60.0, "retract", retracts="e1"))
        assert isinstance(answer, Refused)
        assert answer.known
        assert not run.view.stations[0].running


async def test_another_event_under_the_id_of_one_that_is_only_known_is_refused() -> None:
    """The first that came stands, for good."""
    stage = Stage(at_s=100.0, at_once=False)
    with stage.live() as run:
        await tried(stage, run, ("e1", 50.0, "motor_start"))
        answer = await run.take(tap("e1", 51.0))
        assert isinstance(answer, Refused)
        assert (answer.again, answer.known) == (False, False)


async def test_a_stop_with_events_unwritten_says_how_many(caplog: pytest.LogCaptureFixture) -> None:
    """Whoever stops the server all the same reads what it costs."""
    stage = Stage(at_s=100.0, at_once=False)
    with stage.live() as run:
        await tried(stage, run, ("e1", 50.0, "motor_start"))
    assert "1 events were never written down" in caplog.text
