"""A wiring file that is wrong in any way whatever is told, fault by fault."""

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.mangled import mangled
from tests.readers import READERS

WIRING_TEXT = READERS["wiring"].seeds[0].decode()


@settings(deadline=None)
@given(mangled(WIRING_TEXT) | st.text())
def test_any_text_is_a_wiring_or_its_faults(text: str) -> None:
    """Each fault is one line that names the file; what is read is of stations and kinds that there are."""
    READERS["wiring"].read(text.encode("utf-8", "replace"))
