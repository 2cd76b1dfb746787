"""Plans and recordings that are wrong in any way whatever: told, line by line, and nothing else comes of it."""

from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server.timeline.engine import Engine
from server.timeline.events import Recording, RecordingFault, at_us, read_recording
from server.timeline.plan import Plan, PlanFaults, parse_plan
from server.timeline.schedule import schedule_from_plan
from tests.mangled import mangled, mangled_bytes

FIXTURES = Path(__file__).parents[2] / "fixtures"
PLAN_TEXT = (FIXTURES / "plans/pair.plan.toml").read_text(encoding="utf-8")
PLAN = parse_plan(PLAN_TEXT, "pair.plan.toml")
EVENTS_TEXT = (FIXTURES / "recordings/good/pair.events.jsonl").read_text(encoding="utf-8")
unhurried = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])


def plan_of(text: str) -> Plan | None:
    """The plan, or None where there are faults, each one line that names the file."""
    try:
        return parse_plan(text, "any.plan.toml")
    except PlanFaults as found:
        faults = found.faults
    assert faults
    assert all(fault.startswith("any.plan.toml: ") and fault.isprintable() for fault in faults)
    return None


@unhurried
@given(mangled(PLAN_TEXT) | st.text())
def test_any_text_is_a_plan_or_its_faults(text: str) -> None:
    """A plan that is read has a schedule, and an engine that can be asked about it."""
    plan = plan_of(text)
    if plan is not None:
        schedule_from_plan(plan).as_json()
        engine = Engine(plan)
        engine.advance(0)
        engine.view()


def recording_of(data: bytes) -> Recording | None:
    """The recording, or None where it is none, for a reason that is one line and names the file."""
    try:
        return read_recording(data.split(b"\n"), PLAN, "any.events.jsonl")
    except RecordingFault as found:
        fault = str(found)
    assert fault.startswith("any.events.jsonl: ")
    assert fault.isprintable()
    return None


@unhurried
@given(mangled_bytes(EVENTS_TEXT.encode()) | st.binary())
def test_any_bytes_are_a_recording_or_one_fault(data: bytes) -> None:
    """Every line is an event, a copy of one, the header, or rejected with its number; what is read can be shown."""
    recording = recording_of(data)
    if recording is None:
        return
    lines = [number for number, line in enumerate(data.split(b"\n"), 1) if line.strip()]
    numbers = [rejected.line for rejected in recording.rejected]
    assert numbers == sorted(set(numbers))
    assert set(numbers) <= set(lines)
    assert all(rejected.text.isprintable() for rejected in recording.rejected)
    assert len(recording.events) + len(numbers) <= len(lines)
    show(recording)


def show(recording: Recording) -> None:
    """Take every event that the engine does not refuse."""
    engine, now_us = Engine(PLAN), 0
    for event in recording.events:
        if engine.refusal(event) is None:
            now_us = max(now_us, at_us(event, PLAN))
            engine.take(event, now_us)
    engine.advance(now_us + 1)
    engine.view()
