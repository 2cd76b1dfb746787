"""Plans: what a good one becomes, and that every fault of a bad one is told at once."""

from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.timeline.plan import Inputs, Lamp, Mark, Plan, PlanFaults, parse_plan

PLANS = Path(__file__).parents[2] / "fixtures" / "plans"

# The example of the format, with a second house.
EXAMPLE = """
format = "festoon-plan/1"
title = "Lantern Night"
site = "Tidewater Picture House"
timezone = "America/Chicago"

[film]
gauge = "35mm"
frame_rate = 24.0
shrinkage_percent = 0.0

[timing]
motors_at = 2026-03-14T18:50:00-05:00

[[print]]
id = "leader"
kind = "leader"
title = "Head leader"
feet = 60

[[print]]
id = "t1"
kind = "trailer"
title = "Trailer one"
duration = "2:20"
cue = true

[[print]]
id = "feature"
kind = "feature"
duration = "1:48:05"

[[print]]
id = "tail"
kind = "tail"
frames = 2400

[[stations]]
id = "h3"
house = "3"
booth = "North"
path_ft = 0
advertised = "19:00"
inputs = { motor = "contact", lamp = "none", douser = "tap", cue = "tap" }

[[stations]]
id = "h4"
house = "4"
path_ft = 100
reserve_s = 1.5
latest_s = 20
"""


def faults_of(text: str, name: str = "bad.plan.toml") -> list[str]:
    with pytest.raises(PlanFaults) as caught:
        parse_plan(text, name)
    return caught.value.faults


def changed(*changes: tuple[str, str]) -> str:
    text = EXAMPLE
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return text


def test_marks_are_in_film_order_with_the_segments_own_first() -> None:
    """Each segment's first frame, the head, the end and the tail's end are where their lengths put them."""
    plan = parse_plan(EXAMPLE, "lantern.plan.toml")
    end_s = 40.0 + 140.0 + 6485.0
    assert plan.marks == (
        Mark("leader", 0.0, cue=False, title="Head leader"),
        Mark("t1", 40.0, cue=True, title="Trailer one"),
        Mark("head", 40.0, cue=False, title="Head"),
        Mark("feature", 180.0, cue=False, title="feature"),
        Mark("tail", end_s, cue=False, title="tail"),
        Mark("end", end_s, cue=False, title="End"),
        Mark("tail_end", end_s + 100.0, cue=False, title="End of the tail"),
    )
    assert plan.mark("head").x_s == 40.0
    with pytest.raises(KeyError):
        plan.mark("t2")


def test_links_and_the_film_ahead_come_of_the_paths() -> None:
    """A link takes its path at film speed, and the film ahead of a gate is the sum of the links before it."""
    plan = parse_plan(changed(("latest_s = 20", 'latest_s = 20\n[[stations]]\nid="h5"\nhouse="5"\npath_m=4.56')), "x")
    assert [(link.id, link.reserve_s) for link in plan.links] == [("h3>h4", 1.5), ("h4>h5", 2.0)]
    assert [link.path_m for link in plan.links] == pytest.approx([30.48, 4.56])
    assert plan.ahead_s == pytest.approx((0.0, 30.48 / 0.456, 30.48 / 0.456 + 10.0))
    assert plan.station_index == {"h3": 0, "h4": 1, "h5": 2}


def test_what_is_not_given_has_the_value_of_the_format() -> None:
    """Every number and every input that a plan leaves out is the one that the format shows."""
    plan = parse_plan(changed(("inputs = {", "#"), ("latest_s = 20", ""), ("reserve_s = 1.5", "")), "x")
    timing = plan.timing.model_dump(exclude={"motors_at"})
    assert timing == {
        "reserve_s": 2.0,
        "start_grace_s": 0.5,
        "runup_loss_s": 0.0,
        "runup_sigma_s": 0.0,
        "coast_s": 0.0,
        "start": "timers",
        "start_spread_s": 0.1,
        "path_tolerance_percent": 1.0,
        "motors": "synchronous",
        "rate_tolerance_ppm": 50.0,
        "line_tolerance_ppm": 1000.0,
        "rate_walk_ppm_per_sqrt_hour": 20.0,
        "tap_sigma_s": 0.30,
        "tap_lag_s": 0.25,
        "contact_sigma_s": 0.02,
        "forecast_horizon_s": 600.0,
        "tail_sigma_s": 3.0,
    }
    assert plan.threading.model_dump() == {
        "ends_ft": 180.0,
        "spare_percent": 10.0,
        "minutes_per_station": 2.8,
        "stretch_ft": 800.0,
        "stretch_rollers": 80,
    }
    assert plan.stations[1].inputs == Inputs(motor="contact", lamp="contact", douser="none", cue="tap")
    lamp = Lamp(earliest_s=90.0, latest_s=15.0, douser_limit_s=120.0, gate_limit_s=1.0)
    assert plan.stations[1].lamp == plan.lamp == lamp
    assert plan.stations[1].reserve_s == 2.0
    assert plan.stop_groups == ()
    assert plan.stopped_with == ((), ())


def test_what_is_not_given_at_all_is_absent() -> None:
    """A plan of what is required only has no site and no booth, is 35 mm at 24, and keeps UTC."""
    plan = parse_plan((PLANS / "pair.plan.toml").read_text(), "pair.plan.toml")
    assert (plan.site, plan.timezone, plan.film.gauge, plan.film.frame_rate) == (None, "UTC", "35mm", 24.0)
    first = plan.stations[0]
    assert (first.booth, first.advertised, first.path_m, first.rollers, first.start_offset_s) == (None, None, 0, 0, 0)


def test_a_station_overrides_its_link_and_its_lamp() -> None:
    """A station's own reserve and lamp numbers hold for it, and the rest stays the plan's."""
    plan = parse_plan(changed(("latest_s = 20", "latest_s = 20\ngate_limit_s = 0.5")), "x")
    assert plan.stations[1].reserve_s == 1.5
    assert plan.stations[1].lamp == Lamp(earliest_s=90.0, latest_s=20.0, douser_limit_s=120.0, gate_limit_s=0.5)
    assert plan.stations[0].lamp.gate_limit_s == 1.0
    assert plan.stations[0].inputs == Inputs(motor="contact", lamp="none", douser="tap", cue="tap")


@pytest.mark.parametrize(
    ("lines", "ppm"),
    [
        ("", 50.0),
        ('motors = "synchronous"', 50.0),
        ('motors = "induction"', 3000.0),
        ('motors = "induction"\nrate_tolerance_ppm = 700', 700.0),
    ],
)
def test_the_kind_of_motor_sets_its_tolerance(lines: str, ppm: float) -> None:
    """Rates differ by 50 ppm where motors are synchronous and 3000 where not, unless the plan says how much."""
    plan = parse_plan(changed(("[timing]", "[timing]\n" + lines)), "x")
    assert plan.timing.rate_tolerance_ppm == ppm


@pytest.mark.parametrize(
    ("lines", "start", "spread_s"),
    [
        ("", "timers", 0.1),
        ('start = "common"', "common", 0.05),
        ('start = "timers"', "timers", 0.1),
        ('start = "hands"', "hands", 0.6),
        ('start = "hands"\nstart_spread_s = 0.25', "hands", 0.25),
        ('start_spread_s = 0\nstart = "common"', "common", 0.0),
    ],
)
def test_how_a_chain_is_started_sets_how_far_its_motors_are_apart(lines: str, start: str, spread_s: float) -> None:
    """One button, timers and hands differ by 0.05, 0.1 and 0.6 s, unless the plan says how much."""
    timing = parse_plan(changed(("[timing]", "[timing]\n" + lines)), "x").timing
    assert (timing.start, timing.start_spread_s) == (start, spread_s)


def test_motors_that_stop_together_are_named_in_film_order() -> None:
    """A group is in film order however it was written, and a station of no group stops alone."""
    groups = "".join(f"[[stop_groups]]\nstations = {ids}\n" for ids in (["d", "a"], ["c", "e"]))
    houses = "".join(f'[[stations]]\nid = "{id_}"\nhouse = "{id_}"\n' for id_ in "abcde")
    plan = parse_plan(EXAMPLE[: EXAMPLE.index("[[stations]]")] + houses + groups, "x")
    assert plan.stop_groups == (("a", "d"), ("c", "e"))
    assert plan.stopped_with == ((3,), (), (4,), (0,), (2,))


@pytest.mark.parametrize(
    ("key", "lines"),
    [("tail_sigma_s", "[timing]\ntail_sigma_s = {}"), ("gate_limit_s", "[lamp]\ngate_limit_s = {}\n[timing]")],
)
@pytest.mark.parametrize(("value", "taken"), [("0", True), ("2.5", True), ("-0.1", False), ("inf", False)])
def test_what_is_not_sure_and_what_film_stands_are_no_less_than_nothing(
    key: str, lines: str, value: str, taken: bool
) -> None:
    """How unsure the tail is and how long film may stand in the light may be nothing, and no less."""
    text = changed(("[timing]", lines.format(value)))
    if not taken:
        (fault,) = faults_of(text)
        assert fault.endswith(f"{key}: found {value}; accepted a number from 0 to 86400")
        return
    plan = parse_plan(text, "x")
    assert getattr(plan.timing if key == "tail_sigma_s" else plan.lamp, key) == float(value)


def test_zero_is_the_planned_start_in_utc() -> None:
    """Offsets count from `motors_at`, whatever its offset."""
    plan = parse_plan(EXAMPLE, "x")
    assert plan.zero == datetime(2026, 3, 14, 23, 50, tzinfo=UTC)
    assert plan.zero.utcoffset() == datetime.now(UTC).utcoffset()


@pytest.mark.parametrize(
    ("duration", "seconds"), [("0:01", 1), ("2:20", 140), ("102:30", 6150), ("1:48:05", 6485), ("10:00:00", 36000)]
)
def test_durations(duration: str, seconds: float) -> None:
    """A duration is minutes and seconds, or hours, minutes and seconds."""
    plan = parse_plan(changed(('duration = "2:20"', f'duration = "{duration}"')), "x")
    assert plan.print[1].length_s == seconds


def test_a_print_may_have_no_tail() -> None:
    """Without a tail the end of the programme is the end of the print."""
    plan = parse_plan(changed(('kind = "tail"', 'kind = "credits"')), "x")
    assert plan.mark("end").x_s == plan.mark("tail_end").x_s == plan.print_s
    assert plan.tail_s == 0.0


@pytest.mark.parametrize("path", sorted((PLANS / "bad").glob("*.plan.toml")), ids=lambda path: path.stem)
def test_every_fault_is_told_at_once(path: Path) -> None:
    """A bad plan of the fixtures has exactly the faults that lie beside it."""
    expected = path.with_name(path.name.replace(".plan.toml", ".faults.txt")).read_text().splitlines()
    assert faults_of(path.read_text(), path.name) == expected


@pytest.mark.parametrize("path", sorted(PLANS.glob("*.plan.toml")), ids=lambda path: path.stem)
def test_the_plans_of_the_fixtures_can_be_used(path: Path) -> None:
    """Every plan that is no bad example parses."""
    assert isinstance(parse_plan(path.read_text(), path.name), Plan)


@pytest.mark.parametrize("text", ["a = [" * 5000, "x = " + "9" * 5000, "x = 1\nx = 2", "\ufffd", "[", "a.b.c"])
def test_text_that_is_no_toml_is_one_fault(text: str) -> None:
    """What no TOML reader can take is told in one line that names the file, however it fails."""
    (fault,) = faults_of(text)
    assert fault.startswith("bad.plan.toml: ")
    assert "\n" not in fault


@pytest.mark.parametrize("mark", ["head", "end", "tail_end"])
def test_reserved_marks_are_no_segments(mark: str) -> None:
    """The three names that are always marks cannot be a segment's."""
    (fault,) = faults_of(changed(('id = "t1"', f'id = "{mark}"')))
    assert fault.endswith(f"print[1].id: found the reserved '{mark}'; accepted an id other than head, end or tail_end")


def test_the_line_of_a_fault_is_that_of_its_key() -> None:
    """A fault names the line that its key stands on, past texts of several lines and keys in quotes too."""
    site, path = 'site = """', '"path_ft" = -1'
    text = changed(('site = "Tidewater Picture House"', site + '\n[timing]\nmotors_at = 3"""'), ("path_ft = 100", path))
    faults, lines = faults_of(text), text.split("\n")
    assert faults[0].startswith(f"bad.plan.toml: line {lines.index(site) + 1}: site: ")
    assert faults[1].startswith(f"bad.plan.toml: line {lines.index(path) + 1}: stations[1].path_ft: ")


def test_a_number_of_any_length_can_be_told() -> None:
    """A number that is too long to be written out is a fault like another."""
    (fault,) = faults_of(changed(("path_ft = 100", "path_ft = 0x" + "f" * 9000)))
    assert fault.endswith("found a number of 19 digits or more; accepted a number from 0 to 1000000")


def test_what_editors_put_in_does_not_matter() -> None:
    """A byte order mark and Windows' line ends change nothing."""
    assert parse_plan("\ufeff" + EXAMPLE.replace("\n", "\r\n"), "x") == parse_plan(EXAMPLE, "x")


def test_a_plan_cannot_be_changed() -> None:
    """A plan is a value: it has no settable part."""
    plan = parse_plan(EXAMPLE, "x")
    with pytest.raises(ValueError, match="frozen"):
        plan.title = "Other"  # type: ignore[misc]


SCALARS: st.SearchStrategy[object] = st.one_of(
    st.booleans(), st.integers(), st.floats(), st.text(max_size=20), st.just([]), st.just({}), st.just(10**400)
)
KEYS = [
    *("title", "site", "timezone", "film", "timing", "threading", "lamp", "print", "stations", "format", "gauge"),
    *("frame_rate", "motors_at", "motors", "reserve_s", "earliest_s", "id", "kind", "cue", "frames", "feet"),
    *("duration", "house", "path_ft", "path_m", "rollers", "inputs", "motor", "advertised", "stop_groups", "start"),
]


def toml_from(value: object) -> str:
    """The least TOML writer that can write any of the values above."""
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            return '"' + "".join(f"\\U{ord(char):08X}" for char in value) + '"'
        case dict():
            return "{" + ", ".join(f"{key} = {toml_from(entry)}" for key, entry in value.items()) + "}"
        case list():
            return "[" + ", ".join(map(toml_from, value)) + "]"
        case int():
            return hex(value) if value >= 0 else "-1"
        case _:
            return repr(value)


def nested(scalars: st.SearchStrategy[object]) -> st.SearchStrategy[object]:
    return st.recursive(
        scalars,
        lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.sampled_from(KEYS), inner, max_size=6)),
        max_leaves=12,
    )


@given(st.dictionaries(st.sampled_from(KEYS), nested(SCALARS), max_size=12))
def test_no_plan_is_more_than_faults(data: dict[str, object]) -> None:
    """Whatever values a plan has, its faults are lines of text that name the file, and nothing else is raised."""
    text = "\n".join(f"{key} = {toml_from(value)}" for key, value in data.items())
    faults: Iterable[str] = faults_of(text, "any.plan.toml")
    assert all(fault.startswith("any.plan.toml: ") and fault.isprintable() for fault in faults)
    assert all("; accepted " in fault for fault in faults)
