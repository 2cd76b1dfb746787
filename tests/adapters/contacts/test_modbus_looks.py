"""When a module is looked at: seldom enough for its wire, and in no step with what it looks at."""

from itertools import accumulate, islice

import pytest

from adapters.contacts.modbus import waits_s


def test_no_look_comes_later_than_the_poll_and_none_much_sooner() -> None:
    """What a plan says of a poll is the longest time from look to look."""
    waits = list(islice(waits_s(0.05), 1000))
    assert max(waits) <= 0.05
    assert min(waits) >= 0.03


@pytest.mark.parametrize("half_s", [0.02, 0.0205, 0.025, 0.04, 0.05])
def test_a_contact_that_flickers_in_step_with_its_poll_is_seen_to_change(half_s: float) -> None:
    """On for as long as off, as fast as the poll or half as fast: any two seconds of looks see it both ways, often."""
    levels = [int(at_s / half_s) % 2 for at_s in accumulate(islice(waits_s(0.05), 2000))]
    for first in range(0, len(levels) - 50, 50):
        assert 5 <= sum(levels[first : first + 50]) <= 45
