"""What a live run knows, for the feeds that ask."""

from datetime import timedelta

from server.live import LiveRun
from server.live_facts import LiveFacts
from server.timeline.events import Event
from tests.live.fakes import PLAN, ZERO, Stage, tap


async def taken(run: LiveRun, *events: Event) -> LiveFacts:
    for event in events:
        await run.take(event)
    return LiveFacts(run)


def of(kind: str, event_id: str, at_s: float, source: str) -> Event:
    return Event(id=event_id, t=ZERO + timedelta(seconds=at_s), kind=kind, source=source)  # type: ignore[arg-type]


async def test_what_stands_is_in_order_of_when_it_happened_and_without_what_was_taken_back() -> None:
    """A wrong tap that was taken back, and one whose taking back was taken back."""
    with Stage(at_s=50.0).live() as run:
        facts = await taken(run, tap("late", 30.0, "lamp_lit"), tap("early", 10.0), tap("wrong", 20.0, "motor_stop"))
        assert [event.id for event in facts.standing("a")] == ["early", "wrong", "late"]
        await run.take(tap("r1", 21.0, "retract", retracts="wrong"))
        assert [event.id for event in facts.standing("a")] == ["early", "late"]
        await run.take(tap("r2", 22.0, "retract", retracts="r1"))
        assert [event.id for event in facts.standing("a")] == ["early", "wrong", "late"]
        assert facts.standing("b") == []


async def test_any_running_follows_the_run() -> None:
    """A roll call is not held while film runs."""
    with Stage(at_s=50.0).live() as run:
        facts = LiveFacts(run)
        assert not facts.any_running()
        await run.take(tap("e1", 49.0))
        assert facts.any_running()


async def test_passes_are_as_planned_until_a_motor_started_and_then_as_estimated() -> None:
    """A show that began 12 s late passes its cue 12 s late, also at a station that nobody saw start."""
    with Stage(at_s=-600.0).live() as run:
        planned = {each.mark: each.at_us / 1e6 for each in LiveFacts(run).passes("b")}
        assert abs(planned["short"] - (40.0 + PLAN.ahead_s[1])) < 0.01
    with Stage(at_s=30.0).live() as run:
        facts = await taken(run, tap("e1", 12.0))
        for station, ahead_s in zip("ab", PLAN.ahead_s, strict=True):
            cue = next(each for each in facts.passes(station) if each.mark == "short")
            assert cue.cue
            assert abs(cue.at_us / 1e6 - (52.0 + ahead_s)) < 0.5


async def test_where_no_start_is_known_the_next_cue_may_be_passing_now() -> None:
    """A chain whose motors nobody reports still has its foils told apart, in their order."""
    with Stage(at_s=300.0).live() as run:
        cue = next(each for each in LiveFacts(run).passes("a") if each.cue)
        assert abs(cue.at_us / 1e6 - 300.0) < 0.01


async def test_a_source_was_heard_until_it_went_or_until_the_server_did() -> None:
    """What a feed missed begins where it was last heard in the life of the server before."""
    stage = Stage(at_s=10.0)
    with stage.live() as run:
        await taken(run, of("feed_up", "u1", 10.0, "contact:north"), of("feed_up", "u2", 10.0, "contact:south"))
        stage.clock.pass_s(5.0)
        await run.take(of("feed_down", "d1", 14.0, "contact:south"))
        stage.clock.pass_s(5.0)
        await run.take(tap("last", 20.0))
    again = stage.new_run()
    again.start()
    facts = LiveFacts(again)
    stage.clock.pass_s(60.0)
    await again.take(of("feed_up", "u3", 80.0, "contact:north"))
    assert facts.heard_until("contact:north") == ZERO + timedelta(seconds=20)
    assert facts.heard_until("contact:south") == ZERO + timedelta(seconds=14)
    assert facts.heard_until("contact:roof") is None
    again.stop()
