"""A site file that is wrong in any way whatever is told, fault by fault."""

from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from server.planning.site import SiteFaults, parse_site
from tests.mangled import mangled

SITE_TEXT = (Path(__file__).parents[2] / "fixtures/sites/larch.site.toml").read_text(encoding="utf-8")


@settings(deadline=None)
@given(mangled(SITE_TEXT) | st.text())
def test_any_text_is_a_site_or_its_faults(text: str) -> None:
    """Each fault is one line that names the file; a path of what is read joins two of its houses."""
    faults: list[str] = []
    try:
        site = parse_site(text, "any.site.toml")
    except SiteFaults as found:
        faults = found.faults
    else:
        houses = {house.house for house in site.houses}
        assert all(set(path.houses) <= houses for path in site.paths)
    assert all(fault.startswith("any.site.toml: ") and fault.isprintable() for fault in faults)
