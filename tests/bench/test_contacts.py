"""The measurement of contacts itself: short, and with no limit of time, which is for a machine at rest."""

from pathlib import Path

import pytest

from tests.bench.contacts import INPUTS, measure

pytestmark = pytest.mark.slow


@pytest.mark.parametrize(("kind", "flooded"), [("text", False), ("modbus", False), ("text", True)])
async def test_every_change_of_fifty_inputs_reaches_the_wall_in_its_order(
    kind: str, flooded: bool, tmp_path: Path
) -> None:
    """A server of its own process, fifty inputs, one change each: none lost, none out of order, flood or no flood."""
    measured = await measure(kind, tmp_path, rate=25.0, seconds=INPUTS / 25, flooded=flooded)
    assert (measured.count, measured.lost(), measured.wrong) == (INPUTS, 0, [])
