"""A wiring file that is wrong in any way whatever is told, fault by fault."""

from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from adapters.contacts.wiring import WiringFaults, read_wiring
from server.timeline.plan import parse_plan
from tests.adapters.contacts.wired import KINDS
from tests.mangled import mangled

FIXTURES = Path(__file__).parents[3] / "fixtures"
WIRING_TEXT = (FIXTURES / "contacts/pair.contacts.toml").read_text(encoding="utf-8")
PLAN = parse_plan((FIXTURES / "plans/pair.plan.toml").read_text(encoding="utf-8"), "pair.plan.toml")


@settings(deadline=None)
@given(mangled(WIRING_TEXT) | st.text())
def test_any_text_is_a_wiring_or_its_faults(text: str) -> None:
    """Each fault is one line that names the file; what is read is of stations and kinds that there are."""
    faults: list[str] = []
    try:
        wiring = read_wiring(text, "any.contacts.toml", PLAN, KINDS)
    except WiringFaults as found:
        faults = found.faults
    else:
        assert {each.station for each in wiring.inputs} <= set(PLAN.station_index)
        assert all(feed.kind in KINDS.values() for feed in wiring.feeds)
        assert all(warning.isprintable() for warning in wiring.warnings)
    assert all(fault.startswith("any.contacts.toml: ") and fault.isprintable() for fault in faults)
