"""What people do in a show, laid out before it."""

import pytest

from server.planning.duties import LATE_STOP_S, Duty, duties_of
from server.timeline.plan import Plan
from server.timeline.schedule import schedule_from_plan
from tests.planning.chains import chain

ALL_TAPS = 'inputs = { motor = "tap", lamp = "tap", douser = "tap", cue = "tap" }'
HEAD_S, END_S, OUT_S = 40.0, 6040.0, 6240.0


def duties(plan: Plan, shift_s: float = 0.0) -> tuple[Duty, ...]:
    return duties_of(plan, schedule_from_plan(plan), shift_s)


def told(plan: Plan) -> list[tuple[str, float, float]]:
    return [(duty.what, duty.from_s, duty.by_s) for duty in duties(plan)]


def test_the_duties_of_one_house() -> None:
    """A house whose things are all tapped has every duty of a show, in the order of their deadlines."""
    assert told(chain(stations={0: ALL_TAPS})) == [
        ("strike the lamp", HEAD_S - 90.0, HEAD_S - 25.0),  # done by 15 s before the head, in 10 s
        ("open the douser", HEAD_S - 15.0, HEAD_S - 3.0),
        ("see the head on screen", HEAD_S, HEAD_S + 15.0),
        ("shut down the lamp", END_S, OUT_S - 10.0),
        ("stop the motor once clear", OUT_S, OUT_S + LATE_STOP_S),
    ]


def test_nobody_does_what_is_not_asked_for() -> None:
    """A house with no lamp, douser or cue of its own has only its motor to stop."""
    none = 'inputs = { motor = "contact", lamp = "none", douser = "none", cue = "none" }'
    assert [what for what, _, _ in told(chain(stations={0: none}))] == ["stop the motor once clear"]


def test_who_starts_the_motors() -> None:
    """By hand each house has its start on the second; one button is one duty at the first; timers are nobody's."""
    offset = {1: "start_offset_s = 0.5"}
    hands = duties(chain((100.0, 8), timing='start = "hands"', stations=offset))
    assert [(duty.house, duty.from_s, duty.by_s) for duty in hands if duty.what == "start the motor"] == [
        ("11", 0.0, 0.0),
        ("12", 0.5, 0.5),
    ]
    common = duties(chain((100.0, 8), timing='start = "common"'))
    assert [duty.house for duty in common if "common button" in duty.what] == ["11"]
    assert not any("start" in what for what, _, _ in told(chain((100.0, 8))))


def test_what_is_done_as_film_goes_by() -> None:
    """A mark has its duty at its own second, only in its houses; an intermission takes the light off and on again."""
    plan = chain(
        (100.0, 8),
        stations={0: ALL_TAPS, 1: ALL_TAPS},
        more=(
            '[[marks]]\nid = "flat"\nafter = "film"\nduration = "0:40"\nsay = "Masking to flat"\nhouses = ["12"]\n'
            '[[marks]]\nid = "seen"\nafter = "film"\nduration = "0:50"\n'
        ),
    )
    at_s = HEAD_S + 40.0 + plan.ahead_s[1]
    assert [duty for duty in duties(plan) if duty.what == "Masking to flat"] == [
        Duty("12", None, "Masking to flat", at_s, at_s, 5.0)
    ]


def with_pause(duration: str) -> Plan:
    """A show with an intermission of that length, after its first hour and forty minutes."""
    pause = f'[[print]]\nid = "pause"\nkind = "intermission"\nduration = "{duration}"\n'
    rest = '[[print]]\nid = "rest"\nkind = "feature"\nduration = "1:00:00"\n'
    return chain(stations={0: ALL_TAPS}, tail_ft=0, more=pause + rest)


def test_a_short_intermission_leaves_the_lamp_lit() -> None:
    """Two minutes a shut douser stands: light off, and the douser open again before the picture."""
    after = [duty for duty in told(with_pause("2:00")) if END_S - 60.0 < duty[1] < END_S + 300.0]
    assert after == [
        ("shut the douser, house lights up", END_S - 20.0, END_S),
        ("open the douser", END_S + 105.0, END_S + 117.0),
    ]


def test_a_long_intermission_strikes_again() -> None:
    """Longer than the douser stands the heat the lamp goes out, and is struck again."""
    after = [what for what, from_s, _ in told(with_pause("6:00")) if END_S - 60.0 < from_s < END_S + 500.0]
    assert after == ["shut the douser, put the lamp out, house lights up", "strike the lamp", "open the douser"]


def test_a_later_show_has_later_duties() -> None:
    """Every duty of a show that is an hour later is an hour later, and else the same."""
    plan = chain((100.0, 8))
    pairs = zip(duties(plan), duties(plan, 3600.0), strict=True)
    assert all(later.by_s - now.by_s == pytest.approx(later.from_s - now.from_s) == 3600.0 for now, later in pairs)
    assert [one._replace(from_s=0, by_s=0) for one in duties(plan, 3600.0)] == [
        one._replace(from_s=0, by_s=0) for one in duties(plan)
    ]
