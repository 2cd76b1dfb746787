"""An electrical contact as a box with inputs sees it: it bounces, is sampled, and counts once it has settled."""

from collections.abc import Sequence
from math import ceil
from typing import NamedTuple

import numpy as np

# J. Ganssle, "A guide to debouncing": mean 1.557 ms, longest of the usual 6.2 ms, worst seen 157 ms.
BOUNCE_MEAN_S = 0.001557
BOUNCE_USUAL_S = 0.0062
BOUNCE_WORST_S = 0.157
# A beta distribution over 0 to the longest usual bounce, with that mean: 1 / (1 + b) = mean / longest.
_BOUNCE_B = BOUNCE_USUAL_S / BOUNCE_MEAN_S - 1.0
# Chosen.
_WORST_SHARE = 0.0005
_EDGES_MEAN = 3.0
# Chosen: twenty polls a second, a level must be seen twice.
SAMPLE_S = 0.05
HOLD = 2
# Chosen: a detector answers a foil cue up to half a frame early or late, by where along the foil it is near enough.
_FOIL_FRAMES = 0.5


class Change(NamedTuple):
    """A contact that has settled: when it changed, and whether it is closed since."""

    at_s: float
    closed: bool


def foil_s(rng: np.random.Generator, frame_rate: float) -> float:
    """How much after the mark itself a detector closes; below 0, before."""
    return float(rng.uniform(-_FOIL_FRAMES, _FOIL_FRAMES)) / frame_rate


def bounce_s(rng: np.random.Generator) -> float:
    """How long one contact goes on bouncing."""
    if rng.random() < _WORST_SHARE:
        return BOUNCE_WORST_S
    return BOUNCE_USUAL_S * float(rng.beta(1.0, _BOUNCE_B))


def edges_s(rng: np.random.Generator, at_s: float) -> list[float]:
    """Every instant at which the contact goes over, from the first touch on: an odd number, so it ends changed."""
    bounces = 2 * int(rng.poisson(_EDGES_MEAN / 2.0))
    last_s = bounce_s(rng)
    between_s: list[float] = np.sort(rng.uniform(0.0, last_s, max(0, bounces - 1))).tolist()
    return [at_s, *(at_s + later_s for later_s in between_s), at_s + last_s] if bounces else [at_s]


def samples(edges: Sequence[float], phase_s: float, *, closed_after: bool) -> list[Change]:
    """What polls every SAMPLE_S see, from the last one before the first edge until the contact has long settled."""
    first = ceil((edges[0] - phase_s) / SAMPLE_S) - 1
    polls = int((edges[-1] - edges[0]) / SAMPLE_S) + HOLD + 2
    times_s = [phase_s + SAMPLE_S * (first + n) for n in range(polls)]
    return [Change(t, (sum(edge <= t for edge in edges) % 2 == 1) == closed_after) for t in times_s]


class Debounce:
    """Says when a sampled level has changed: once HOLD samples agree, as of the first of them less half a sample."""

    def __init__(self, *, closed: bool) -> None:
        self._closed = closed
        self._since_s = 0.0
        self._agreed = 0

    def feed(self, at_s: float, *, closed: bool) -> Change | None:
        """Take one sample; the change that it completes, or None."""
        if closed is self._closed:
            self._agreed = 0
            return None
        if self._agreed == 0:
            self._since_s = at_s
        self._agreed += 1
        if self._agreed < HOLD:
            return None
        self._closed, self._agreed = closed, 0
        return Change(self._since_s - SAMPLE_S / 2.0, closed)


def changes(rng: np.random.Generator, at_s: float, *, closed: bool) -> list[Change]:
    """What a contact that goes over at `at_s` is reported as: one change, or three where it bounces for long."""
    debounce = Debounce(closed=not closed)
    seen = samples(edges_s(rng, at_s), float(rng.uniform(0.0, SAMPLE_S)), closed_after=closed)
    found = (debounce.feed(sample.at_s, closed=sample.closed) for sample in seen)
    return [change for change in found if change is not None]
