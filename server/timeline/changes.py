"""Changes that may have happened: what each would have done to the estimate, and how much speaks for it.

A change is a jump `j` of a count together with a change `e` of a rate, at one instant: of one motor's, or of all
motors' together. Or it is a splice: from one mark on all marks lie `j` further back in the print than planned; or the
clock of a feed: from one instant on all that its contacts tell is dated `j` late. No motor does anything else then.
Had it happened, the truth would since have left the estimate along `V theta`, `theta = (j, e)`:

    between events     V <- F V                      F is the estimate's own prediction
    at an observation  s = H V + D                   what the change would have shown; D is -1 for a splice and a pass
                                                     of what lies behind it, or a clock and a pass that its feed tells
                                                     of, else 0
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

which is believed where it is over what a change is less probable beforehand. Where what is second likeliest is of
another sort (a motor or a splice, all motors or a clock) and nearly as likely, both are believed as one Gaussian with
the mean and covariance of the two, each weighted by its probability: what comes next tells them apart.

A jump and a change of rate stand together because nobody knows when, between two observations, a rate began to differ:
if the next good one is `g` later then most likely in the middle, so that `j = -e g / 2` give or take the standard
deviation of a jump.
"""

import math
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from server.timeline.believed import Believed

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
# of them by a hundredth (EN 50160)
_OWN_SIGMA = (0.5, 0.003)
_COMMON_SIGMA = (0.5, 0.01)
# chosen: the mains change so that it shows once where single motors do five times
_COMMON_COST = 2.0 * math.log(5.0)
# chosen: all motors may have stood for half a minute where nobody tells of it; then they run as before. Where a contact
# would have told of it that is a thousand times rarer
_STOOD_SIGMA = (30.0, 1e-9)
_UNTOLD_COST = 2.0 * math.log(1000.0)
# chosen: a splice takes out or puts in up to two seconds of film; a splice is no rate
_SPLICE_SIGMA = (1.0, 1e-9)
# chosen: a clock that is set jumps by seconds, and a box that dates what it sees has it happen once where motors are
# disturbed ten times
_CLOCK_SIGMA = (2.0, 1e-9)
_CLOCK_COST = 2.0 * math.log(10.0)
# chosen: what is this much less likely than the likeliest, as twice the logarithm, is not it: one in twenty
_AS_LIKELY = 2.0 * math.log(20.0)
# A second house tells a splice, or its feed's clock, from one motor.
_LEAST_SHOWN = 2
# chosen: of what size a change is nobody knows, so what is believed of it has priors of its rate with these multiples
# of that standard deviation, each as probable as the others
_SHARES: Array = np.array((3.0, 1.0, 0.3, 0.1))


class Change(NamedTuple):
    """A change that is believed: what to add to the mean of the state, and to its covariance.

    `of` is what is known of it by itself, where it may be one motor's or all motors'; None where it is not.
    """

    mean: Array
    cov: Array
    of: Believed | None


class _Part(NamedTuple):
    """Changes of one subject, `m` in all: by each the mean of the state (size, m), twice the logarithm of how likely
    it makes what was seen, the directions (size, 2, m) along which, and the mean (2, m) and covariance (2, 2, m) by
    which.
    """

    subject: int
    means: Array
    said: Array
    along: Array
    theta: Array
    spread: Array


class Speakers(NamedTuple):
    """Changes that something speaks for: of `m` stations, by how many standard deviations, and what they would be.

    `slots` is where each is kept, `odds` twice the logarithm of how much likelier each makes what was seen; `others` is
    the most of that by what is no motor's, less what "nearly as likely" is worth where it is a splice. `theta` (2, m)
    and `spread` (2, 2, m) are what is known of the jump and of the change of rate.
    """

    stations: NDArray[np.intp]
    slots: NDArray[np.intp]
    sd: Array
    odds: Array
    others: float
    theta: Array
    spread: Array


class Changes:
    """Every change kept in mind, for a state of `size` unknowns of which the first `stations` are the counts.

    A subject is a station, `stations` for all motors together, the next for all of them as they stood, then the print,
    and last the clocks. For each subject there are ONSETS slots, used in turn; those of the print are one for each of
    the latest marks (`places_s`, infinite where not in use), those of the clocks one for each feed, and `splices` and
    `clocks` are the unknowns of the state for them. `V` has two
    columns a slot: the jumps of all slots come first, then the changes of rate. `L` has three rows: its first diagonal,
    its other element, its second diagonal; `P0^-1` is in it from the start. A slot's `cost` is the sum over outliers,
    from that of its subject's rarity on. `tells_stops` is whether a contact would tell if all motors stood.
    """

    __slots__ = (
        "_clock",
        "_clocks",
        "_cost",
        "_costs",
        "_deviation",
        "_info",
        "_moves",
        "_next",
        "_precision",
        "_print",
        "_score",
        "_shown_at",
        "_splices",
        "_spoken_so_far",
        "_stations",
        "_stood",
        "places_s",
    )

    def __init__(self, stations: int, size: int, splices: slice, clocks: slice, *, tells_stops: bool) -> None:
        slots = (stations + 4) * ONSETS
        self._stations, self._stood, self._print, self._clock = stations, stations + 1, stations + 2, stations + 3
        self._splices, self._clocks = splices, clocks
        self.places_s: tuple[float, ...] = (math.inf,) * ONSETS
        sigmas = np.array([_OWN_SIGMA] * stations + [_COMMON_SIGMA, _STOOD_SIGMA, _SPLICE_SIGMA, _CLOCK_SIGMA])
        self._precision: Array = np.zeros((3, slots))
        self._precision[::2] = (sigmas**-2.0).repeat(ONSETS, axis=0).T
        self._deviation: Array = np.zeros((size, 2 * slots))
        self._info = self._precision.copy()
        self._score: Array = np.zeros((2, slots))
        costs = (*(0.0,) * stations, _COMMON_COST, _UNTOLD_COST if tells_stops else 0.0, 0.0, _CLOCK_COST)
        self._costs: Array = np.repeat(costs, ONSETS)
        self._cost = self._costs.copy()
        self._next = (0,) * (stations + 4)
        # Which stations have shown what lies behind each splice, and then, what each feed told since its clock may
        # have been set.
        self._shown_at = (frozenset[int](),) * 2 * ONSETS
        # What speaks for each change, as far as it was asked for since anything was seen.
        self._spoken_so_far: Array | None = None
        self._moves = False
        # A leader may be longer than planned from the start on.
        self.keep(stations)
        self.keep(self._stood)

    def copy(self) -> Self:
        """Return an independent copy."""
        twin = object.__new__(type(self))
        twin._stations, twin._stood, twin._print, twin._clock = self._stations, self._stood, self._print, self._clock
        twin._clocks, twin._shown_at = self._clocks, self._shown_at
        twin._precision, twin._costs, twin._next = self._precision, self._costs, self._next
        twin._moves = self._moves
        twin._splices, twin.places_s = self._splices, self.places_s
        twin._deviation, twin._info, twin._score = self._deviation.copy(), self._info.copy(), self._score.copy()
        twin._cost = self._cost.copy()
        twin._spoken_so_far = self._spoken_so_far
        return twin

    def predict(self, moved_s: Array) -> None:
        """Move on: each count by `moved_s` times its rate, own and common."""
        n, deviation = self._stations, self._deviation
        deviation[:n] += moved_s[:, None] * (deviation[n : 2 * n] + deviation[2 * n])

    def is_new(self, x_s: float) -> bool:
        """Whether nothing has passed yet that lies as far back in the print, or further."""
        return all(place_s < x_s or place_s == math.inf for place_s in self.places_s)

    def see_mark(self, x_s: float) -> int:
        """Keep in mind that there may be a splice before what passes, which is new.

        Returns which of the unknowns of splices is now of that one, in place of the oldest.
        """
        turn = self._next[self._print]
        self.places_s = (*self.places_s[:turn], x_s, *self.places_s[turn + 1 :])
        self._set_shown(turn, frozenset())
        self.keep(self._print)
        return turn

    def _shown(self, row: Array, x_s: float | None, feed: int | None) -> Array:
        """What a jump and a change of rate of each slot would have shown in an observation.

        Of a pass, of `x_s`; `feed` is whose clock dates it.
        """
        shown = times(row, self._deviation)
        if x_s is not None:
            print_from = self._print * ONSETS
            behind = self.behind(x_s)
            shown[print_from : print_from + ONSETS] += behind
            self._show_at(int(row[: self._stations].argmax()), behind, feed)
        if feed is not None:
            shown[self._clock * ONSETS + feed] -= 1.0
        return shown

    def _show_at(self, station: int, behind: tuple[float, ...], feed: int | None) -> None:
        """Note that a station has shown what lies behind these splices, by the clock of a feed."""
        places = [place for place, is_behind in enumerate(behind) if is_behind]
        for kept in (*places, *(() if feed is None else (ONSETS + feed,))):
            if station not in self._shown_at[kept]:
                self._set_shown(kept, self._shown_at[kept] | {station})

    def _set_shown(self, kept: int, stations: frozenset[int]) -> None:
        self._shown_at = (*self._shown_at[:kept], stations, *self._shown_at[kept + 1 :])

    def behind(self, x_s: float) -> tuple[float, ...]:
        """Return, for each splice that is kept in mind, -1 where what passes lies behind it, else 0."""
        return tuple(-1.0 if place_s <= x_s else 0.0 for place_s in self.places_s)

    def learn(
        self,
        row: Array,
        gain: Array,
        innovation: float,
        variance: float,
        *,
        x_s: float | None = None,
        feed: int | None = None,
    ) -> None:
        """Take an observation that the estimate took; `gain` is its covariance with the state, before division.

        `x_s` is what passed, if it is a pass, and `feed` whose clock dates it, if that may be off by itself.
        """
        self._spoken_so_far = None
        shown = self._shown(row, x_s, feed)
        scaled = shown / variance
        (jump, rate), (by_jump, by_rate) = shown.reshape(2, -1), scaled.reshape(2, -1)
        self._info[0] += jump * by_jump
        self._info[1] += jump * by_rate
        self._info[2] += rate * by_rate
        self._score += innovation * scaled.reshape(2, -1)
        self._deviation -= gain[:, None] * scaled

    def doubt(
        self,
        row: Array,
        innovation: float,
        variance: float,
        slips_per_s: float,
        *,
        own: bool,
        x_s: float | None = None,
        feed: int | None = None,
    ) -> None:
        """Take an observation that the estimate did not take, for those changes by which it fits.

        Slips lie `slips_per_s` dense about where it should have been. Where it is not `own` no change of one motor can
        explain it.
        """
        self._spoken_so_far = None
        shown = self._shown(row, x_s, feed).reshape(2, -1)
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
        self._spoken_so_far = None
        slot = station * ONSETS + (self._next[station] - 1) % ONSETS
        half_s, precision = 0.5 * gap_s, self._precision[0, slot]
        self._info[1, slot] += half_s * precision
        self._info[2, slot] += half_s * half_s * precision

    def keep_common(self, *, stays: bool) -> None:
        """Keep in mind that since a good observation all motors may have changed, or stood.

        Both instants move on with the next one, as long as nothing was doubted since, but for one that `stays`.
        """
        if self._moves and not self._is_doubted(self._stations):
            self._go_back(self._stations)
        self.keep(self._stations)
        self._moves = not stays
        if not self._is_doubted(self._stood):
            self._go_back(self._stood)
        self.keep(self._stood)

    def keep_clock(self, feed: int) -> None:
        """Keep in mind that the clock of a feed may be set from now on, where nothing speaks for that it was before."""
        slot = self._clock * ONSETS + feed
        if self._spoken()[slot] > 0.0:
            return
        slots = len(self._cost)
        self._set_shown(ONSETS + feed, frozenset())
        self._info[:, slot], self._score[:, slot], self._cost[slot] = self._precision[:, slot], 0.0, self._costs[slot]
        self._deviation[:, slot] = self._deviation[:, slots + slot] = 0.0

    def _is_doubted(self, subject: int) -> bool:
        """Whether an observation was doubted since the latest instant of a subject."""
        slot = subject * ONSETS + (self._next[subject] - 1) % ONSETS
        return bool(self._cost[slot] != self._costs[slot])

    def _go_back(self, subject: int) -> None:
        """Let the latest instant of a subject be the next to be replaced."""
        self._next = (*self._next[:subject], (self._next[subject] - 1) % ONSETS, *self._next[subject + 1 :])

    def keep(self, subject: int) -> None:
        """Keep in mind that a subject may change from now on, in place of its oldest such instant."""
        n, turn = self._stations, self._next[subject]
        slots = len(self._precision[0])
        jump = subject * ONSETS + turn
        self._next = (*self._next[:subject], (turn + 1) % ONSETS, *self._next[subject + 1 :])
        self._info[:, jump] = self._precision[:, jump]
        self._score[:, jump] = 0.0
        self._cost[jump] = self._costs[jump]
        if self._spoken_so_far is not None:
            self._spoken_so_far = self._spoken_so_far.copy()
            self._spoken_so_far[jump] = 0.0  # nothing was seen since
        self._deviation[:, jump] = self._deviation[:, slots + jump] = 0.0
        if subject < self._print:
            self._deviation[slice(n) if subject >= n else subject, jump] = 1.0
        if subject <= n:
            self._deviation[n + subject, slots + jump] = 1.0

    def forget(self) -> None:
        """Start anew: what was told so far is in the state, and anything may change from now on."""
        self._spoken_so_far = None
        self._info[:] = self._precision
        self._deviation[:] = self._score[:] = 0.0
        self._cost[:] = self._costs
        self._shown_at = (frozenset(),) * 2 * ONSETS
        for subject in range(self._stood + 1):
            self.keep(subject)
        self._moves = False

    def most_spoken_sd(self) -> float:
        """Return by how many standard deviations most speaks for a change of any station."""
        return math.sqrt(float(self._spoken()[: self._stations * ONSETS].max()))

    def suspects(self, least: float) -> Speakers:
        """Return the stations for which more than `least` (in squared standard deviations) speaks of a change."""
        spoken = self._spoken()
        odds = self._odds(spoken)
        motors = spoken[: self._stations * ONSETS].reshape(-1, ONSETS)
        stations = np.flatnonzero(motors.max(axis=1) > least)
        slots = stations * ONSETS + motors[stations].argmax(axis=1)
        subjects = odds.reshape(-1, ONSETS).max(axis=1).tolist()
        # A splice that is nearly as likely is no reason not to look: only one of the two is slack.
        subjects[self._print] -= _AS_LIKELY
        others = max(0.0, *subjects[self._stations :])
        known = _known(self._info[:, slots], self._score[:, slots])
        return Speakers(stations, slots, np.sqrt(spoken[slots]), odds[slots], others, *known)

    def done(self, unknowns: NDArray[np.intp], slots: NDArray[np.intp]) -> Array:
        """Return what a jump and a change of rate would each have done to these unknowns, pair by pair: (2, pairs)."""
        return np.array((self._deviation[unknowns, slots], self._deviation[unknowns, slots + self._info.shape[1]]))

    def likeliest(self, least: float = BELIEVED) -> Change | None:
        """Return the change of the subject that most speaks for one, where that is over `least`.

        Since when is not known, nor of what size its rate is, nor at times whether it is of a motor or of the print:
        all are put together as one Gaussian, each weighted by its probability.
        """
        spoken = self._spoken()
        if spoken.max() <= least:
            return None  # the odds are never over it
        odds = self._odds(spoken)
        best = int(odds.argmax())
        if odds[best] <= least:
            return None
        parts = [self._part(subject, spoken) for subject in self._as_likely(odds, best // ONSETS)]
        if self._may_be_one_motor(best):
            # How large each is beforehand is known too little to tell what only the next house will.
            parts = [part._replace(said=part.said - _whole(part.said)) for part in parts]
        theirs = np.concatenate([part.said for part in parts])
        weight = np.exp(0.5 * (theirs - theirs.max()))
        weight /= weight.sum()
        means = np.concatenate([part.means for part in parts], axis=1)
        mean = means @ weight
        off = (means - mean[:, None]) * np.sqrt(weight)
        cov = off @ off.T
        of: Believed | None = None
        for part, their in zip(
            parts, np.split(weight, np.cumsum([len(part.said) for part in parts])[:-1]), strict=True
        ):
            cov += np.einsum("sij,ikj,tkj,j->st", part.along, part.spread, part.along, their, optimize=True)
            if of is None and part.subject <= self._stations:
                of = _of_motors(part, mean, their)
        return Change(mean, cov, of)

    def _as_likely(self, odds: Array, best: int) -> tuple[int, ...]:
        """The likeliest subject, and those nearly as likely that the next house will tell from it.

        Of a motor and the print only one is slack; what all motors did every feed will see, a clock's is its own. What
        one house alone has shown may as well be its motor, where that would be believed by itself.
        """
        by_subject = odds.reshape(-1, ONSETS).max(axis=1)
        motor, common = int(by_subject[: self._stations].argmax()), (self._stations, self._stood, self._clock)
        if self._may_be_one_motor(int(odds.argmax())):
            return (best, motor) if by_subject[motor] > BELIEVED else (best,)
        alike = common if best in common else (motor, self._print) if best in (motor, self._print) else ()
        near = (other for other in alike if by_subject[other] > by_subject[best] - _AS_LIKELY)
        return (best, *(other for other in near if other != best))

    def _may_be_one_motor(self, slot: int) -> bool:
        """Whether a splice or a clock is what one house alone has shown."""
        kept = slot - self._print * ONSETS
        return kept >= 0 and len(self._shown_at[kept]) < _LEAST_SHOWN

    def _part(self, subject: int, spoken: Array) -> _Part:
        """A change of one subject: since each instant that is kept in mind, and for each of the priors of its rate."""
        onsets = np.arange(subject * ONSETS, (subject + 1) * ONSETS)
        onsets = onsets[spoken[onsets] > 0.0]  # of a slot that is not in use yet nothing is spoken
        info, said = self._by_prior(onsets)
        theta, spread = _known(info, self._score[:, None, onsets])
        both = self._deviation.reshape(len(self._deviation), 2, -1)[:, :, onsets]
        unknowns = {self._print: self._splices, self._clock: self._clocks}.get(subject)
        if unknowns is not None:
            both[unknowns.start + onsets % ONSETS, 0, np.arange(len(onsets))] = 1.0
        # One after another: of the first prior each onset, then of the next.
        along = np.tile(both, len(_SHARES))
        theta, spread = theta.reshape(2, -1), spread.reshape(2, 2, -1)
        likely = said.ravel() - 2.0 * math.log(said.size)
        return _Part(subject, np.einsum("sij,ij->sj", along, theta), likely, along, theta, spread)

    def _by_prior(self, slots: NDArray[np.intp]) -> tuple[Array, Array]:
        """`L` of these changes by each prior of the rate, (3, priors, m), and how much likelier it makes what was seen.

        That is as twice the logarithm, (priors, m), the size of the change being unknown.
        """
        info, precision = self._info[:, slots], self._precision[:, slots]
        shares = _SHARES[:, None] ** -2.0
        a, b, d = np.repeat(info[:, None], len(_SHARES), axis=1)
        d = d + (shares - 1.0) * precision[2]
        said = _said((a, b, d), self._score[:, slots]) - self._cost[slots]
        return np.array((a, b, d)), said - np.log((a * d - b * b) / (precision[0] * precision[2] * shares))

    def _spoken(self) -> Array:
        """What speaks for each change, in squared standard deviations, beyond that what it explains were slips."""
        if self._spoken_so_far is None:
            spoken = np.maximum(_said(self._info, self._score) - self._cost, 0.0)
            # Film that stood is late.
            stood = slice(self._stood * ONSETS, self._print * ONSETS)
            spoken[stood] *= self._score[0, stood] < 0.0
            self._spoken_so_far = spoken
        return self._spoken_so_far

    def _odds(self, spoken: Array) -> Array:
        """Twice the logarithm of how much likelier each change makes what was seen, its size being unknown.

        That is by the mean of the priors of its rate: a jump alone is likelier than one that has to come with a rate.
        """
        _, said = self._by_prior(np.arange(len(self._cost)))
        odds: Array = 2.0 * np.logaddexp.reduce(0.5 * said, axis=0) - 2.0 * math.log(len(_SHARES))
        return np.where(spoken > 0.0, odds, np.minimum(odds, 0.0))


def _whole(said: Array) -> float:
    """Twice the logarithm of how likely all of it together is, said of each part likewise."""
    return 2.0 * float(np.logaddexp.reduce(0.5 * said))


def _of_motors(part: _Part, mean: Array, weight: Array) -> Believed:
    """What is known of a change of motors by itself; by what is of another subject there was none.

    `mean` is that of the state by all that is believed, `weight` how probable each change of the part is.
    """
    theta = part.theta @ weight
    cov = np.einsum("ij,kj,j->ik", part.theta, part.theta, weight) - np.outer(theta, theta)
    cov += part.spread @ weight
    cross = np.einsum("sj,ij,j->si", part.means, part.theta, weight) - np.outer(mean, theta)
    cross += np.einsum("sij,ikj,j->sk", part.along, part.spread, weight)
    return Believed(part.subject, 0, theta, cov, cross)


def times(row: Array, matrix: Array) -> Array:
    """Return `row @ matrix` by one thread: for products as small as these more cost more than they bring."""
    return np.asarray(np.einsum("i,ij->j", row, matrix))


def _known(info: Array, score: Array) -> tuple[Array, Array]:
    """`theta` of changes and its covariance, `(L + P0^-1)^-1`: (2, ...) and (2, 2, ...)."""
    a, b, d = info
    spread = np.array(((d, -b), (-b, a))) / (a * d - b * b)
    return np.einsum("ij...,j...->i...", spread, score), spread


def _said(info: Array | tuple[Array, Array, Array], score: Array) -> Array:
    """`y' (L + P0^-1)^-1 y` of changes."""
    a, b, d = info
    jump, rate = score
    said: Array = (d * jump * jump - 2.0 * b * jump * rate + a * rate * rate) / (a * d - b * b)
    return said
