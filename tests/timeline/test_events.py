"""Events: what is taken, what is refused and why, and in what order they count."""

import json
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.timeline.alarm_kinds import ALARM_KINDS, alarm_refusal, subjects_of
from server.timeline.event_kinds import EventKind
from server.timeline.events import (
    Event,
    EventFault,
    RecordingFault,
    at_us,
    event_from_json,
    json_from_event,
    order_key,
    read_recording,
    refusal,
    rfc3339,
    sigma_s,
    time_from_rfc3339,
)
from server.timeline.plan import Plan, parse_plan
from server.timeline.view import Trouble

FIXTURES = Path(__file__).parents[2] / "fixtures"
PLAN = parse_plan((FIXTURES / "plans" / "pair.plan.toml").read_text(), "pair.plan.toml")

# What the format asks of each kind, written out again so that a change of it shows.
STATION_KINDS = (
    *("motor_start", "motor_stop", "lamp_lit", "lamp_out", "douser_open", "douser_shut"),
    *("mark_pass", "slack_read", "film_trip", "ready", "relaced", "report_over"),
)
REQUIRED: dict[str, dict[str, object]] = {
    **{kind: {"station": "a"} for kind in STATION_KINDS},
    "mark_pass": {"station": "a", "mark": "head"},
    "slack_read": {"station": "b", "seconds": -0.5},
    "relaced": {"station": "b"},
    "hold": {"seconds": 300},
    "report": {"station": "a", "what": "no_sound"},
    "call": {"to": "all", "text": "Stand by."},
    "retract": {"retracts": "other"},
    "ack": {"alarm": "motor_lost:a"},
    "note": {"text": "Splice looked dry."},
    "shelve": {"alarm": "motor_lost:a", "seconds": 300},
    "clock_step": {"seconds": -3.25},
    "chain_start": {},
    "chain_stop": {},
    "feed_up": {},
    "feed_down": {},
}
OPTIONAL: dict[str, dict[str, object]] = {
    "feed_up": {"station": "a", "text": "cable"},
    "feed_down": {"station": "a", "text": "cable"},
    "relaced": {"seconds": 0.5},
    "ack": {"text": "c1"},
    "report": {"text": "left side only"},
    "report_over": {"what": "no_sound", "text": "a fuse"},
}
EVERY_KEY: dict[str, object] = {
    "station": "a",
    "mark": "head",
    "seconds": 1,
    "retracts": "other",
    "alarm": "motor_lost:a",
    "what": "people",
    "to": "all",
    "text": "cable",
}


def line(**changes: object) -> dict[str, object]:
    """One good line, with changes; None leaves a key out."""
    keys: dict[str, object] = {
        "id": "1",
        "t": "2026-03-14T23:50:00Z",
        "kind": "motor_start",
        "station": "a",
        "source": "contact",
    }
    return {key: value for key, value in (keys | changes).items() if value is not None}


def fault_of(value: str | bytes | dict[str, object]) -> str:
    with pytest.raises(EventFault) as caught:
        event_from_json(value)
    return str(caught.value)


def test_an_event_is_read_from_text_bytes_or_an_object() -> None:
    """The same line is the same event, however it comes, and its time is kept in UTC."""
    data = line(t="2026-03-14T18:50:00.25-05:00")
    text = json.dumps(data)
    event = event_from_json(text)
    assert event == event_from_json(text.encode()) == event_from_json(data)
    assert event.t == datetime(2026, 3, 14, 23, 50, 0, 250_000, tzinfo=UTC)
    assert event.t.tzinfo is UTC
    assert (event.id, event.kind, event.station, event.source) == ("1", "motor_start", "a", "contact")
    assert (event.sigma_s, event.by, event.mark, event.seconds, event.retracts, event.alarm, event.text) == (None,) * 7


def test_every_kind_is_in_the_table_of_this_test() -> None:
    """No kind can be added without saying here what it asks for."""
    assert set(REQUIRED) == set(get_args(EventKind))


@pytest.mark.parametrize("kind", get_args(EventKind))
def test_a_kind_takes_what_it_asks_for_and_no_more(kind: str) -> None:
    """Each kind is taken with its own keys, refused without any one of them and with any key that it does not use."""
    required, optional = REQUIRED[kind], OPTIONAL.get(kind, {})
    whole = line(kind=kind, station=None, **{k: v for k, v in required.items() if k != "station"})
    whole |= required
    assert json_from_event(event_from_json(whole | optional)).items() >= (required | optional).items()
    for key in required:
        assert fault_of({k: v for k, v in whole.items() if k != key}).startswith(f"{key}: found nothing; accepted ")
    for key in EVERY_KEY.keys() - required.keys() - optional.keys():
        assert fault_of(whole | {key: EVERY_KEY[key]}).endswith(f"; accepted no {key} in a {kind}")


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("2026-03-14T23:50:00Z", datetime(2026, 3, 14, 23, 50, tzinfo=UTC)),
        ("2026-03-14t23:50:00z", datetime(2026, 3, 14, 23, 50, tzinfo=UTC)),
        ("2026-03-14T23:50:00.000001Z", datetime(2026, 3, 14, 23, 50, 0, 1, tzinfo=UTC)),
        ("2026-03-14T23:50:00.5+00:00", datetime(2026, 3, 14, 23, 50, 0, 500_000, tzinfo=UTC)),
        ("2026-03-15T05:20:00+05:30", datetime(2026, 3, 14, 23, 50, tzinfo=UTC)),
        ("2026-03-14T23:50:00-00:00", datetime(2026, 3, 14, 23, 50, tzinfo=UTC)),
        # The examples of RFC 3339, 5.8 (from memory)
        ("1985-04-12T23:20:50.52Z", datetime(1985, 4, 12, 23, 20, 50, 520_000, tzinfo=UTC)),
        ("1996-12-19T16:39:57-08:00", datetime(1996, 12, 20, 0, 39, 57, tzinfo=UTC)),
        ("1937-01-01T12:00:27.87+00:20", datetime(1937, 1, 1, 11, 40, 27, 870_000, tzinfo=UTC)),
    ],
)
def test_times_of_rfc3339(text: str, moment: datetime) -> None:
    """A time with any offset is that instant."""
    assert time_from_rfc3339(text) == moment


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("1990-12-31T23:59:60Z", "the leap second '1990-12-31T23:59:60Z'"),  # RFC 3339, 5.8 (from memory)
        ("2026-03-14T23:50:00.1234567Z", "7 digits after the point in '2026-03-14T23:50:00.1234567Z'"),
        ("2026-03-14T23:50:00", "'2026-03-14T23:50:00'"),
        ("2026-03-14 23:50:00Z", "'2026-03-14 23:50:00Z'"),
        ("2026-03-14T23:50Z", "'2026-03-14T23:50Z'"),
        ("2026-03-14T24:00:00Z", "'2026-03-14T24:00:00Z'"),
        ("2026-03-14T23:50:00+24:00", "'2026-03-14T23:50:00+24:00'"),
        ("2026-03-14T23:50:00+0500", "'2026-03-14T23:50:00+0500'"),
        ("2026-03-14T23:50:00,5Z", "'2026-03-14T23:50:00,5Z'"),
        ("2026-03-14T23:50:00.Z", "'2026-03-14T23:50:00.Z'"),
        ("20260314T235000Z", "'20260314T235000Z'"),
        ("2026-02-29T00:00:00Z", "'2026-02-29T00:00:00Z'"),
        ("0000-01-01T00:00:00Z", "'0000-01-01T00:00:00Z'"),
        ("0001-01-01T00:00:00+00:01", "'0001-01-01T00:00:00+00:01'"),
        ("9999-12-31T23:59:59-00:01", "'9999-12-31T23:59:59-00:01'"),
        ("\u0662026-03-14T23:50:00Z", "'\u0662026-03-14T23:50:00Z'"),
        ("2026-03-14T23:50:00Z\n", "'2026-03-14T23:50:00Z\\n'"),
        ("", "''"),
    ],
)
def test_what_is_no_time_is_told(text: str, found: str) -> None:
    """A time without offset, of another form, finer than microseconds or that never was is refused by name."""
    assert fault_of(line(t=text)).startswith(f"t: found {found}; accepted ")


@settings(deadline=None)
@given(st.datetimes(datetime(1900, 1, 3), datetime(2199, 12, 29)), st.integers(-1439, 1439))  # noqa: DTZ001
def test_a_time_written_is_the_time_read(naive: datetime, offset_min: int) -> None:
    """Writing a time in UTC and reading it back loses nothing, and no digit is written for nothing."""
    moment = naive.replace(tzinfo=timezone(timedelta(minutes=offset_min)))
    text = rfc3339(moment)
    assert time_from_rfc3339(text) == moment
    assert text.endswith("Z")
    assert ("." in text) == bool(moment.microsecond)
    assert not text.endswith("0Z") or "." not in text


ONE_LINE = st.text(st.characters(exclude_categories=["Cs", "Cc", "Zl", "Zp"]), min_size=1, max_size=200)
FINITE = st.floats(-86400, 86400)


@st.composite
def events(draw: st.DrawFn) -> Event:
    """Any event that can be."""
    kind: EventKind = draw(st.sampled_from(get_args(EventKind)))
    event_id = draw(ONE_LINE)
    values: dict[str, st.SearchStrategy[object]] = {
        "station": ONE_LINE,
        "mark": ONE_LINE,
        "seconds": st.floats(0, 86400) if kind == "shelve" else FINITE,
        "retracts": ONE_LINE.filter(lambda other: other != event_id),
        "alarm": ONE_LINE,
        "what": st.sampled_from(get_args(Trouble)),
        "to": ONE_LINE,
        "text": st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=2000),
    }
    keys = set(REQUIRED[kind]) | {key for key in OPTIONAL.get(kind, {}) if draw(st.booleans())}
    return Event.model_validate(
        {key: draw(values[key]) for key in keys}
        | {
            "id": event_id,
            "t": draw(st.datetimes(datetime(1900, 1, 3), datetime(2199, 12, 29), timezones=st.just(UTC))),  # noqa: DTZ001
            "kind": kind,
            "source": draw(st.sampled_from(["tap", "tap:Ines", "contact", "contact:north/3", "recording:a:b"])),
            "sigma_s": draw(st.none() | st.floats(0, 86400)),
            "by": draw(st.none() | ONE_LINE),
        }
    )


@settings(deadline=None)
@given(events())
def test_an_event_written_is_the_event_read(event: Event) -> None:
    """An event goes through JSON and comes back the same, and writes no key that it does not have."""
    data = json_from_event(event)
    assert None not in data.values()
    assert event_from_json(json.dumps(data)) == event
    assert event_from_json(json.dumps(data, ensure_ascii=False).encode()) == event


@settings(deadline=None)
@given(st.text() | st.binary() | st.dictionaries(st.sampled_from([*Event.model_fields, "x"]), st.none() | st.text()))
def test_whatever_comes_is_an_event_or_a_fault(value: str | bytes | dict[str, object]) -> None:
    """No text, bytes or object raises anything but a fault of one line."""
    assert "; accepted " in fault_of(value)
    assert "\n" not in fault_of(value)


ONE_LINE_TEXT = "a text on one line, 1 to 200 characters"
SOURCES = "tap, contact or recording, and after a colon a name if it has one"
KEYS = "id, t, kind, station, source, sigma_s, by, mark, seconds, retracts, alarm, what, to or text"


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({"sigma_s": -0.1}, "sigma_s: found -0.1; accepted a number from 0 to 86400"),
        ({"sigma_s": float("inf")}, "sigma_s: found inf; accepted a number from 0 to 86400"),
        ({"sigma_s": float("nan")}, "sigma_s: found nan; accepted a number from 0 to 86400"),
        ({"sigma_s": True}, "sigma_s: found true; accepted a number from 0 to 86400"),
        ({"sigma_s": "1"}, "sigma_s: found '1'; accepted a number from 0 to 86400"),
        ({"sigma_s": 10**400}, "sigma_s: found a number of 19 digits or more; accepted a number from 0 to 86400"),
        ({"id": 1}, "id: found 1; accepted " + ONE_LINE_TEXT),
        ({"id": ""}, "id: found ''; accepted " + ONE_LINE_TEXT),
        ({"id": "a\nb"}, "id: found 'a\\nb'; accepted " + ONE_LINE_TEXT),
        ({"id": "a\u2028b"}, "id: found 'a\\u2028b'; accepted " + ONE_LINE_TEXT),
        ({"id": "\ud800"}, "id: found '\\ud800'; accepted " + ONE_LINE_TEXT),
        ({"by": "x" * 201}, f"by: found '{'x' * 60}…'; accepted " + ONE_LINE_TEXT),
        ({"station": {"id": "a"}}, "station: found {…}; accepted " + ONE_LINE_TEXT),
        ({"source": "TAP"}, "source: found 'TAP'; accepted " + SOURCES),
        ({"source": "tapped"}, "source: found 'tapped'; accepted " + SOURCES),
        ({"house": "3"}, "house: found an unknown key; accepted " + KEYS),
        ({"kind": "slack_read", "seconds": 86401}, "seconds: found 86401; accepted -86400 to 86400"),
        ({"kind": "shelve", "station": None, "alarm": "a:b", "seconds": -1}, "seconds: found -1; accepted 0 to 86400"),
        (
            {"kind": "note", "station": None, "text": "x" * 2001},
            f"text: found '{'x' * 60}…'; accepted a text of 1 to 2000 characters",
        ),
        (
            {"kind": "retract", "station": None, "retracts": "1"},
            "retracts: found its own id '1'; accepted the id of another event",
        ),
    ],
)
def test_what_a_fault_says(changes: dict[str, object], fault: str) -> None:
    """A fault names the key, what was found there and what is accepted."""
    assert fault_of(line(**changes)) == fault


def test_every_fault_of_an_event_is_told() -> None:
    """Two faults of one event are told in one text."""
    assert fault_of(line(source="x", sigma_s=-1)).count("; accepted ") == 2
    assert fault_of(line(mark="head", text="x")).count("; accepted no ") == 2


def test_a_key_may_stand_once() -> None:
    """A line with a key twice is refused, for nobody can say which one counts."""
    assert fault_of('{"id": "1", "id": "1"}') == "found the key 'id' twice; accepted each key once"


def test_a_null_is_an_absent_key() -> None:
    """A key that is null counts as one that is not there."""
    assert event_from_json(line() | {"mark": None, "by": None}) == event_from_json(line())
    assert fault_of(line() | {"station": None}).startswith("station: found nothing; ")


@pytest.mark.parametrize(
    ("source", "counts_us", "sigma"),
    [
        ("contact", 1_500_000, 0.02),
        ("recording:x", 1_500_000, 0.02),
        ("tap", 1_250_000, 0.30),
        ("tap:x", 1_250_000, 0.30),
    ],
)
def test_a_tap_counts_earlier_and_less_surely(source: str, counts_us: int, sigma: float) -> None:
    """A tap counts at its time less the plan's lag, also where it brings its own uncertainty; others at their time."""
    event = event_from_json(line(source=source, t="2026-03-14T23:50:01.5Z"))
    assert at_us(event, PLAN) == counts_us
    assert sigma_s(event, PLAN) == sigma
    own = event.model_copy(update={"sigma_s": 0.0})
    assert (at_us(own, PLAN), sigma_s(own, PLAN)) == (counts_us, 0.0)
    assert order_key(event, PLAN) == (counts_us, "1")


def test_an_event_before_the_motors_counts_below_zero() -> None:
    """Times before `motors_at` are exact negative microseconds."""
    assert at_us(event_from_json(line(t="2026-03-14T23:49:59.999999Z")), PLAN) == -1


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({}, None),
        ({"station": "c"}, "station: found 'c'; accepted a or b"),
        ({"kind": "mark_pass", "mark": "head"}, None),
        (
            {"kind": "mark_pass", "mark": "t9"},
            "mark: found 't9'; accepted leader, short, head, tail, end or tail_end",
        ),
        ({"kind": "chain_start", "station": None}, None),
    ],
)
def test_what_the_plan_does_not_have_is_refused(changes: dict[str, object], text: str | None) -> None:
    """An event of a station or a mark that the plan does not have cannot belong to it."""
    assert refusal(event_from_json(line(**changes)), PLAN) == text


@pytest.mark.parametrize("kind", ["ack", "shelve"])
@pytest.mark.parametrize(
    ("alarm", "accepted"),
    [
        ("motor_gone:a", "accepted KIND:SUBJECT, where KIND is film_trip"),
        ("motor_lost", "accepted motor_lost:a or motor_lost:b"),
        ("motor_lost:a>b", "accepted motor_lost:a or motor_lost:b"),
        ("slack_tight:b>a", "accepted slack_tight:a>b"),
        ("clock_step:a", "accepted clock_step:chain"),
        ("call:Cellar", "accepted call:chain"),
        ("feed_silent:", "accepted feed_silent:SOURCE"),
    ],
)
def test_an_alarm_that_no_run_of_the_plan_can_have_is_refused(kind: str, alarm: str, accepted: str) -> None:
    """Nobody acknowledges what cannot be, and nothing is set aside by a slip of the pen."""
    keys: dict[str, object] = {"kind": kind, "station": None, "alarm": alarm}
    said = refusal(event_from_json(line(**keys, **({"seconds": 60.0} if kind == "shelve" else {}))), PLAN)
    assert said is not None
    assert said.startswith(f"alarm: found '{alarm}'; {accepted}")


def test_every_alarm_that_there_can_be_is_accepted() -> None:
    """Every kind, about everything of a plan that it can be about."""
    for kind, row in ALARM_KINDS.items():
        for subject in subjects_of(row.subject, PLAN) or ("contact:north",):
            assert alarm_refusal(f"{kind}:{subject}", PLAN) is None


def plan_of(path: Path) -> Plan:
    """The plan that a recording's header names; the pair where it has none."""
    header = path.read_bytes().splitlines()[0]
    name = str(json.loads(header).get("plan", "pair.plan.toml"))
    return parse_plan((FIXTURES / "plans" / name).read_text(), name)


@pytest.mark.parametrize("path", sorted((FIXTURES / "recordings" / "good").iterdir()), ids=lambda path: path.name)
def test_a_good_recording_has_nothing_rejected(path: Path) -> None:
    """Every line of a good recording of the fixtures is taken, in order of time and id."""
    plan = plan_of(path)
    recording = read_recording(path.read_text().splitlines(), plan, path.name)
    assert recording.rejected == []
    assert recording.events
    keys = [order_key(event, plan) for event in recording.events]
    assert keys == sorted(set(keys))


@pytest.mark.parametrize(
    "path", sorted((FIXTURES / "recordings" / "bad").glob("*.events.jsonl")), ids=lambda path: path.name
)
def test_a_bad_recording_has_what_lies_beside_it(path: Path) -> None:
    """A bad recording of the fixtures is rejected line by line, or as a whole, as it says beside it."""
    expected = path.with_name(path.name.replace(".events.jsonl", ".rejected.txt")).read_text().splitlines()
    lines = path.read_bytes().splitlines()
    try:
        found = [f"{line}: {text}" for line, text in read_recording(lines, plan_of(path), path.name).rejected]
    except RecordingFault as fault:
        found = [str(fault)]
    assert found == expected


def test_the_rules_of_copies_and_retracts() -> None:
    """Copies count once, differing ones not at all, and a retract only where what it retracts is taken."""
    path = FIXTURES / "recordings" / "bad" / "ids.events.jsonl"
    recording = read_recording(path.read_text().splitlines(), PLAN, path.name)
    assert [event.id for event in recording.events] == ["later", "same", "r-before"]


@settings(deadline=None)
@given(st.permutations((FIXTURES / "recordings" / "bad" / "ids.events.jsonl").read_text().splitlines()))
def test_the_order_of_lines_does_not_matter(lines: list[str]) -> None:
    """Whatever the order of a recording's lines, the same events are taken, in the same order."""
    recording = read_recording(lines, PLAN, "shuffled")
    assert [event.id for event in recording.events] == ["later", "same", "r-before"]
    assert len(recording.rejected) == 6


def test_the_header_is_handed_on_and_its_format_checked() -> None:
    """The first line that is not blank may be a header; an unknown format is fatal and named."""
    header = {"format": "festoon-events/1", "plan": "x", "anything": [1]}
    event = json.dumps(line())
    recording = read_recording(["\ufeff" + json.dumps(header), "", "  ", event], PLAN, "x")
    assert recording.header == header
    assert len(recording.events) == 1
    assert read_recording(["", json.dumps(header), event], PLAN, "x").header == header
    assert read_recording([event], PLAN, "x").header == {}
    assert read_recording([], PLAN, "x") == ({}, [], [])
    with pytest.raises(RecordingFault, match=r"^x: line 2: format: found 7; accepted 'festoon-events/1'$"):
        read_recording(["", '{"format": 7}'], PLAN, "x")


def test_a_malformed_line_takes_no_other_with_it() -> None:
    """A line that is no event does not count as another content of its id."""
    lines = [json.dumps(line()), json.dumps(line(kind="motor_begin"))]
    recording = read_recording(lines, PLAN, "x")
    assert [event.id for event in recording.events] == ["1"]
    assert [rejected.line for rejected in recording.rejected] == [2]


def test_an_event_cannot_be_changed() -> None:
    """An event is a fact: it has no settable part."""
    event = event_from_json(line())
    with pytest.raises(ValueError, match="frozen"):
        event.station = "b"  # type: ignore[misc]
