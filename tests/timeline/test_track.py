"""How much is gone over again for an event that comes late, or takes another back."""

import random
from collections.abc import Sequence
from itertools import count, pairwise

from server.timeline.events import Event, order_key
from server.timeline.evidence import Evidence
from server.timeline.fold import Fold
from server.timeline.track import Track
from server.timeline.viewing import view_of
from tests.timeline.story import TRAILER_S, event, lamps, plan_of, starts

PLAN = plan_of(3, cue="contact")


def night(houses: int = 3, seed: int = 1) -> list[Event]:
    """Readings every five seconds, each twelfth of them wrong and taken back five seconds later; in order of time."""
    chance, events, numbers = random.Random(seed), [*starts(PLAN), *lamps(PLAN)], count()
    for at_s in range(10, 600, 5):
        events.append(event(PLAN, at_s, "slack_read", "b", seconds=chance.uniform(-0.2, 0.2), id=f"e{at_s}"))
        if next(numbers) % 12 == 0:
            events.append(event(PLAN, at_s + 5, "retract", retracts=f"e{at_s}", id=f"r{at_s}"))
    return sorted(events, key=lambda one: order_key(one, PLAN))


def counted(monkeypatch_on: type, name: str) -> list[int]:
    """How often a method of a class is called, from here on."""
    calls = [0]
    call = getattr(monkeypatch_on, name)

    def counting(self: object, *given: object, **named: object) -> object:
        calls[0] += 1
        return call(self, *given, **named)

    setattr(monkeypatch_on, name, counting)
    return calls


def folded(track: Track, events: Sequence[Event]) -> None:
    """Have all of them in their places first, and then folded."""
    for each in events:
        track.place(each)
    while not track.step():
        pass


def test_a_log_is_folded_once(monkeypatch: object) -> None:
    """A run is rebuilt at one fold an event, in whatever order its events came."""
    events = night()
    random.Random(2).shuffle(events)
    before = Fold.take
    folds = counted(Fold, "take")
    try:
        folded(Track(PLAN), events)
    finally:
        Fold.take = before  # type: ignore[method-assign]
    assert folds[0] == len(events)


def test_what_was_taken_back_is_gone_over_once() -> None:
    """A late event before many take-backs has each event taken into evidence about once, not once for each of them."""
    events = night()
    track = Track(PLAN)
    folded(track, events)
    before = Evidence.apply
    applied = counted(Evidence, "apply")
    try:
        track.insert(event(PLAN, 12.0, "mark_pass", "a", mark="t1", id="late"))
    finally:
        Evidence.apply = before  # type: ignore[method-assign]
    assert applied[0] < 1.5 * len(events)


def test_no_step_takes_in_more_than_one_event() -> None:
    """What is worked in a little at a time is interrupted after every event, also while it is gone over again."""
    track = Track(PLAN)
    for one in night():
        track.place(one)
        while not track.step():
            pass
    track.place(event(PLAN, TRAILER_S, "note", text="x", id="late"))
    track.place(event(PLAN, 640.0, "retract", retracts="e15", id="back"))
    before = Evidence.apply
    applied = counted(Evidence, "apply")
    most, done = 0, False
    try:
        while not done:
            so_far = applied[0]
            done = track.step()
            most = max(most, applied[0] - so_far)
    finally:
        Evidence.apply = before  # type: ignore[method-assign]
    assert applied[0] > 100
    assert most <= 2


def test_what_comes_meanwhile_does_not_begin_the_work_anew() -> None:
    """An old event is taken back while others come, one for each few steps: it is done all the same, and right."""
    begun, live = night(), Track(PLAN)
    folded(live, begun)
    late = event(PLAN, 12.0, "mark_pass", "a", mark="t1", id="late")
    later = [event(PLAN, 90_000.0 + n, "note", text="x", id=f"n{n}") for n in range(40)]
    live.place(late)
    for each in later:
        live.place(each)
        for _ in range(len(begun) // 20):
            live.step()
    assert live.step(), "every step went over what the one before had done"
    whole = Track(PLAN)
    folded(whole, [*begun, late, *later])
    assert view_of(live.tip) == view_of(whole.tip)


def test_a_long_night_keeps_few_states_and_a_late_event_goes_over_little_more_than_came_after_it() -> None:
    """States grow with the logarithm of the events; from one to the next is a sixteenth of how long ago it was."""
    plan = plan_of(2)
    track = Track(plan)
    for n in range(2000):
        track.insert(event(plan, 10.0 * n, "note", text=str(n), id=f"n{n:04}"))
    taken = [stop.taken for stop in track._stops]
    assert len(taken) < 120
    gaps = [(later - earlier, 2000 - later) for earlier, later in pairwise(taken)]
    assert all(gap <= max(16, age // 8) for gap, age in gaps)


def test_what_is_kept_of_retractions_is_bounded() -> None:
    """However much is gone over for one, no more than some states are kept for the next."""
    plan = plan_of(2)
    notes = [event(plan, 10.0 * n, "note", text=str(n), id=f"n{n:04}") for n in range(3000)]
    track = Track(plan)
    folded(track, notes)
    track.insert(event(plan, 40_000.0, "retract", retracts="n0001", id="back"))
    assert 0 < len(track._without) <= 64


def test_what_is_wrong_at_the_same_time_is_gone_over_once_each() -> None:
    """Ten wrong readings stand until each is taken back much later: none has more gone over than came since it."""
    events, apart = night(), 12
    wrong = [one for one in events if one.kind == "slack_read"][::11][:10]
    later = [
        event(PLAN, 700.0 + n * apart, "retract", retracts=one.id, id=f"late-{one.id}") for n, one in enumerate(wrong)
    ]
    readings = [event(PLAN, 705.0 + n * apart, "slack_read", "b", seconds=0.1, id=f"l{n}") for n in range(10)]
    track = Track(PLAN)
    folded(track, [one for one in events if one.kind != "retract"])
    before = Evidence.apply
    applied = counted(Evidence, "apply")
    try:
        for one in sorted([*later, *readings], key=lambda each: order_key(each, PLAN)):
            track.insert(one)
    finally:
        Evidence.apply = before  # type: ignore[method-assign]
    behind = [len(events) - events.index(one) for one in wrong]
    assert applied[0] <= sum(behind) + 16 * len(wrong) + 2 * len(readings)
    whole = Track(PLAN)
    folded(whole, [*(one for one in events if one.kind != "retract"), *later, *readings])
    assert view_of(track.tip) == view_of(whole.tip)
