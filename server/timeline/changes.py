"""Changes that may have happened: what each would have done to the estimate, and how much speaks for it.

A change is a jump `j` of a count together with a change `e` of a rate, at one instant: of one motor's, or of all
motors' together. Had it happened, the truth would since have left the estimate along `V theta`, `theta = (j, e)`:

    between events     V <- F V                      F is the estimate's own prediction
    at an observation  s = H V                       what the change would have shown
                       L <- L + s' s / S             S is the innovation's variance
                       y <- y + s' nu / S            nu is the innovation
                       V <- V - K s                  K is the estimate's own gain

so that `theta` is known to be `(L + P0^-1)^-1 y`, with that inverse as its covariance, exactly as if it had been part
of the state (B. Friedland's separate estimation of bias, 1969; A. Willsky and H. Jones's generalised likelihood ratio,
1976; from memory). An observation that the estimate does not take, since without a change it is an outlier, is taken
by those changes by which it fits: L and y grow, V stays. Each observation is a mixture of an honest error and a slip of
density `q`, so that without the change it was a slip: the change is that much less likely for it. What was seen is
likelier by it than without by twice the logarithm

    y' (L + P0^-1)^-1 y - ln |I + P0 L| - sum over such observations of (nu^2 / S + 2 ln(q sqrt(2 pi S)))

which is believed where it is over what a change is less probable beforehand. A jump and a change of rate stand together
because nobody knows when, between two observations, a rate began to differ: if the next good one is `g` later then most
likely in the middle, so that `j = -e g / 2` give or take the standard deviation of a jump.
"""

import math
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

MISFIT_SD = 5.0
"""An innovation past so many standard deviations is an outlier."""

# chosen: a motor or its film is disturbed once in ten hours or so, and between two observations two minutes go by
_PRIOR = 0.003
# chosen: what is believed is right this many times as often as not
_SURE = 20.0
BELIEVED = 2.0 * math.log(_SURE / _PRIOR)
"""How much likelier, as twice the logarithm, a change has to make what was seen."""

# chosen: changes that began at any of this many of a motor's latest good observations are kept in mind
ONSETS = 5
# chosen: one standard deviation of (jump in s, rate) before anything is seen: a motor is off by a few thousandths, all
# of them by a hundredth (EN 50160) and by as much as that makes in ten minutes
_OWN_SIGMA = (0.5, 0.003)
_COMMON_SIGMA = (6.0, 0.01)
# chosen: of what size a change is nobody knows, so what is believed of it has priors of its rate with these multiples
# of that standard deviation, each as probable as the others
_SHARES: Array = np.array((3.0, 1.0, 0.3, 0.1))


class Change(NamedTuple):
    """A change that is believed: what to add to the mean of the state, and to its covariance."""

    mean: Array
    cov: Array


class Speakers(NamedTuple):
    """Changes that something speaks for: of `m` stations, by how many standard deviations, and what they would be.

    `slots` is where each is kept, `all_sd` how many speak for a change of all motors; `theta` (2, m) and `spread`
    (2, 2, m) are what is known of the jump and of the change of rate.
    """

    stations: NDArray[np.intp]
    slots: NDArray[np.intp]
    sd: Array
    all_sd: float
    theta: Array
    spread: Array


class Changes:
    """Every change kept in mind, for a state of `size` unknowns of which the first `stations` are the counts.

    A subject is a station, or `stations` for all motors together. For each there are ONSETS slots, used in turn. `V`
    has two columns a slot: the jumps of all slots come first, then the changes of rate. `L` has three rows: its first
    diagonal, its other element, its second diagonal; `P0^-1` is in it from the start. A slot's `cost` is the sum over
    outliers.
    """

    __slots__ = ("_cost", "_deviation", "_info", "_next", "_precision", "_score", "_stations")

    def __init__(self, stations: int, size: int) -> None:
        slots = (stations + 1) * ONSETS
        self._stations = stations
        self._precision: Array = np.zeros((3, slots))
        self._precision[::2] = np.array(_OWN_SIGMA)[:, None] ** -2.0
        self._precision[::2, stations * ONSETS :] = np.array(_COMMON_SIGMA)[:, None] ** -2.0
        self._deviation: Array = np.zeros((size, 2 * slots))
        self._info = self._precision.copy()
        self._score: Array = np.zeros((2, slots))
        self._cost: Array = np.zeros(slots)
        self._next = (0,) * (stations + 1)
        # A leader may be longer than planned from the start on.
        self.keep(stations)

    def copy(self) -> Self:
        """Return an independent copy."""
        twin = object.__new__(type(self))
        twin._stations, twin._precision, twin._next = self._stations, self._precision, self._next
        twin._deviation, twin._info, twin._score = self._deviation.copy(), self._info.copy(), self._score.copy()
        twin._cost = self._cost.copy()
        return twin

    def predict(self, moved_s: Array) -> None:
        """Move on: each count by `moved_s` times its rate, own and common."""
        n, deviation = self._stations, self._deviation
        deviation[:n] += moved_s[:, None] * (deviation[n : 2 * n] + deviation[2 * n])

    def learn(self, row: Array, gain: Array, innovation: float, variance: float) -> None:
        """Take an observation that the estimate took; `gain` is its covariance with the state, before division."""
        shown = row @ self._deviation
        scaled = shown / variance
        jump, rate = shown.reshape(2, -1)
        self._info += np.array((jump * jump, jump * rate, rate * rate)) / variance
        self._score += innovation * scaled.reshape(2, -1)
        self._deviation -= gain[:, None] * scaled

    def doubt(self, row: Array, innovation: float, variance: float, slips_per_s: float, *, own: bool) -> None:
        """Take an observation that the estimate did not take, for those changes by which it fits.

        Slips lie `slips_per_s` dense about where it should have been. Where it is not `own` no change of one motor can
        explain it.
        """
        shown = (row @ self._deviation).reshape(2, -1)
        theta, spread = _known(self._info, self._score)
        off = innovation - (shown * theta).sum(axis=0)
        may = own | (np.arange(len(off)) >= self._stations * ONSETS)
        fits = may & (off * off <= MISFIT_SD**2 * (variance + np.einsum("is,ijs,js->s", shown, spread, shown)))
        jump, rate = shown * fits
        self._info += np.array((jump * jump, jump * rate, rate * rate)) / variance
        self._score += innovation * np.array((jump, rate)) / variance
        slip = innovation**2 / variance + 2.0 * math.log(slips_per_s * math.sqrt(2.0 * math.pi * variance))
        self._cost += fits * slip

    def settle(self, station: int, gap_s: float) -> None:
        """Take note that the next good observation of a station came `gap_s` after the latest instant kept in mind."""
        slot = station * ONSETS + (self._next[station] - 1) % ONSETS
        half_s, precision = 0.5 * gap_s, self._precision[0, slot]
        self._info[1, slot] += half_s * precision
        self._info[2, slot] += half_s * half_s * precision

    def keep(self, subject: int) -> None:
        """Keep in mind that a subject may change from now on, in place of its oldest such instant."""
        n, turn = self._stations, self._next[subject]
        slots = len(self._precision[0])
        jump = subject * ONSETS + turn
        self._next = (*self._next[:subject], (turn + 1) % ONSETS, *self._next[subject + 1 :])
        self._info[:, jump] = self._precision[:, jump]
        self._score[:, jump] = 0.0
        self._cost[jump] = 0.0
        self._deviation[:, [jump, slots + jump]] = 0.0
        self._deviation[slice(n) if subject == n else subject, jump] = 1.0
        self._deviation[n + subject, slots + jump] = 1.0

    def forget(self) -> None:
        """Start anew: what was told so far is in the state, and anything may change from now on."""
        self._info[:] = self._precision
        self._deviation[:] = self._score[:] = 0.0
        self._cost[:] = 0.0
        for subject in range(self._stations + 1):
            self.keep(subject)

    def suspects(self, least: float) -> Speakers:
        """Return the stations for which more than `least` (in squared standard deviations) speaks of a change."""
        spoken = self._spoken().reshape(-1, ONSETS)
        by_subject = spoken[:-1]
        stations = np.flatnonzero(by_subject.max(axis=1) > least)
        slots = stations * ONSETS + by_subject[stations].argmax(axis=1)
        sd, all_sd = np.sqrt(by_subject[stations].max(axis=1)), math.sqrt(spoken[-1].max())
        return Speakers(stations, slots, sd, all_sd, *_known(self._info[:, slots], self._score[:, slots]))

    def done(self, unknowns: NDArray[np.intp], slots: NDArray[np.intp]) -> Array:
        """Return what a jump and a change of rate would each have done to these unknowns, pair by pair: (2, pairs)."""
        return np.array((self._deviation[unknowns, slots], self._deviation[unknowns, slots + self._info.shape[1]]))

    def likeliest(self, least: float = BELIEVED) -> Change | None:
        """Return the change of the subject that most speaks for one, where that is over `least`.

        Since when is not known, nor of what size its rate is: each instant that is kept in mind has its answer for each
        of the priors, and they are put together as one Gaussian with the mean and covariance of all, each weighted by
        its probability.
        """
        spoken = self._spoken()
        if spoken.max() <= least:
            return None  # the odds are never over it
        odds = self._odds(spoken)
        slot = int(odds.argmax())
        if odds[slot] <= least:
            return None
        onsets = slice(slot - slot % ONSETS, slot - slot % ONSETS + ONSETS)
        score = self._score[:, None, onsets]
        info = self._info[:, None, onsets].repeat(len(_SHARES), axis=1)
        info[2] += (_SHARES[:, None] ** -2.0 - 1.0) * self._precision[2, onsets]
        theta, spread = _known(info, score)
        width = np.sqrt(spread[0, 0] * spread[1, 1] - spread[0, 1] ** 2) / _SHARES[:, None]
        said = _said(info, score) - self._cost[onsets]
        # How likely what was seen is by each (Bayes); of a slot that is not in use yet nothing is spoken.
        weight = np.exp(0.5 * (said - said.max())) * width * (spoken[onsets] > 0.0)
        weight /= weight.sum()
        both = self._deviation.reshape(len(self._deviation), 2, -1)[:, :, onsets]
        means = np.einsum("sij,iwj->swj", both, theta)
        mean = np.einsum("swj,wj->s", means, weight)
        off = (means - mean[:, None, None]) * np.sqrt(weight)
        cov = np.einsum("sij,ikwj,tkj,wj->st", both, spread, both, weight, optimize=True)
        return Change(mean, cov + np.einsum("swj,twj->st", off, off))

    def _spoken(self) -> Array:
        """What speaks for each change, in squared standard deviations, beyond that what it explains were slips."""
        return np.maximum(_said(self._info, self._score) - self._cost, 0.0)

    def _odds(self, spoken: Array) -> Array:
        """Twice the logarithm of how much likelier each change makes what was seen, its size being unknown."""
        (a, b, d), (p, _, q) = self._info, self._precision
        odds: Array = spoken - np.log((a * d - b * b) / (p * q))
        return odds


def _known(info: Array, score: Array) -> tuple[Array, Array]:
    """`theta` of changes and its covariance, `(L + P0^-1)^-1`: (2, ...) and (2, 2, ...)."""
    a, b, d = info
    spread = np.array(((d, -b), (-b, a))) / (a * d - b * b)
    return np.einsum("ij...,j...->i...", spread, score), spread


def _said(info: Array, score: Array) -> Array:
    """`y' (L + P0^-1)^-1 y` of changes."""
    a, b, d = info
    jump, rate = score
    said: Array = (d * jump * jump - 2.0 * b * jump * rate + a * rate * rate) / (a * d - b * b)
    return said
