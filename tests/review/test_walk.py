"""To any instant of a run, by two clocks."""

import random

import pytest

from server.review.account import Account, Clock, Observed
from server.review.walk import Walk
from server.timeline.engine import Engine, replay
from server.timeline.events import at_us, order_key
from server.timeline.viewing import view_of
from tests.review.shows import LATE_S, account, plan
from tests.timeline.story import HEAD_S, TRANSIT_S, event, starts

SHOW = account(plan())
HEAD_B_S = HEAD_S + TRANSIT_S + 0.4


def instants(seed: int) -> list[int]:
    """Some instants in any order, among them those at which something happened or arrived."""
    chance = random.Random(seed)
    known = [at_us(one.event, SHOW.plan) for one in SHOW.observed] + [one.arrived_us for one in SHOW.observed]
    return chance.sample([*known, *(at - 1 for at in known), *(chance.randint(*SHOW.span) for _ in known)], k=30)


def test_then_is_what_a_live_engine_showed() -> None:
    """Known then: the view at any instant is the one that an engine had which got every event as it arrived."""
    walk = Walk(SHOW, "then")
    for at in instants(1):
        engine = Engine(SHOW.plan)
        for one in SHOW.observed:
            if one.arrived_us <= at:
                engine.take(one.event, one.arrived_us)
        engine.advance(at)
        assert view_of(walk.at(at).fold) == engine.view()


def test_now_is_what_is_left_without_what_was_taken_back() -> None:
    """Known now: the view at any instant is that of a replay of the events up to it that did happen."""
    walk = Walk(SHOW, "now")
    left = [one.event for one in SHOW.observed if one.event.id != "wrong" and one.event.kind != "retract"]
    left.sort(key=lambda one: order_key(one, SHOW.plan))
    for at in instants(2):
        _, fold = replay(SHOW.plan, left, at)
        assert view_of(walk.at(at).fold)._replace(alarms=()) == view_of(fold)._replace(alarms=())


@pytest.mark.parametrize("clock", ["now", "then"])
def test_the_way_there_does_not_matter(clock: Clock) -> None:
    """A jump back and one forward lead to the same state, and change nothing for the next."""
    walk = Walk(SHOW, clock)
    forward = [view_of(walk.at(at).fold) for at in sorted(instants(3))]
    assert [view_of(walk.at(at).fold) for at in sorted(instants(3), reverse=True)] == forward[::-1]


def test_a_late_tap_is_known_at_its_time_now_and_at_its_arrival_then() -> None:
    """The two clocks differ by what came late."""
    shortly = round((HEAD_B_S + 5.0) * 1e6)
    passes = {clock: Walk(SHOW, clock).at(shortly).fold.evidence.stations[1].passes for clock in ("now", "then")}
    assert ("t1" in passes["now"], "t1" in passes["then"]) == (True, False)
    assert "t1" in Walk(SHOW, "then").at(round((HEAD_B_S + LATE_S + 1.0) * 1e6)).fold.evidence.stations[1].passes


def test_nothing_changes_before_the_instant_that_is_named() -> None:
    """A page may go on from one state until `next_us`: evidence, phases and alarms are the same until then."""
    walk = Walk(SHOW, "then")
    for at in instants(4):
        found = walk.at(at)
        if found.next_us is not None:
            just_before = walk.at(found.next_us - 1).fold
            assert just_before.phases == found.fold.phases
            assert just_before.board.alarms == found.fold.board.alarms
            assert just_before.evidence.outlook == found.fold.evidence.outlook


def test_alarms_are_told_then_and_not_now_where_the_tap_was_wrong() -> None:
    """What a wrong tap raised was told to people, and never was as far as is known now."""
    told = {clock: {one.key for one in Walk(SHOW, clock).spans} for clock in ("now", "then")}
    assert "misfit:c" in told["then"]
    assert "misfit:c" not in told["now"]
    assert "strike_missed:b" in told["now"] & told["then"]


def test_an_alarm_has_its_whole_story() -> None:
    """When it came true, was told, seen and by whom, was over, and what it was under."""
    spans = {one.key: one for one in Walk(SHOW, "then").spans}
    strike, dark = spans["strike_missed:b"], spans["dark_gate:b"]
    assert (strike.level, strike.cause, strike.seen_by, strike.act_us) == ("act", None, "Ada", strike.told_us)
    assert strike.seen_us == round((HEAD_S + TRANSIT_S + 12.5) * 1e6)
    assert strike.over_us == round((HEAD_S + TRANSIT_S + 20.02) * 1e6)
    assert (dark.cause, dark.seen_by) == ("strike_missed:b", None)


def test_an_alarm_that_was_over_is_seen_afterwards() -> None:
    """An acknowledgement of an alarm that has returned is noted with its name."""
    show = plan()
    head_b = HEAD_S + TRANSIT_S
    observed = [
        *starts(show),
        event(show, head_b + 5.0, "lamp_lit", "b"),
        event(show, head_b + 60.0, "ack", alarm="strike_missed:b", by="Ida"),
    ]
    spans = {
        one.key: one
        for one in Walk(Account(show, [Observed(n, e, at_us(e, show)) for n, e in enumerate(observed, 1)]), "now").spans
    }
    strike = spans["strike_missed:b"]
    assert (strike.over_us, strike.seen_us, strike.seen_by) == (
        round((head_b + 5.0) * 1e6),
        round((head_b + 60.0) * 1e6),
        "Ida",
    )


def test_slack_follows_the_estimate() -> None:
    """A slack curve has at every instant what the links of the state at that instant say."""
    walk = Walk(SHOW, "now")
    at = sorted(instants(5))
    slack, sd = walk.slack(at)
    for n, instant in enumerate(at):
        fold = walk.at(instant).fold
        outlook = fold.evidence.outlook
        after_s = max(instant - outlook.at_us, 0) / 1e6 if any(outlook.rate) else 0.0
        assert slack[n].tolist() == pytest.approx(
            [s + after_s * d for s, d in zip(outlook.slack, outlook.drift, strict=True)]
        )
        a, b, c, w = outlook.slack_var[0]
        assert sd[n][0] ** 2 == pytest.approx(a + b * after_s + c * after_s**2 + w * after_s**3, abs=1e-12)


def test_what_was_expected_was_not_yet_observed() -> None:
    """The expected time of a pass is from before it was seen, and as unsure as it was then."""
    walk = Walk(SHOW, "now")
    expected = walk.expected[1, "t1"]
    assert abs(expected.at_us / 1e6 - (HEAD_S + TRANSIT_S)) < 0.2
    assert expected.sd_s > 0.3


def test_a_run_without_events_can_be_looked_at() -> None:
    """A show that never began has a state, and nothing in it."""
    walk = Walk(Account(plan(), []), "then")
    assert (walk.span, walk.spans, walk.at(10**9).last) == ((0, 0), [], None)
    assert walk.slack([0, 10])[0].tolist() == [[0.0, 0.0], [0.0, 0.0]]
