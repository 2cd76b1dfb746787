"""A site file that is wrong in any way whatever is told, fault by fault."""

from hypothesis import given
from hypothesis import strategies as st

from tests.mangled import mangled
from tests.readers import FIXTURES, READERS

SITE_TEXT = (FIXTURES / "sites/larch.site.toml").read_text(encoding="utf-8")


@given(mangled(SITE_TEXT) | st.text())
def test_any_text_is_a_site_or_its_faults(text: str) -> None:
    """Each fault is one line that names the file; a path of what is read joins two of its houses."""
    READERS["site"].read(text.encode("utf-8", "replace"))
