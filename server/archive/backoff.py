"""How long to wait before an archive that failed is tried again."""

from random import SystemRandom
from typing import Final

FIRST_S: Final = 0.5
LONGEST_S: Final = 60.0
"""Each wait is about twice the one before. Chosen: an archive that is back is not met by a thousand sites at once."""

_chance = SystemRandom()


def wait_s(failures: int) -> float:
    """The wait after so many failures in a row, from 1: by chance between half of it and all."""
    return min(LONGEST_S, FIRST_S * 2.0 ** min(failures - 1, 16)) * _chance.uniform(0.5, 1.0)
