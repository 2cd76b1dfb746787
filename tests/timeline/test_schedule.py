"""Schedules: against figures worked out by hand, against the golden files, and for any plan in film order."""

import json
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.timeline import schedule as schedule_module
from server.timeline.plan import Plan, parse_plan
from server.timeline.schedule import Schedule, advertised_s, schedule_from_plan

FIXTURES = Path(__file__).parents[2] / "fixtures"
PLANS = sorted((FIXTURES / "plans").glob("*.plan.toml"))

LEADER = '[[print]]\nid = "leader"\nkind = "leader"\nfeet = 60\n'
FEATURE = '[[print]]\nid = "feature"\nkind = "feature"\nduration = "1:40:00"\n'
TAIL = '[[print]]\nid = "tail"\nkind = "tail"\nfeet = 300\n'
FIRST = '[[stations]]\nid = "a"\nhouse = "1"\n'
SECOND = '[[stations]]\nid = "b"\nhouse = "2"\npath_ft = 100\n'


def plan_with(
    *,
    motors_at: str = "2026-03-14T18:50:00-05:00",
    zone: str = "America/Chicago",
    film: str = "",
    timing: str = "",
    lamp: str = "",
    film_order: str = LEADER + FEATURE + TAIL,
    first: str = "",
    second: str = "",
) -> Plan:
    text = (
        f'format = "festoon-plan/1"\ntitle = "Test"\ntimezone = "{zone}"\n[film]\n{film}\n'
        f"[timing]\nmotors_at = {motors_at}\n{timing}\n[lamp]\n{lamp}\n{film_order}\n{FIRST}{first}\n{SECOND}{second}\n"
    )
    return parse_plan(text, "test.plan.toml")


def warned(plan: Plan) -> list[tuple[str, str | None]]:
    return [(warning.code, warning.station) for warning in schedule_from_plan(plan).warnings]


def fixture_plan(name: str) -> Plan:
    return parse_plan((FIXTURES / "plans" / f"{name}.plan.toml").read_text(), name)


def test_a_schedule_worked_out_by_hand() -> None:
    """Start, passes, window and clear time are start + run-up + film before the mark + film to the gate."""
    plan = plan_with(
        timing="runup_loss_s = 0.5", first="earliest_s = 60", second="start_offset_s = 1.25\nlatest_s = 20"
    )
    transit_s = 30.48 / 0.456
    first, second = schedule_from_plan(plan).stations
    assert first.passes == {
        "leader": 0.5,
        "feature": 40.5,
        "head": 40.5,
        "tail": 6040.5,
        "end": 6040.5,
        "tail_end": 6240.5,
    }
    assert (first.start_s, first.strike_opens_s, first.strike_closes_s, first.clear_s) == (0.0, -19.5, 25.5, 6240.5)
    head_s = 1.25 + 0.5 + 40.0 + transit_s
    assert second.start_s == 1.25
    assert second.passes["head"] == pytest.approx(head_s)
    assert (second.strike_opens_s, second.strike_closes_s) == pytest.approx((head_s - 90, head_s - 20))
    assert second.clear_s == second.passes["tail_end"] == pytest.approx(head_s + 6200)


def test_the_example_of_the_format() -> None:
    """A 100 ft path of 35 mm at 24 is 66.84 s, and a reserve of 2 s is 2.99 ft (the example of the format)."""
    (link,) = json.loads(json.dumps(schedule_from_plan(plan_with()).as_json()))["links"]
    assert link["path_m"] == pytest.approx(30.48)
    assert round(link["transit_s"], 2) == 66.84
    assert round(link["reserve_ft"], 2) == 2.99


def test_a_schedule_as_json_has_the_keys_of_the_format() -> None:
    """The keys are those of `festoon-schedule/1`, and everything in it is JSON."""
    data = json.loads(json.dumps(schedule_from_plan(fixture_plan("warned")).as_json(), allow_nan=False))
    assert set(data) == {"format", "film", "links", "stations", "threading", "warnings"}
    assert data["format"] == "festoon-schedule/1"
    assert set(data["film"]) == {"frame_mm", "speed_m_per_s", "frames_per_foot"}
    assert set(data["links"][0]) == {"id", "path_m", "transit_s", "reserve_s", "reserve_ft"}
    station_keys = {"id", "house", "start_s", "passes", "strike_opens_s", "strike_closes_s", "clear_s"}
    assert set(data["stations"][0]) == station_keys
    assert set(data["threading"]) == {"leader_ft", "stretches", "minutes"}
    assert set(data["warnings"][0]) == {"code", "station", "text"}


@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_golden_schedules(path: Path) -> None:
    """Every plan of the fixtures has the schedule that is kept of it."""
    expected = FIXTURES / "expected" / path.name.replace(".plan.toml", ".schedule.json")
    plan = parse_plan(path.read_text(), path.name)
    assert schedule_from_plan(plan).as_json() == json.loads(expected.read_text())


def test_sixteen_houses_over_midnight_worked_out_by_hand() -> None:
    """1,160 ft and 116 rollers: 775.4 s from the first head to the last, 1,456 ft of leader, five stretches, 35 min."""
    plan = fixture_plan("sixteen")
    schedule = schedule_from_plan(plan)
    first, second, last = (schedule.stations[k] for k in (0, 1, -1))
    assert [first.id, second.id, last.id] == ["h11", "h12", "h8"]
    assert first.passes["head"] == 48.0  # 72 counter feet of 16 frames at 24 a second
    assert second.passes["head"] == pytest.approx(48.0 + 54 * 0.3048 / 0.456)
    assert last.passes["head"] == pytest.approx(48.0 + 1160 * 0.3048 / 0.456)
    assert last.passes["head"] - first.passes["head"] == pytest.approx(775.368, abs=5e-4)
    assert (last.strike_opens_s, last.strike_closes_s) == pytest.approx((733.368, 808.368), abs=5e-4)
    assert first.passes["end"] == 48.0 + 140 + 150 + 7290 + 380
    assert last.clear_s == pytest.approx(775.368 + 48.0 + 7960 + 240, abs=5e-4)
    assert schedule.threading.leader_ft == pytest.approx(1160 * 1.1 + 180)
    assert schedule.threading.minutes == pytest.approx(16 * 2.2)
    stretches = [(one.first, one.last, round(one.path_ft), one.rollers) for one in schedule.threading.stretches]
    assert stretches == [
        ("h11", "h13", 246, 27),
        ("h13", "h15", 243, 24),
        ("h15", "h3", 281, 27),
        ("h3", "h2", 248, 24),
        ("h2", "h8", 142, 14),
    ]
    assert schedule.warnings == ()


def test_the_demonstration_is_in_time_and_warned_of_nothing() -> None:
    """Nine houses in three booths, in an order that is not that of their numbers, each in time for its guests."""
    plan = fixture_plan("larkspur")
    houses = [int(station.house) for station in plan.stations]
    assert sorted(houses) == list(range(1, 10)) != houses
    assert len({station.booth for station in plan.stations}) == 3
    assert all(station.advertised for station in plan.stations)
    assert warned(plan) == []


def test_every_code_is_warned_of_in_the_fixtures_and_explained() -> None:
    """The plan made for it raises every code there is, and the module's table explains just these."""
    codes = {code for code, _ in warned(fixture_plan("warned"))}
    assert schedule_module.__doc__ is not None
    rows = [row.split("`")[1] for row in schedule_module.__doc__.splitlines() if row.startswith("| `")]
    assert set(rows) == codes
    assert len(rows) == len(codes) == 13


@pytest.mark.parametrize(
    ("good", "bad", "warning"),
    [
        # the head is 40 s after the motors, at 18:50:40
        ({"first": 'advertised = "18:51"'}, {"first": 'advertised = "18:50"'}, ("late_for_advertised", "a")),
        ({"first": 'advertised = "18:51"'}, {"first": 'advertised = "18:52"'}, ("early_for_advertised", "a")),
        ({"film": "shrinkage_percent = 0.8"}, {"film": "shrinkage_percent = 0.81"}, ("archive_film", None)),
        ({"second": "start_offset_s = 2"}, {"second": "start_offset_s = 2.01"}, ("offset_over_reserve", "b")),
        ({"first": "start_offset_s = 2"}, {"first": "start_offset_s = 2.01"}, ("offset_over_reserve", "b")),
        ({"first": "latest_s = 40"}, {"first": "latest_s = 40.1"}, ("window_before_start", "a")),
        ({"first": "earliest_s = 120"}, {"first": "earliest_s = 120.5"}, ("window_over_douser_limit", "a")),
        ({"second": "douser_limit_s = 90"}, {"second": "douser_limit_s = 89"}, ("window_over_douser_limit", "b")),
        ({"second": "rollers = 80"}, {"second": "rollers = 81"}, ("stretch_over_limit", "b")),
    ],
)
def test_a_warning_begins_at_its_limit(
    good: dict[str, str], bad: dict[str, str], warning: tuple[str, str | None]
) -> None:
    """At its limit a plan is not warned of; past it that one warning is given, of that station."""
    assert warned(plan_with(**good)) == []
    assert warned(plan_with(**bad)) == [warning]


def test_a_head_at_the_advertised_second_is_in_time() -> None:
    """The advertised minute itself is not late, also where sums do not come out even."""
    shown = 'advertised = "18:51"'
    sixty = LEADER.replace("feet = 60", "feet = 90") + FEATURE + TAIL
    assert warned(plan_with(film_order=sixty, first=shown)) == []
    assert warned(plan_with(film_order=sixty, first=shown, timing="runup_loss_s = 0.001")) == [
        ("late_for_advertised", "a")
    ]


def test_a_head_a_minute_before_its_time_is_not_early() -> None:
    """A whole minute before the advertised time is no warning, a frame more is one."""
    shown, minute = 'advertised = "18:52"', LEADER.replace("feet = 60", "feet = 90") + FEATURE + TAIL  # head 18:51:00
    assert warned(plan_with(film_order=minute, first=shown)) == []
    sooner = LEADER.replace("feet = 60", "frames = 1439") + FEATURE + TAIL  # a frame before that
    assert warned(plan_with(film_order=sooner, first=shown)) == [("early_for_advertised", "a")]


@pytest.mark.parametrize(
    ("motors_at", "advertised", "codes"),
    [
        # the head is 40 s after the motors
        ("2026-03-14T23:57:20-05:00", "00:15", ["early_for_advertised"]),  # 17 minutes, and not a day
        ("2026-03-14T23:58:30-05:00", "00:00", []),
        ("2026-03-14T23:59:30-05:00", "00:00", ["late_for_advertised"]),
        ("2026-03-15T00:01:00-05:00", "23:59", ["late_for_advertised"]),  # the motors start on the next day
        ("2026-03-14T23:59:10-05:00", "23:59", ["late_for_advertised"]),
    ],
)
def test_midnight_makes_no_head_a_day_early_or_late(motors_at: str, advertised: str, codes: list[str]) -> None:
    """An advertised time is of the day that brings it nearest to the head, on either side of midnight."""
    plan = plan_with(motors_at=motors_at, first=f'advertised = "{advertised}"')
    assert [warning.code for warning in schedule_from_plan(plan).warnings] == codes


@pytest.mark.parametrize(
    ("reserve_s", "ppm", "minutes", "codes"),
    [
        # Two motors that each differ by 1000 ppm drift by 1414.2 ppm: 8.825 s in the 6240 s that the print runs.
        (8.83, 1000, None, []),
        (8.82, 1000, "104 minutes; the print runs 104 minutes", ["reserve_short_lived"]),
        (2.0, 3000, "7.9 minutes; the print runs 104 minutes", ["reserve_short_lived"]),
        (0.05, 3000, "11.8 s; the print runs 104 minutes", ["reserve_short_lived"]),
        (2.0, 50, None, []),
        (0.0, 3000, None, ["no_reserve"]),
        (0.01, 0, None, []),
    ],
)
def test_a_reserve_that_motors_spend_by_themselves_is_told(
    reserve_s: float, ppm: float, minutes: str | None, codes: list[str]
) -> None:
    """Where the root of two of the motors' tolerance spends a reserve before the film is out, it is said how soon."""
    plan = plan_with(timing=f"rate_tolerance_ppm = {ppm}", second=f"reserve_s = {reserve_s}")
    told = schedule_from_plan(plan).warnings
    assert [(warning.code, warning.station) for warning in told] == [(code, "b") for code in codes]
    if minutes is not None:
        spent = f"House 1 to 2: motors that each differ by {ppm} ppm, one standard deviation, spend the reserve in "
        assert [warning.text for warning in told] == [spent + minutes]


def test_a_reserve_has_to_last_until_the_film_is_out_of_its_link() -> None:
    """Further down a chain film is there for longer, by what lies before the upper gate."""
    third = '[[stations]]\nid = "c"\nhouse = "3"\npath_ft = 100\n'
    # 6240 s of print: 2 s lasts for as long at 226.6 ppm; the second link has film for 66.8 s more
    plan = plan_with(timing="rate_tolerance_ppm = 226", second=third)
    assert warned(plan) == [("reserve_short_lived", "c")]
    assert warned(plan_with(timing="rate_tolerance_ppm = 224", second=third)) == []


def test_induction_motors_spend_a_reserve_of_two_seconds() -> None:
    """What the kind of motor says of its tolerance is warned of too."""
    assert warned(plan_with(timing='motors = "induction"')) == [("reserve_short_lived", "b")]


def test_a_path_that_is_not_given_is_told() -> None:
    """A path of nothing is warned of, for a whole chain of times hangs on it."""
    text = (FIXTURES / "plans" / "pair.plan.toml").read_text()
    assert warned(parse_plan(text.replace("path_ft = 100", ""), "x")) == [("no_path", "b")]


@pytest.mark.parametrize(
    ("tail", "codes"),
    [
        ("feet = 150", []),
        ("frames = 2399", ["tail_short"]),  # 149.94 counter feet
        ("feet = 101", ["tail_short"]),
        ("feet = 100", ["tail_short", "tail_under_path"]),  # 66.67 s by the counter, 66.84 s of path
    ],
)
def test_a_short_tail_is_told(tail: str, codes: list[str]) -> None:
    """A tail under 150 counter feet is warned of, and one that is shorter than the longest link."""
    plan = plan_with(film_order=LEADER + FEATURE + TAIL.replace("feet = 300", tail))
    assert [(code, None) for code in codes] == warned(plan)


def test_two_tails_are_one() -> None:
    """The tail is all the film of kind tail, however many pieces it is in."""
    pieces = LEADER + FEATURE + "".join(TAIL.replace("300", "75").replace('"tail"\nkind', f'"{i}"\nkind') for i in "xy")
    assert warned(plan_with(film_order=pieces)) == []


def test_a_print_that_a_deck_cannot_hold_is_told() -> None:
    """A deck holds some four and a half hours of 35 mm (from memory), which five hours are over and four are not."""
    four, five = (LEADER + FEATURE.replace("1:40", hours) + TAIL for hours in ("4:00", "5:00"))
    assert warned(plan_with(film_order=four)) == []
    assert warned(plan_with(film_order=five)) == [("print_over_deck", None)]


@pytest.mark.parametrize(
    ("motors_at", "advertised", "seconds"),
    [
        ("2026-03-14T18:50:00-05:00", "19:00", 600),
        ("2026-03-14T18:50:00-05:00", "18:40", -600),
        ("2026-03-14T23:50:00Z", "19:00", 600),  # the zone's clock counts, not the offset that was written
        ("2026-03-14T23:50:00-05:00", "00:10", 1200),  # over midnight: of the next day, which is nearer
        ("2026-03-15T00:10:00-05:00", "23:50", -1200),
        ("2026-03-15T04:50:00Z", "23:55", 300),  # that day is the 14th there, the 15th in UTC
        # 2026-03-08: from 02:00 CST the clock leaps to 03:00 CDT
        ("2026-03-08T01:50:00-06:00", "03:10", 1200),
        ("2026-03-08T01:50:00-06:00", "02:30", 2400),  # no such time: half past two as counted before the leap
        # 2026-11-01: at 02:00 CDT the clock goes back to 01:00 CST
        ("2026-11-01T00:50:00-05:00", "01:30", 2400),  # of two, the first
        ("2026-11-01T01:40:00-05:00", "01:30", 3000),  # the first is past: the second
        ("2026-11-01T01:10:00-06:00", "01:30", 1200),
        ("2026-11-01T03:00:00-06:00", "01:30", -9000),  # both are past: the first
        ("2026-11-01T00:50:00-05:00", "02:30", 9600),
    ],
)
def test_an_advertised_time_is_on_the_house_clock(motors_at: str, advertised: str, seconds: float) -> None:
    """An advertised time is of the local day that brings it nearest to the motors, through changes of the clock too."""
    assert advertised_s(plan_with(motors_at=motors_at), advertised) == seconds


def test_an_advertised_time_is_of_the_day_that_is_asked_about() -> None:
    """Nearest to a head that comes long after the motors is another day than nearest to the motors."""
    plan = plan_with(motors_at="2026-03-14T18:50:00-05:00")
    assert advertised_s(plan, "05:00") == 10 * 3600 + 600
    assert advertised_s(plan, "18:00", 20 * 3600.0) == 23 * 3600 + 600


def test_a_warning_is_a_sentence_about_its_subject() -> None:
    """What a warning says names its station or link, and the figures it rests on."""
    schedule = schedule_from_plan(plan_with(first='advertised = "18:50"', second="start_offset_s = 3"))
    assert [warning.text for warning in schedule.warnings] == [
        "House 1: the head is at the gate at 18:50:40, 40.0 s after the advertised 18:50",
        "House 1 to 2: the motors are planned to start 3 s apart; the reserve is 2 s",
    ]


@pytest.mark.parametrize("name", ["warned", "sixteen", "larkspur", "pair"])
def test_no_warning_names_an_id(name: str) -> None:
    """Warnings are read by people: whatever is about a station begins with its house, and no id is in it."""
    plan = fixture_plan(name)
    for warning in schedule_from_plan(plan).warnings:
        house = None if warning.station is None else plan.stations[plan.station_index[warning.station]].house
        assert house is None or re.match(rf"House (\w+ to )?{house}: ", warning.text)
        assert ">" not in warning.text


@st.composite
def plan_texts(draw: st.DrawFn) -> str:
    """Any plan of a few segments and stations."""
    number = st.floats(0, 1000, allow_subnormal=False)
    lengths = st.one_of(
        st.integers(1, 100_000).map(lambda frames: f"frames = {frames}"),
        st.floats(0.1, 10_000).map(lambda feet: f"feet = {feet!r}"),
        st.integers(1, 5999).map(lambda seconds: f'duration = "{seconds // 60}:{seconds % 60:02}"'),
    )
    kinds = ["trailer", "feature", "credits", "intermission", "tail"]
    segments = [f'[[print]]\nid = "s0"\nkind = "leader"\n{draw(lengths)}']
    segments += [
        f'[[print]]\nid = "s{index}"\nkind = "{draw(st.sampled_from(kinds))}"\n{draw(lengths)}'
        for index in range(1, draw(st.integers(2, 6)))
    ]
    stations = [
        f'[[stations]]\nid = "h{index}"\nhouse = "{index}"\nrollers = {draw(st.integers(0, 100))}\n'
        f"start_offset_s = {draw(number)!r}\n" + (f"path_ft = {draw(number)!r}\n" if index else "")
        for index in range(draw(st.integers(1, 6)))
    ]
    gauge, rate, shrinkage = (
        draw(st.sampled_from(["16mm", "35mm", "70mm"])),
        draw(st.floats(1, 120)),
        draw(st.floats(0, 5)),
    )
    return "\n".join(
        [
            'format = "festoon-plan/1"\ntitle = "Any"',
            f'[film]\ngauge = "{gauge}"\nframe_rate = {rate!r}\nshrinkage_percent = {shrinkage!r}',
            "[timing]\nmotors_at = 2026-03-14T23:50:00Z",
            *segments,
            *stations,
        ]
    )


def schedules() -> st.SearchStrategy[tuple[Plan, Schedule]]:
    return plan_texts().map(lambda text: parse_plan(text, "any")).map(lambda plan: (plan, schedule_from_plan(plan)))


@settings(deadline=None)
@given(schedules())
def test_any_schedule_is_in_film_order(planned: tuple[Plan, Schedule]) -> None:
    """Marks pass each gate in film order, gates are passed in film order but for offsets, and no length is lost."""
    plan, schedule = planned
    for station, times in zip(plan.stations, schedule.stations, strict=True):
        passes = list(times.passes.values())
        assert list(times.passes) == [mark.id for mark in plan.marks]
        assert passes == sorted(passes)
        assert times.passes["tail_end"] - times.passes["s0"] == pytest.approx(
            sum(segment.length_s for segment in plan.print)
        )
        assert times.strike_opens_s < times.strike_closes_s <= times.passes["head"]
        assert times.start_s == station.start_offset_s
    ahead = [times.passes["s0"] - times.start_s for times in schedule.stations]
    assert ahead == pytest.approx(list(plan.ahead_s), abs=1e-6)
    assert list(plan.ahead_s) == sorted(plan.ahead_s)


@settings(deadline=None)
@given(schedules())
def test_any_schedule_can_be_written(planned: tuple[Plan, Schedule]) -> None:
    """Every schedule is JSON without a number that JSON does not have, and reads back the same."""
    data = planned[1].as_json()
    assert json.loads(json.dumps(data, allow_nan=False)) == data
