"""The measurements of an archive, small: that they measure, and that nothing is lost or doubled."""

from pathlib import Path

import pytest

from tests.bench.archive.kills import kills
from tests.bench.archive.year import year

pytestmark = pytest.mark.slow


def test_nothing_is_lost_or_doubled_by_what_ends_at_random_instants(tmp_path: Path) -> None:
    """Every event of the log is in the archive once and in order, and every acknowledged one is among them."""
    told = list(kills(tmp_path, 4, 3))
    assert told[2] == "lost 0, doubled 0, in order True"
    assert told[3] == "acknowledged and not in the archive: 0; branches: 1"


def test_a_year_is_made_and_gone_through(tmp_path: Path) -> None:
    """The generated data can be read by what reads an archive."""
    assert len(list(year(tmp_path, 21, 3, 2))) == 10
