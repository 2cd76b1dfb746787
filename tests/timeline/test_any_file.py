"""Plans and recordings that are wrong in any way whatever: told, line by line, and nothing else comes of it."""

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.mangled import mangled, mangled_bytes
from tests.readers import FIXTURES, READERS

PLAN_TEXT = (FIXTURES / "plans/pair.plan.toml").read_text(encoding="utf-8")
unhurried = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])


@unhurried
@given(mangled(PLAN_TEXT) | st.text())
def test_any_text_is_a_plan_or_its_faults(text: str) -> None:
    """A plan that is read has a schedule, and an engine that can be asked about it."""
    READERS["plan"].read(text.encode("utf-8", "replace"))


@unhurried
@given(mangled_bytes(READERS["recording"].seeds[0]) | st.binary())
def test_any_bytes_are_a_recording_or_one_fault(data: bytes) -> None:
    """Every line is an event, a copy of one, the header, or rejected with its number; what is read can be shown."""
    READERS["recording"].read(data)
