"""Seeded chance, cut into streams, so that one more fault does not change what all the rest do."""

from zlib import crc32

import numpy as np


class Chance:
    """All the chance of one drill; equal seeds give equal drills."""

    def __init__(self, seed: int) -> None:
        self._seed = seed

    def stream(self, *names: str) -> np.random.Generator:
        """The stream of that name, from its beginning: the same numbers whatever else was drawn."""
        return np.random.default_rng([self._seed, crc32("/".join(names).encode())])


def at_least_zero(rng: np.random.Generator, mean: float, sd: float) -> float:
    """A normal draw that cannot be negative: a motor loses film as it runs up, it never gains any."""
    return max(0.0, mean + sd * float(rng.standard_normal()))
