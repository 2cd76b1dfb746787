"""What is known of the film: one linear Gaussian state, joint over the whole chain.

The state is the counts `c`, each motor's own rate error `r`, the rate error `g` common to all, the path errors `p`, and
by how much `e` the tail is longer than planned, by how much `s` the print is longer than planned at the latest
places where it may have been spliced otherwise, and by how much `o` the clock of a feed dates late what it tells of.
The print is the same at every gate:

    dc_k/dt = 1 + g + r_k           while motor k runs, else 0
    dr_k    = walk * dW             in running time
    mark m is at gate k when        c_k - sum(p_j, j < k) = x_m + ahead_k
    a mark behind such splices      c_k - sum(p_j, j < k) - sum(s) = x_m + ahead_k
    a pass by a feed whose clock is late is dated when  c_k - o is what it should be
    the film's end is when          c_k - sum(p_j, j < k) - sum(s) - e = x_end + ahead_k
    slack of link i                 c_i - c_(i+1)

It moves by prediction (exact for these equations, so that one long step and many short ones agree) and by the
Kalman update of one scalar observation at a time (R. E. Kalman, 1960; from memory).
"""

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from server.timeline.ahead import Moments, State, outlook_of
from server.timeline.believed import Believed
from server.timeline.changes import MISFIT_SD, Changes, times
from server.timeline.layout import Layout
from server.timeline.outlook import Outlook, Slacks
from server.timeline.plan import Plan

Array = NDArray[np.float64]

US_PER_S = 1_000_000
# A time stamp carries microseconds; an observation cannot be better than that, and never exact.
_LEAST_SIGMA_S = 1e-6
# chosen: a splice takes out or puts in less than this; a mark that is further off is no mark of the print behind it
_SPLICED_MOST_S = 10.0
# chosen: how far apart the instants are from which all motors together may have changed
_COMMON_EVERY_US = 300 * US_PER_S


class Suspects(NamedTuple):
    """Stations that may have changed, and the links beside them if they did: one entry for each station and link.

    `sd` is how many standard deviations tell of the change, `odds` how much likelier it makes what was seen, as twice
    the logarithm, and `others` the most of that by what is no motor's. The rest is as in an `Outlook`.
    """

    stations: NDArray[np.intp]
    sd: Array
    odds: Array
    others: float
    links: NDArray[np.intp]
    slack: Array
    drift: Array
    slack_var: Array


class Errors(NamedTuple):
    """What has been learned of the errors that outlast a show, as one Gaussian: means and joint covariances.

    `path_s` and `path_cov` are each path's error in seconds of film, `path_prior_var` what the plan says of it;
    `own` and `common` the rate errors, a number to one, with their variances; `whole_var` is that of their sum.
    """

    path_s: Array
    path_cov: Array
    path_prior_var: Array
    own: Array
    own_var: Array
    common: float
    common_var: float
    whole_var: Array


class Estimate:
    """The joint estimate at one instant; it only ever moves forward, and is copied to go back.

    Times are microseconds after `motors_at`, film is seconds at nominal rate. Station and link arguments are indices
    in film order.
    """

    __slots__ = (
        "_believed_so_far",
        "_changes",
        "_cov",
        "_kept_us",
        "_layout",
        "_mean",
        "_running",
        "_spliced",
        "at_us",
        "believed",
    )

    def __init__(self, plan: Plan, at_us: int) -> None:
        self._layout = Layout(plan)
        self._mean = np.zeros(self._layout.size)
        self._cov = self._layout.prior.copy()
        self._running = np.zeros(self._layout.n)
        tells_stops = any(station.inputs.motor == "contact" for station in plan.stations)
        layout = self._layout
        self._changes = Changes(layout.n, layout.size, layout.splices, layout.clocks, tells_stops=tells_stops)
        # What was learned of splices that are no unknowns any more: from where on, and by how much.
        self._spliced: tuple[tuple[float, float], ...] = ()
        self._kept_us: tuple[int | None, ...] = (None,) * (self._layout.n + 1)
        # What is known by itself of the latest change of motors that was believed.
        self.believed: Believed | None = None
        self._believed_so_far = 0
        self.at_us = at_us

    def copy(self) -> Self:
        """Return an independent estimate with the same state."""
        twin = object.__new__(type(self))
        twin._layout = self._layout
        twin._mean = self._mean.copy()
        twin._cov = self._cov.copy()
        twin._running = self._running.copy()
        twin._changes = self._changes.copy()
        twin._kept_us = self._kept_us
        twin._spliced = self._spliced
        twin.believed, twin._believed_so_far = self.believed, self._believed_so_far
        twin.at_us = self.at_us
        return twin

    def advance(self, at_us: int) -> None:
        """Predict to `at_us`, which is not before the last instant given."""
        dt = (at_us - self.at_us) / US_PER_S
        self.at_us = at_us
        if dt > 0.0 and self._running.any():
            self._predict(dt)

    def _predict(self, dt: float) -> None:
        layout, mean, cov, n = self._layout, self._mean, self._cov, self._layout.n
        own, common = layout.own, layout.common
        moved = self._running * dt
        mean[:n] += moved * (1.0 + mean[common] + mean[own])
        counts = cov[:n]
        counts += moved[:, None] * (cov[own] + cov[common])
        counts[:, :n] += moved * (counts[:, own] + counts[:, common, None])
        cov[n:, :n] = counts[:, n:].T
        walk = self._running * layout.walk_var_per_s
        grown = np.array((dt**3 / 3.0, dt**2 / 2.0, dt**2 / 2.0, dt))
        cov.reshape(-1)[layout.walks] += grown[:, None] * walk
        self._changes.predict(moved)
        if self.believed is not None:
            self.believed = self.believed.predicted(moved, own, common)

    def count(self, station: int) -> tuple[float, float]:
        """Return a station's count and its variance."""
        return float(self._mean[station]), float(self._cov[station, station])

    def turn(
        self, stations: Sequence[int], *, running: bool, shift_s: float, common_sigma_s: float, own_sigma_s: float
    ) -> None:
        """Start or stop motors: counts move by `shift_s`, and open by an error common to all and one of each."""
        index = np.asarray(stations, dtype=np.intp)
        self._mean[index] += shift_s
        self._cov[np.ix_(index, index)] += common_sigma_s**2
        self._cov[index, index] += own_sigma_s**2
        self._running[index] = float(running)

    def place(self, station: int, count_s: float, sigma_s: float) -> None:
        """Forget a station's count and set it: its motor was found running, nobody having said when it started."""
        self._mean[station] = count_s
        self._cov[station, :] = 0.0
        self._cov[:, station] = 0.0
        self._cov[station, station] = sigma_s**2
        self._forget_cross(station)
        self._running[station] = 1.0
        self._changes.forget()

    def open(self, station: int, count_sigma_s: float, rate_sigma: float) -> None:
        """Admit that a station's count jumped, or its rate changed, by about that much."""
        own = self._layout.n + station
        self._cov[station, station] += count_sigma_s**2
        self._cov[own, own] += rate_sigma**2
        self._changes.forget()

    def open_gate(self, station: int, sigma_s: float, *, alone: bool) -> None:
        """Admit that the path to a gate is off by about that much; where `alone`, so is the next, the other way.

        Then no gate but this one is elsewhere.
        """
        along = np.zeros(self._layout.size)
        path = self._layout.common + station
        along[path] = 1.0
        if alone and path + 1 < self._layout.paths.stop:
            along[path + 1] = -1.0
        self._cov += sigma_s**2 * along[:, None] * along
        self._changes.forget()

    def open_tail(self, sigma_s: float) -> None:
        """Forget what is known of the tail's length, but that it is off by about that much."""
        tail = self._layout.tail
        self._mean[tail] = 0.0
        self._cov[tail, :] = 0.0
        self._cov[:, tail] = 0.0
        self._cov[tail, tail] = sigma_s**2
        self._forget_cross(tail)
        self._changes.forget()

    def _forget_cross(self, unknown: int) -> None:
        if self.believed is not None:
            self.believed = self.believed.forgetting(unknown)

    def tail_s(self) -> float:
        """Return by how much the tail is longer than planned."""
        return float(self._mean[self._layout.tail])

    def tail(self) -> tuple[float, float]:
        """Return the same with its standard deviation."""
        tail = self._layout.tail
        return self.tail_s(), math.sqrt(max(self._cov[tail, tail], 0.0))

    def open_together(self, stations: Sequence[int], count_sigma_s: float) -> None:
        """Admit that the counts of these stations are off by about that much, all alike: film was moved by hand.

        What film that jumped had left on links is not to be told from that any more.
        """
        self.believed = None
        self._cov[np.ix_(stations, stations)] += count_sigma_s**2
        self._changes.forget()

    def reconsider(self, station: int) -> None:
        """After an observation of a station that fits: believe the change, if any, that the latest ones tell of.

        Those that fit one by one may together be far off, all of it on account of one change. From now on the
        station, and the chain, may have changed.
        """
        kept_us, all_kept_us = self._kept_us[station], self._kept_us[-1]
        if kept_us is not None:
            self._changes.settle(station, (self.at_us - kept_us) / US_PER_S)
        self.believe()
        self._changes.keep(station)
        self._keep(station)
        stays = all_kept_us is None or self.at_us - all_kept_us >= _COMMON_EVERY_US
        self._changes.keep_common(stays=stays)
        if stays:
            self._keep(self._layout.n)

    def believe(self) -> bool:
        """Take the change, if any, that the latest observations tell of, and say whether there was one."""
        change = self._changes.likeliest()
        if change is None:
            return False
        self._mean += change.mean
        self._cov += change.cov
        if change.of is not None:
            self._believed_so_far += 1
            self.believed = change.of._replace(number=self._believed_so_far)
        self._changes.forget()
        return True

    def _see_mark(self, station: int, x_s: float) -> None:
        """Make room for a splice before a mark; what is known of the oldest one is then taken for certain.

        A pass that no splice explains is of something else.
        """
        places_s = self._changes.places_s
        if not self._changes.is_new(x_s) or abs(self.ahead_of_pass_s(station, x_s)) > _SPLICED_MOST_S:
            return
        turn = self._changes.see_mark(x_s)
        unknown = self._layout.splices.start + turn
        if self._cov[unknown, unknown] > 0.0:
            self._spliced = (*self._spliced, (places_s[turn], float(self._mean[unknown])))
            self._mean[unknown] = 0.0
            self._cov[unknown, :] = 0.0
            self._cov[:, unknown] = 0.0
            self._forget_cross(unknown)

    def splices(self) -> Iterator[tuple[float, float, float]]:
        """What is known of splices that the plan does not have: from where on, how much each puts in, and its sd."""
        first = self._layout.splices.start
        for unknown, from_s in enumerate(self._changes.places_s, first):
            if self._cov[unknown, unknown] > 0.0:
                yield from_s, float(self._mean[unknown]), math.sqrt(self._cov[unknown, unknown])

    def clocks(self) -> Iterator[tuple[int, float, float]]:
        """What is known of clocks that are off: of which feed, by how much each dates late, and its sd."""
        first = self._layout.clocks.start
        for unknown in range(first, self._layout.clocks.stop):
            if self._cov[unknown, unknown] > 0.0:
                yield unknown - first, float(self._mean[unknown]), math.sqrt(self._cov[unknown, unknown])

    def _row(self, station: int, x_s: float, feed: int | None = None) -> Array:
        """The equation of a pass that a feed's clock dates."""
        row = self._layout.row(station, x_s).copy()
        row[self._layout.splices] = self._changes.behind(x_s)
        if feed is not None:
            row[self._layout.clocks.start + feed] = -1.0
        return row

    def _planned_s(self, station: int, x_s: float) -> float:
        """What a station's count is as `x_s` passes its gate, but for what is not known."""
        known_s = sum(by_s for from_s, by_s in self._spliced if from_s <= x_s)
        return float(x_s + known_s + self._layout.ahead_s[station])

    def doubt_pass(
        self, station: int, x_s: float, sigma_s: float, slips_per_s: float, *, own: bool, feed: int | None = None
    ) -> bool:
        """Take note of a pass that does not fit; whether with it a change is believed that explains it.

        It may be `own` to a motor, or of all together: a leader that is longer than planned is no slack.
        """
        self._see_mark(station, x_s)
        row, innovation = self._row(station, x_s, feed), self.ahead_of_pass_s(station, x_s, feed)
        return self._doubt(row, innovation, sigma_s, slips_per_s, own=own, x_s=x_s, feed=feed)

    def doubt_slack(self, link: int, slack_s: float, sigma_s: float, slips_per_s: float) -> bool:
        """Take note of a reading of slack that does not fit, likewise."""
        return self._doubt(self._layout.slacks[link], slack_s - self.slack_s(link), sigma_s, slips_per_s, own=True)

    def _doubt(
        self,
        row: Array,
        innovation: float,
        sigma_s: float,
        slips_per_s: float,
        *,
        own: bool,
        x_s: float | None = None,
        feed: int | None = None,
    ) -> bool:
        variance = float(times(row, self._cov) @ row) + max(sigma_s, _LEAST_SIGMA_S) ** 2
        self._changes.doubt(row, innovation, variance, slips_per_s, own=own, x_s=x_s, feed=feed)
        return self.believe()

    def most_spoken_sd(self) -> float:
        """Return by how many standard deviations most speaks for a change of any one motor."""
        return self._changes.most_spoken_sd()

    def suspects(self, now: Slacks, least_sd: float) -> Suspects:
        """Return the stations of which the latest observations tell a change by that many standard deviations.

        `now` is what this estimate says of the links.
        """
        found, n = self._changes.suspects(least_sd**2), self._layout.n
        links = np.concatenate((found.stations - 1, found.stations))
        of = np.tile(np.arange(len(found.stations)), 2)
        inside = (links >= 0) & (links < n - 1)
        links, of = links[inside], of[inside]
        slots, running = found.slots[of], self._running
        # What a jump and a change of rate each did to a link's slack and to its drift: (2, pairs).
        slack = self._changes.done(links, slots) - self._changes.done(links + 1, slots)
        common = self._changes.done(np.full_like(links, self._layout.common), slots)
        upper = running[links] * (common + self._changes.done(links + n, slots))
        drift = upper - running[links + 1] * (common + self._changes.done(links + n + 1, slots))
        theta, spread = found.theta[:, of], found.spread[:, :, of]
        slack_var = now.var[links]
        slack_var[:, 0] += _product(slack, spread, slack)
        slack_var[:, 1] += 2.0 * _product(slack, spread, drift)
        slack_var[:, 2] += _product(drift, spread, drift)
        slack_now = now.slack[links] + (theta * slack).sum(axis=0)
        rate = now.drift[links] + (theta * drift).sum(axis=0)
        return Suspects(
            found.stations[of], found.sd[of], found.odds[of], found.others, links, slack_now, rate, slack_var
        )

    def _keep(self, subject: int) -> None:
        self._kept_us = (*self._kept_us[:subject], self.at_us, *self._kept_us[subject + 1 :])

    def see_count(self, station: int, count_s: float, sigma_s: float) -> bool:
        """Learn a station's count itself; False, and nothing learned, where it does not fit."""
        row = np.zeros(self._layout.size)
        row[station] = 1.0
        return self._learn(row, count_s - float(self._mean[station]), sigma_s)

    def see_pass(self, station: int, x_s: float, sigma_s: float, feed: int | None = None) -> bool:
        """Learn that the film `x_s` behind the first gate is at this gate now; False where it does not fit.

        `feed` is whose clock says "now".
        """
        self._see_mark(station, x_s)
        row = self._row(station, x_s, feed)
        innovation = self._planned_s(station, x_s) - float(row @ self._mean)
        fits = self._learn(row, innovation, sigma_s, x_s=x_s, feed=feed)
        if fits and feed is not None:
            self._changes.keep_clock(feed)
        return fits

    def see_past_slack(self, link: int, slack_s: float, sigma_s: float, ago_s: float) -> bool:
        """Learn a link's slack as it was `ago_s` seconds ago, since when both motors have run; False if it misfits."""
        layout = self._layout
        row = layout.slacks[link].copy()
        row[layout.n + link] -= ago_s
        row[layout.n + link + 1] += ago_s
        walk_var = 2.0 * layout.walk_var_per_s * ago_s**3 / 3.0
        return self._learn(row, slack_s - float(row @ self._mean), math.hypot(sigma_s, math.sqrt(walk_var)))

    def slacks_s(self) -> Array:
        """Return the slack of every link."""
        counts = self._mean[: self._layout.n]
        return np.asarray(counts[:-1] - counts[1:])

    def any_slack_over(self, reserves_s: Array) -> bool:
        """Whether any link's slack is past its reserve."""
        return bool((np.abs(self.slacks_s()) > reserves_s).any())

    def slack_s(self, link: int) -> float:
        """Return a link's slack."""
        return float(self._mean[link] - self._mean[link + 1])

    def slack_sigma_s(self, link: int) -> float:
        """Return the standard deviation of a link's slack."""
        return self._sigma_s(self._layout.slacks[link])

    def see_past_pass(self, station: int, x_s: float, sigma_s: float, ago_s: float, feed: int | None = None) -> bool:
        """Learn the same of a pass `ago_s` seconds ago, since when the motor has run; False where it does not fit."""
        layout = self._layout
        row = self._row(station, x_s, feed)
        row[[layout.n + station, layout.common]] -= ago_s
        walk_var = layout.walk_var_per_s * ago_s**3 / 3.0
        innovation = self._planned_s(station, x_s) + ago_s - float(row @ self._mean)
        return self._learn(row, innovation, math.hypot(sigma_s, math.sqrt(walk_var)), x_s=x_s, feed=feed)

    def see_slack(self, link: int, slack_s: float, sigma_s: float) -> bool:
        """Learn a link's slack; False, and nothing learned, where it does not fit."""
        return self._learn(self._layout.slacks[link], slack_s - self.slack_s(link), sigma_s)

    def ahead_of_pass_s(self, station: int, x_s: float, feed: int | None = None) -> float:
        """Return how much film has yet to go by before `x_s` is at the gate; negative once it has passed.

        That is by the clock of a feed, where one is given.
        """
        return self._planned_s(station, x_s) - float(self._row(station, x_s, feed) @ self._mean)

    def pass_sigma_s(self, station: int, x_s: float = 0.0) -> float:
        """Return the standard deviation of what is ahead of a pass: alike for all up to a splice and the film's end."""
        return self._sigma_s(self._row(station, x_s))

    def apart_sigma_s(self, first: int, second: int) -> float:
        """Return the standard deviation of what a pass at one station is ahead of one at another."""
        return self._sigma_s(self._layout.gates[first] - self._layout.gates[second])

    def _sigma_s(self, row: Array) -> float:
        return math.sqrt(max(float(times(row, self._cov) @ row), 0.0))

    def rate_var(self, station: int) -> float:
        """Return the variance of a station's whole rate error, common part included."""
        own, common = self._layout.n + station, self._layout.common
        cov = self._cov
        return float(cov[own, own] + 2.0 * cov[own, common] + cov[common, common])

    def path_s(self, link: int) -> tuple[float, float, float]:
        """Return by how much a path is longer than planned, in seconds of film, its sd, and the plan's sd."""
        path = self._layout.paths.start + link
        sd_s, prior_s = math.sqrt(max(self._cov[path, path], 0.0)), math.sqrt(self._layout.prior[path, path])
        return float(self._mean[path]), sd_s, prior_s

    def errors(self) -> Errors:
        """Return what is known of path and rate errors."""
        layout, mean, cov = self._layout, self._mean, self._cov
        return Errors(
            path_s=mean[layout.paths].copy(),
            path_cov=cov[layout.paths, layout.paths].copy(),
            path_prior_var=np.diag(layout.prior)[layout.paths].copy(),
            own=mean[layout.own].copy(),
            own_var=np.diag(cov)[layout.own].copy(),
            common=float(mean[layout.common]),
            common_var=float(cov[layout.common, layout.common]),
            whole_var=np.asarray([self.rate_var(k) for k in range(layout.n)]),
        )

    def _learn(
        self, row: Array, innovation: float, sigma_s: float, *, x_s: float | None = None, feed: int | None = None
    ) -> bool:
        gain = times(row, self._cov)
        variance = float(row @ gain) + max(sigma_s, _LEAST_SIGMA_S) ** 2
        if innovation**2 > MISFIT_SD**2 * variance:
            return False
        self._changes.learn(row, gain, innovation, variance, x_s=x_s, feed=feed)
        if self.believed is not None:
            self.believed = self.believed.learned(row, gain, innovation, variance)
        self._mean += gain * (innovation / variance)
        gain /= math.sqrt(variance)
        self._cov -= gain[:, None] * gain
        return True

    def rate_beside(self, station: int, others: Sequence[int]) -> tuple[float, float]:
        """Return how much faster a motor feeds than these do in the mean, as a share of nominal, and its sd."""
        weights = np.zeros(self._layout.n)
        weights[station] = 1.0
        weights[list(others)] -= 1.0 / max(len(others), 1)
        own = self._layout.own
        variance = float(np.einsum("i,ij,j->", weights, self._cov[own, own], weights))
        return float(weights @ self._mean[own]), math.sqrt(max(variance, 0.0))

    def outlook(self) -> Outlook:
        """Return the state in the shape that phases, alarms and desks ask for."""
        return self.ahead()[0]

    def ahead(self) -> tuple[Outlook, Moments]:
        """Return the same, and some of it as arrays."""
        state = State(self._layout, self._mean, self._cov, self._running)
        return outlook_of(state, self.at_us, self._spliced, self._changes.places_s)


def _product(one: Array, spread: Array, other: Array) -> Array:
    """`one' spread other` of every pair: (2, pairs), (2, 2, pairs) and (2, pairs)."""
    return np.asarray(np.einsum("ip,ijp,jp->p", one, spread, other))
