"""A live run among fakes: nothing sleeps, and time is what the test says."""

import asyncio
from collections.abc import Sequence
from datetime import timedelta

import orjson
import pytest

from server.live import LiveRun, Refused, Taken
from server.live.follower import TURN_S
from server.runlog import RunLogFault
from server.timeline.events import Event
from server.timeline.view import RunView
from tests.live.fakes import ZERO, ListDesk, ManualClock, Stage, ToldEngine, tap


def take_both(run: LiveRun, one: Event, other: Event) -> asyncio.Future[tuple[Taken | Refused, ...]]:
    """Two sources at one time; the answers in that order."""

    async def both() -> tuple[Taken | Refused, ...]:
        return tuple(await asyncio.gather(run.take(one), run.take(other)))

    return asyncio.ensure_future(both())


async def settle() -> None:
    """Let everything run that can."""
    for _ in range(5):
        await asyncio.sleep(0)


async def test_an_event_counts_when_it_is_on_disk() -> None:
    """Until the log has it an event is neither answered, nor in the engine, nor told; then it is all three."""
    stage = Stage(at_once=False, engine=(engine := ToldEngine()))
    with stage.live() as run:
        run.hub.attach(desk := ListDesk())
        answer = asyncio.ensure_future(run.take(event := tap("e1", 0.0)))
        await settle()
        assert (answer.done(), engine.calls[1:], desk.types()) == (False, [], ["snapshot"])
        stage.log.commit()
        await settle()
        assert answer.result() == Taken(1, event)
        assert engine.calls[1:] == [("e1", 0)]
        assert desk.told()[1]["events"][0]["id"] == "e1"


async def test_events_of_one_commit_are_one_change() -> None:
    """What came off the disk together is told in one message, oldest first, with one view; each is answered."""
    stage = Stage(at_once=False)
    with stage.live() as run:
        run.hub.attach(desk := ListDesk())
        events = [tap("e1", 0.0), tap("e2", 0.1, station="b"), tap("e3", 0.2, "note", text="Both run.")]
        answers = [asyncio.ensure_future(run.take(event)) for event in events]
        await settle()
        stage.log.commit()
        assert await asyncio.gather(*answers) == [Taken(number, event) for number, event in enumerate(events, 1)]
        (change,) = desk.told()[1:]
        assert [event["id"] for event in change["events"]] == ["e1", "e2", "e3"]
        assert {station["id"]: station["running"] for station in change["stations"]} == {"a": True, "b": True}


async def test_an_event_is_told_before_it_is_answered() -> None:
    """Whoever has the answer finds the event in what a new desk is sent."""
    stage = Stage()
    with stage.live() as run:
        await run.take(tap("e1", 0.0))
        snapshot = orjson.loads(run.snapshot())
        assert [event["id"] for event in snapshot["events"]] == ["e1"]
        assert snapshot["view"]["stations"][0]["running"]


async def test_events_are_taken_in_the_order_of_the_log() -> None:
    """Several on their way at once reach the engine one at a time, as they were written, with the time they came."""
    stage = Stage(at_once=False, engine=(engine := ToldEngine()))
    with stage.live() as run:
        answers = []
        for name in ("e1", "e2", "e3"):
            answers.append(asyncio.ensure_future(run.take(tap(name, 0.0))))
            await settle()
            stage.clock.pass_s(0.5)
        stage.log.commit()
        await settle()
        assert engine.calls[1:] == [("e1", 0), ("e2", 500_000), ("e3", 1_000_000)]
        assert [answer.result().seq for answer in answers] == [1, 2, 3]  # type: ignore[union-attr]


async def test_the_same_event_again_is_the_same_answer() -> None:
    """Sent again, on its way or long taken, an event is answered with the number it has and is in the log once."""
    stage = Stage(at_once=False)
    with stage.live() as run:
        event = tap("e1", 0.0)
        twice = take_both(run, event, event)
        await settle()
        stage.log.commit()
        assert await twice == (Taken(1, event), Taken(1, event))
        assert await run.take(event) == Taken(1, event)
        assert len(stage.log.stored) == 1


async def test_another_event_under_the_same_id_is_refused() -> None:
    """The first that came stands, also while it is on its way."""
    stage = Stage(at_once=False)
    with stage.live() as run:
        both = take_both(run, tap("e1", 0.0), tap("e1", 0.5))
        await settle()
        stage.log.commit()
        first, second = await both
        assert first == Taken(1, tap("e1", 0.0))
        assert isinstance(second, Refused)
        assert "e1" in second.reason
        assert len(stage.log.stored) == 1


async def test_a_retraction_may_follow_its_event_at_once() -> None:
    """A source need not wait for an answer before it takes back what it sent."""
    stage = Stage(at_once=False)
    with stage.live() as run:
        both = take_both(run, tap("e1", 0.0), tap("e2", 0.0, "retract", retracts="e1"))
        for _ in range(2):
            await settle()
            stage.log.commit()
        assert [answer.seq for answer in await both] == [1, 2]  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("event", "reason"),
    [
        (tap("e1", 0.0, station="z"), "station"),
        (tap("e1", 0.0, "retract", retracts="e9"), "e9"),
        (tap("e1", 102.1), "2.1 s in the future"),
        (tap("e1", -43201.0), "more than 12 h before"),
    ],
)
async def test_what_cannot_be_is_refused_and_not_logged(event: Event, reason: str) -> None:
    """An unknown station or event, the future and the day before are refused with the reason, and leave no trace."""
    stage = Stage(at_s=100.0)
    with stage.live() as run:
        answer = await run.take(event)
        assert isinstance(answer, Refused)
        assert reason in answer.reason
        assert not answer.again
        assert stage.log.stored == []


@pytest.mark.parametrize("at_s", [101.9, -43199.0])
async def test_a_little_ahead_and_long_before_is_taken(at_s: float) -> None:
    """Clocks differ by up to 2 s, and threading begins hours before the motors."""
    with Stage(at_s=100.0).live() as run:
        assert isinstance(await run.take(tap("e1", at_s, "note", text="laced")), Taken)


@pytest.mark.parametrize("kind", ["feed_up", "feed_down"])
async def test_a_feed_that_changed_the_day_before_is_taken(kind: str) -> None:
    """It is told once: a port that is dead since 20 h before the show is known to be so when it begins."""
    with Stage(at_s=-72_000.0).live() as run:
        assert isinstance(await run.take(tap("e1", -72_000.0, kind)), Taken)
        assert run.view.sources == {"contact": kind == "feed_up"}
        assert [alarm.kind for alarm in run.view.alarms] == (["feed_silent"] if kind == "feed_down" else [])


async def test_what_the_disk_does_not_take_counts_and_is_not_taken() -> None:
    """On a full disk an event is answered as known, not taken; then the run writes it down, and it is taken."""
    stage = Stage(at_once=False)
    with stage.live() as run:
        answer = asyncio.ensure_future(run.take(event := tap("e1", 0.0)))
        await settle()
        stage.log.fail(RunLogFault("The disk is full."))
        known = await answer
        assert known == Refused("Known to all desks, and not written down yet. The disk is full.", True, True)
        assert run.view.stations[0].running
        assert await run.take(event) == known
        stage.log.at_once = True
        run.beat()
        await settle()
        assert await run.take(event) == Taken(1, event)


async def test_a_caller_that_leaves_does_not_call_its_event_back() -> None:
    """A desk that goes while its tap is on its way to the disk has tapped."""
    stage = Stage(at_once=False)
    with stage.live() as run:
        answer = asyncio.ensure_future(run.take(event := tap("e1", 0.0)))
        await settle()
        answer.cancel()
        await settle()
        stage.log.commit()
        await settle()
        assert await run.take(event) == Taken(1, event)
        assert run.view.stations[0].running


async def test_one_timer_from_the_engine() -> None:
    """There is one wake-up, when the engine asks for it, in real seconds; it gives the engine the time and no more."""
    stage = Stage(at_s=10.0, rate=20.0, engine=(engine := ToldEngine()))
    engine.wake_us = 30_000_000
    with stage.live() as run:
        assert stage.timers.delays_s(run.wake) == [1.0]
        await run.take(tap("e1", 10.0))
        assert stage.timers.delays_s(run.wake) == [1.0]
        stage.clock.pass_s(1.0)
        engine.wake_us = None
        run.wake()
        assert engine.calls[-1] == ("advance", 30_000_000)
        assert stage.timers.delays_s(run.wake) == []
    assert stage.timers.due == []


async def test_a_wake_up_that_changes_nothing_tells_nothing() -> None:
    """The time alone is no change."""
    with (stage := Stage()).live() as run:
        run.hub.attach(desk := ListDesk())
        stage.clock.pass_s(0.5)
        run.wake()
        assert desk.types() == ["snapshot"]


async def test_the_time_waits_for_an_event_on_its_way() -> None:
    """An event that came before a deadline is taken before it, so that the log replays to the same alarms."""
    stage = Stage(at_once=False, engine=(engine := ToldEngine()))
    engine.wake_us = 1_000_000
    with stage.live() as run:
        stage.clock.pass_s(0.9)
        answer = asyncio.ensure_future(run.take(tap("e1", 0.5)))
        await settle()
        stage.clock.pass_s(0.2)
        run.wake()
        assert engine.calls[1:] == []
        stage.log.commit()
        await answer
        assert engine.calls[1:] == [("e1", 900_000)]
        assert stage.timers.delays_s(run.wake) == [0.0]


async def test_a_stuck_disk_stops_no_alarm() -> None:
    """What the disk holds for over a second counts at the next heartbeat, and time goes on; written, it counts once."""
    stage = Stage(at_once=False, engine=(engine := ToldEngine()))
    engine.wake_us = 1_000_000
    with stage.live() as run:
        answer = asyncio.ensure_future(run.take(tap("e1", 0.0)))
        await settle()
        for _ in range(3):
            stage.clock.pass_s(0.9)
            run.beat()
        assert engine.calls[1:] == [("e1", 0), ("advance", 2_700_000)]
        told = await answer
        assert isinstance(told, Refused)
        assert told.known
        stage.log.commit()
        await settle()
        assert [call for call, _ in engine.calls].count("e1") == 1
        assert await run.take(tap("e1", 0.0)) == Taken(1, tap("e1", 0.0))


async def test_the_heart_beats_once_a_second() -> None:
    """Each beat goes to every desk and asks for the next, a second of real time later, whatever the rate of the run."""
    with (stage := Stage(rate=20.0)).live() as run:
        run.hub.attach(desk := ListDesk())
        assert stage.timers.delays_s(run.beat) == [1.0]
        run.beat()
        assert desk.types() == ["snapshot", "beat"]


@pytest.mark.parametrize(
    ("steps", "told"), [((0.15,), []), ((0.25,), [0.25]), ((-3600.0,), [-3600.0]), ((0.15, 0.1), [0.25])]
)
async def test_a_set_wall_clock_is_an_event(steps: tuple[float, ...], told: list[float]) -> None:
    """A wall clock set by more than 0.2 s, at once or bit by bit, is logged and told; it moves no event."""
    with (stage := Stage()).live() as run:
        for step_s in steps:
            stage.clock.pass_s(1.0)
            stage.clock.wall_s += step_s
            run.beat()
            await settle()
        events = [stored.event for stored in stage.log.stored]
        assert [(event.kind, event.source, event.seconds) for event in events] == [
            ("clock_step", "contact:clock", seconds) for seconds in told
        ]
        assert all(event.t == ZERO + timedelta(seconds=len(steps)) for event in events)


async def test_a_run_is_rebuilt_from_its_log() -> None:
    """A second life knows every event, its number, and the last of them for a new desk."""
    stage = Stage()
    with stage.live() as run:
        event = tap("e1", 0.0)
        await run.take(event)
    with_log = stage.new_run()
    with_log.start()
    assert await with_log.take(event) == Taken(1, event)
    assert with_log.view == run.view
    assert [shown["id"] for shown in orjson.loads(with_log.snapshot())["events"]] == ["e1"]
    with_log.stop()


async def begun_behind(events: Sequence[Event], at_s: float = 100.0) -> tuple[Stage, LiveRun]:
    """A run that took events, and one that goes on with them on a computer whose clock is forty minutes behind."""
    stage = Stage(at_s=at_s)
    with stage.live() as run:
        for event in events:
            await run.take(event)
    stage.clock = ManualClock(at_s - 2400.0)
    again = stage.new_run()
    again.start()
    return stage, again


async def test_after_a_restart_with_a_clock_behind_time_goes_on_from_the_log() -> None:
    """A wall clock that was set back while the server was down does not hold the run's time, and that is told."""
    stage, again = await begun_behind([tap("e1", 100.0)])
    assert again.now_s() == 100.0
    stage.clock.pass_s(30.0)
    assert again.now_s() == 130.0
    await settle()
    (said,) = orjson.loads(again.snapshot())["warnings"]
    assert said.startswith("This computer's clock is 40 min behind the last event of this run: times go on from that")
    assert [event.seconds for event in again.events if event.kind == "clock_step"] == [-2400.0]
    again.stop()


async def test_alarms_rise_while_the_clock_is_behind() -> None:
    """A start that is missing after such a restart is told when it is due."""
    events = [tap("e1", -10.0, "feed_up"), tap("e2", -10.0, "note", text="Ready.")]
    stage, again = await begun_behind(events, at_s=-10.0)
    await again.take(tap("e3", -9.0))
    stage.clock.pass_s(60.0)
    again.wake()
    assert "start_missing" in {alarm.kind for alarm in again.view.alarms}
    again.stop()


async def test_the_run_follows_when_the_clock_is_put_right() -> None:
    """Set to the true time, the computer's clock is followed forward, and nothing is said any more."""
    stage, again = await begun_behind([tap("e1", 100.0)])
    stage.clock.pass_s(30.0)
    stage.clock.wall_s += 2400.0 + 60.0  # it was down for a minute
    again.beat()
    await settle()
    assert again.now_s() == pytest.approx(190.0, abs=0.001)
    assert again.warnings == {}
    stage.clock.pass_s(1.0)
    stage.clock.wall_s += 5.0  # from here on it goes by itself again
    again.beat()
    assert again.now_s() == pytest.approx(191.0, abs=0.001)
    again.stop()


async def test_a_tap_with_the_true_time_is_taken_while_the_clock_is_behind() -> None:
    """A tablet that knew the time before the restart is believed, and the run's time goes on from its tap."""
    _, again = await begun_behind([tap("e1", 100.0)])
    late = Event(id="late", t=ZERO + timedelta(seconds=145), kind="motor_start", station="b", source="tap")
    assert isinstance(await again.take(late), Taken)
    assert again.now_s() == 145.0
    mad = Event(id="mad", t=ZERO + timedelta(days=2), kind="motor_stop", station="b", source="tap")
    assert isinstance(await again.take(mad), Refused)
    again.stop()


async def test_a_failed_engine_is_told_and_its_events_are_kept() -> None:
    """After an engine's failure the run says so, logs on, asks the engine no more, and goes on showing what it had."""
    stage = Stage(engine=(engine := ToldEngine()))
    with stage.live() as run:
        run.hub.attach(desk := ListDesk())
        engine.failing = "e1"
        assert await run.take(tap("e1", 0.0)) == Taken(1, tap("e1", 0.0))
        assert await run.take(tap("e2", 0.0)) == Taken(2, tap("e2", 0.0))
        assert run.fault is not None
        assert "a fault made for this test" in run.fault
        assert [message.get("fault") for message in desk.told()[1:]] == [run.fault, None, None]
        assert engine.calls[1:] == []
        assert stage.timers.delays_s(run.wake) == []
        assert isinstance(await run.take(tap("e1", 0.5)), Refused)
        for _ in range(2):  # a change tells as well that the server is there
            run.beat()
        assert desk.types()[-1] == "beat"


async def test_an_engine_that_fails_at_its_log_takes_nobody_down() -> None:
    """A run that cannot be rebuilt starts with its fault, and snapshots still work."""
    stage = Stage(engine=(engine := ToldEngine()))
    with stage.live() as run:
        await run.take(tap("e1", 0.0))
    engine.failing = "e1"
    again = stage.new_run()
    again.start()
    assert again.fault is not None
    assert orjson.loads(again.snapshot())["fault"] == again.fault
    again.stop()


class UnaskedEngine(ToldEngine):
    """An engine that fails when it is asked when time next matters."""

    def next_wake_us(self) -> int | None:
        raise ZeroDivisionError("a fault made for this test")


async def test_an_engine_that_fails_last_of_all_at_a_start_is_told_too() -> None:
    """Whoever comes then is told as well that the run follows nothing."""
    with Stage(engine=UnaskedEngine()).live() as run:
        assert run.fault is not None
        assert orjson.loads(run.snapshot())["fault"] == run.fault


class SlowEngine(ToldEngine):
    """An engine that needs so many looks of 8 ms for its next event."""

    def __init__(self, clock: ManualClock) -> None:
        super().__init__()
        self.clock = clock
        self.left = 0

    def work(self, now_us: int) -> bool:
        self.clock.pass_s(0.008)
        self.left -= 1
        return self.left < 0 and super().work(now_us)


async def test_an_event_that_takes_the_engine_long_keeps_nobody_waiting() -> None:
    """What takes 0.8 s to work in is done 10 ms at a time: others are answered between, and what it changes is told."""
    stage = Stage()
    stage.engine = engine = SlowEngine(stage.clock)
    stage.run = stage.new_run()
    with stage.live() as run:
        run.hub.attach(desk := ListDesk())
        engine.left = 100
        begun_s = stage.clock.steady_s
        assert await run.take(tap("late", 0.0)) == Taken(1, tap("late", 0.0))
        assert stage.clock.steady_s - begun_s < 0.05
        assert await run.take(tap("e2", 0.0)) == Taken(2, tap("e2", 0.0))
        engine.shown = RunView(9.0, (), (), (), (), {"contact": True})
        for _ in range(100):
            for _, call in [due for due in stage.timers.due if due[0] == TURN_S]:
                stage.timers.due.remove((TURN_S, call))
                call()
        assert [call for call, _ in engine.calls[1:]] == ["late", "e2"]
        assert desk.told()[-1]["sources"] == {"contact": True}


async def test_two_runs_share_nothing() -> None:
    """One run's failure, events and numbers are nothing to another in the same loop."""
    broken, sound = Stage(engine=(engine := ToldEngine())), Stage()
    with broken.live() as one, sound.live() as other:
        engine.failing = "e1"
        await asyncio.gather(one.take(tap("e1", 0.0)), other.take(tap("e1", 0.0)))
        assert one.fault is not None
        assert other.fault is None
        assert other.view.stations[0].running


async def test_an_event_the_engine_refuses_today_is_left_out_of_a_rebuild() -> None:
    """A log with an event that this plan cannot have still starts, without it."""
    stage = Stage()
    await stage.log.append("r1", tap("e1", 0.0, station="z"), ZERO)
    await stage.log.append("r1", tap("e2", 0.0), ZERO)
    with stage.live() as run:
        assert run.fault is None
        assert run.view.stations[0].running
