"""One motor and its sprockets: it runs up, runs at a rate that is never quite the nominal one, and coasts when stopped.

The sprockets hold the film, so the film fed is the time integral of the motor's speed and of nothing else. `speed =
profile x (1 + own error + mains error + wander + faults)`, with a profile that rises in a straight line from 0 to 1 and
falls so again.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from typing import NamedTuple

import numpy as np

from adapters.drill.motion import Curve, Flags, Floats, Places, curve_from_velocities

# Chosen: far below every time in which a link's reserve goes, far above what the simulation costs.
WANDER_STEP_S = 2.0
PPM = 1e-6
_S_PER_HOUR = 3600.0


class Spell(NamedTuple):
    """One time of running, from `on_s` until the power goes at `off_s`.

    `lost_s` of film are not fed while the motor runs up, `coast_s` are fed after `off_s`.
    """

    on_s: float
    off_s: float
    lost_s: float
    coast_s: float


class Inch(NamedTuple):
    """Film taken through a standing projector by hand: `film_s` of it from `at_s` on, at `speed` times the nominal."""

    at_s: float
    film_s: float
    speed: float = 1.0

    @property
    def until_s(self) -> float:
        return self.at_s + self.film_s / self.speed


class RateStep(NamedTuple):
    """A change of rate that holds from `from_s` until `until_s`."""

    from_s: float
    until_s: float
    ppm: float


@dataclass(frozen=True)
class Motor:
    """How one motor errs.

    `error_ppm` never changes; `wander_ppm` (n,) is its random walk at every WANDER_STEP_S of running time, 0.0 at
    first; `steps` come on top.
    """

    error_ppm: float
    wander_ppm: Floats
    steps: tuple[RateStep, ...] = ()

    def curve(self, spells: Sequence[Spell], inches: Sequence[Inch], until_s: float) -> Curve:
        """The film fed up to `until_s`; the spells are in order of time and do not overlap."""
        pieces = _pieces(spells, inches, until_s)
        at_s = self._borders_s(pieces, spells)
        middle_s = 0.5 * (at_s[:-1] + at_s[1:])
        j = np.searchsorted(pieces.from_s, middle_s, side="right") - 1
        steady_ppm = self.error_ppm + self._stepped_ppm(middle_s)
        wander_ppm = np.interp(_running_s(spells, at_s), _walk_s(self.wander_ppm), self.wander_ppm)
        start = _profile(pieces, j, at_s[:-1]) * _factor(pieces.by_motor[j], steady_ppm + wander_ppm[:-1])
        end = _profile(pieces, j, at_s[1:]) * _factor(pieces.by_motor[j], steady_ppm + wander_ppm[1:])
        return curve_from_velocities(at_s, start, end)

    def _stepped_ppm(self, t_s: Floats) -> Floats:
        total = np.zeros_like(t_s)
        for step in self.steps:
            total += np.where((t_s >= step.from_s) & (t_s < step.until_s), step.ppm, 0.0)
        return total

    def _borders_s(self, pieces: "_Pieces", spells: Sequence[Spell]) -> Floats:
        """Every time at which the velocity may have a corner."""
        until_s = float(pieces.until_s[-1])
        faults_s = [t for step in self.steps for t in (step.from_s, step.until_s) if pieces.from_s[0] < t < until_s]
        walk_s = _at_running(spells, _walk_s(self.wander_ppm), until_s) if self.wander_ppm.any() else []
        return np.unique(np.concatenate((pieces.from_s, pieces.until_s, faults_s, *walk_s)))


class _Pieces(NamedTuple):
    """The profile as straight pieces that follow each other without a gap."""

    from_s: Floats
    until_s: Floats
    start: Floats
    end: Floats
    by_motor: Flags


_Piece = tuple[float, float, float, float, bool]


def wander(rng: np.random.Generator, ppm_per_sqrt_hour: float, length_s: float) -> Floats:
    """A random walk over that much running time, from 0.0, one value every WANDER_STEP_S."""
    steps = int(length_s / WANDER_STEP_S) + 2
    sd_ppm = ppm_per_sqrt_hour * (WANDER_STEP_S / _S_PER_HOUR) ** 0.5
    return np.concatenate(([0.0], np.cumsum(rng.standard_normal(steps) * sd_ppm)))


def _pieces(spells: Sequence[Spell], inches: Sequence[Inch], until_s: float) -> _Pieces:
    busy = [(inch.at_s, inch.until_s, inch.speed, inch.speed, False) for inch in inches if inch.film_s > 0.0]
    for n, spell in enumerate(spells):
        busy += _spell_pieces(spell, spells[n + 1].on_s if n + 1 < len(spells) else inf)
    return _without_gaps(sorted(busy), until_s)


def _spell_pieces(spell: Spell, next_s: float) -> list[_Piece]:
    """Up, along and down; a stop during the run-up coasts from the speed it had."""
    up_s = 2.0 * spell.lost_s
    full_s = spell.on_s + up_s
    top = 1.0 if spell.off_s >= full_s else (spell.off_s - spell.on_s) / up_s
    down_s = min(spell.off_s + 2.0 * spell.coast_s, next_s)
    bottom = top * (1.0 - (down_s - spell.off_s) / (2.0 * spell.coast_s)) if down_s > spell.off_s else 0.0
    pieces = [
        (spell.on_s, min(full_s, spell.off_s), 0.0, top, True),
        (full_s, spell.off_s, 1.0, 1.0, True),
        (spell.off_s, down_s, top, bottom, True),
    ]
    return [piece for piece in pieces if piece[1] > piece[0]]


def _without_gaps(busy: Sequence[_Piece], until_s: float) -> _Pieces:
    """Fill up with standing film, and cut at `until_s`."""
    at_s = busy[0][0] if busy else until_s - 1.0
    pieces: list[_Piece] = []
    for piece in busy:
        if piece[0] > at_s:
            pieces.append((at_s, piece[0], 0.0, 0.0, True))
        pieces.append(piece)
        at_s = piece[1]
    pieces.append((at_s, inf, 0.0, 0.0, True))
    kept = [_cut(piece, until_s) for piece in pieces if piece[0] < until_s]
    from_s, ends_s, start, end, by_motor = zip(*kept, strict=True)
    return _Pieces(np.array(from_s), np.array(ends_s), np.array(start), np.array(end), np.array(by_motor))


def _cut(piece: _Piece, until_s: float) -> _Piece:
    from_s, end_s, start, end, by_motor = piece
    if end_s <= until_s:
        return piece
    if start == end:
        return from_s, until_s, start, end, by_motor
    share = (until_s - from_s) / (end_s - from_s)
    return from_s, until_s, start, start + share * (end - start), by_motor


def _profile(pieces: _Pieces, j: Places, t_s: Floats) -> Floats:
    share = (t_s - pieces.from_s[j]) / (pieces.until_s[j] - pieces.from_s[j])
    return np.asarray(pieces.start[j] + share * (pieces.end[j] - pieces.start[j]), dtype=np.float64)


def _factor(by_motor: Flags, error_ppm: Floats) -> Floats:
    return np.where(by_motor, np.maximum(0.0, 1.0 + error_ppm * PPM), 1.0)


def _walk_s(walk: Floats) -> Floats:
    return np.arange(len(walk), dtype=np.float64) * WANDER_STEP_S


def _running_s(spells: Sequence[Spell], t_s: Floats) -> Floats:
    """How long the motor has had power by each time."""
    total = np.zeros_like(t_s)
    for spell in spells:
        total += np.minimum(np.maximum(t_s, spell.on_s), spell.off_s) - spell.on_s
    return total


def _at_running(spells: Sequence[Spell], running_s: Floats, until_s: float) -> list[Floats]:
    """The times, before `until_s`, at which the motor has had power for so long."""
    found: list[Floats] = []
    before_s = 0.0
    for spell in spells:
        t_s = spell.on_s + (running_s - before_s)
        found.append(t_s[(t_s > spell.on_s) & (t_s < min(spell.off_s, until_s))])
        before_s += spell.off_s - spell.on_s
    return found
