"""What every test shares: nothing but the order they run in."""

import pytest
from hypothesis import settings

# How long an example takes is of the computer and what else it does.
settings.register_profile("festoon", deadline=None)
settings.load_profile("festoon")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put browser tests last: Playwright leaves an event loop running in its thread, where no async test can start.

    What waits for a minute, whatever the computer, begins before the others: beside it they go on.
    """
    items.sort(
        key=lambda item: ("playwright" in getattr(item, "fixturenames", ()), not item.get_closest_marker("long"))
    )
