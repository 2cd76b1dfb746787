"""A replay told to people: houses and links by their names, causes in words."""

import io
from collections.abc import Sequence
from pathlib import Path

from rich.console import Console

from server.terminal.replay import show_account
from server.timeline.events import Event, Recording, read_recording
from server.timeline.plan import Plan, parse_plan
from tests.timeline.story import HEAD_S, TRANSIT_S, event, lamps, plan_of, starts

FIXTURES = Path(__file__).parents[2] / "fixtures"
PLAN = plan_of(3)


def told(events: Sequence[Event], until_s: float, plan: Plan = PLAN) -> str:
    return shown(plan, Recording({}, sorted(events, key=lambda one: one.t), []), round(until_s * 1e6))


def shown(plan: Plan, recording: Recording, until_us: int | None = None) -> str:
    out = io.StringIO()
    show_account(plan, recording, until_us, Console(file=out, width=200))
    return out.getvalue()


def with_named_houses(plan: Plan) -> Plan:
    """The same chain with ids that nobody could take for a house's name."""
    stations = tuple(
        station.model_copy(update={"id": f"stn{k}", "house": name})
        for k, (station, name) in enumerate(zip(plan.stations, ("4", "6", "7"), strict=True))
    )
    return Plan.model_validate({name: getattr(plan, name) for name in Plan.model_fields} | {"stations": stations})


NAMED = with_named_houses(PLAN)


def test_no_line_names_an_id() -> None:
    """A stop in the middle, what follows of it and the links at the end are all told by houses."""
    events = [*starts(NAMED), *lamps(NAMED), event(NAMED, 300.0, "motor_stop", "stn1")]
    text = told(events, 340.0, NAMED)
    assert "stn" not in text
    assert ">" not in text
    assert "House 6 has stopped" in text
    assert "House 4 to 6" in text
    assert "House 6 to 7" in text


def test_a_cause_is_told_in_words() -> None:
    """What follows from another alarm says from which, by its kind and its house."""
    text = told([*starts(PLAN), event(PLAN, 200.0, "note", text="x")], 200.0)
    assert "(follows from strike missed, House 1)" in text
    assert "strike_missed" not in text


def test_a_link_with_a_free_end_has_a_dash_and_why() -> None:
    """The film's end has left the first gate and not the second: one link has no slack, and a line says why."""
    out_s = PLAN.mark("tail_end").x_s
    events = [
        *starts(PLAN),
        *lamps(PLAN),
        event(PLAN, out_s, "film_trip", "a"),
        event(PLAN, out_s + 1.0, "motor_stop", "a"),
    ]
    text = told(events, out_s + 10.0)
    rows = {line.split("│")[1].strip(): line for line in text.splitlines() if "│ House" in line}
    assert rows["House 1 to 2"].replace(" ", "") == "│House1to2│-│-│-│"
    assert "±" in rows["House 2 to 3"]
    assert "A dash: the film's end has left the gate above" in text
    assert "A dash" not in told([*starts(PLAN), *lamps(PLAN)], HEAD_S + TRANSIT_S)


def test_open_alarms_say_what_to_do() -> None:
    """Each alarm that is open at the end has under it what to do about it."""
    text = told([*starts(PLAN), *lamps(PLAN), event(PLAN, 300.0, "film_trip", "b")], 303.0)
    lines = text[text.index("Open alarms") :].splitlines()
    at = next(n for n, line in enumerate(lines) if "House 2: the failsafe tripped" in line)
    assert lines[at].startswith("  act: ")
    assert lines[at + 1].startswith("    ")
    assert len(lines[at + 1].split()) > 3


def test_lines_that_are_not_taken_are_told_first() -> None:
    """Each bad line has its number and why; the rest is replayed."""
    plan = parse_plan((FIXTURES / "plans/pair.plan.toml").read_text(), "pair")
    good = (FIXTURES / "recordings/good/pair.events.jsonl").read_text().split("\n")
    recording = read_recording([*good, "{}"], plan, "x")
    lines = shown(plan, recording).splitlines()
    (line, why) = recording.rejected[-1]
    assert lines[1] == f"line {line} is not taken: {why}"
    assert "House 1 has its picture on screen" in "\n".join(lines)
