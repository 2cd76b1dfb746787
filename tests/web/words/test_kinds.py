"""The kinds that desks know, beside the engine's tables."""

from tests.wire import KINDS, kinds_module


def test_desks_know_the_kinds_that_the_engine_knows() -> None:
    """What is added to a table, or worded anew, is made again for the browser: `python -m tests.wire --kinds`."""
    assert KINDS.read_text(encoding="utf-8") == kinds_module()
