"""The best that can be known: the exact solution of all the evidence at once, by somebody told what is true of it.

Told which events are wrong, of a motor that runs off which and since when, and where the print was spliced otherwise
than planned (neither how much), it is generalised least squares: what is unknown is one Gaussian vector (common and own
rates, paths, an error of every start and stop, the fault, the splice) and one integrated random walk for every motor,
whose covariance is known in closed form. No step in time is taken and no filter is run.
"""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from server.timeline.events import Event, at_us, sigma_s
from server.timeline.outlook import Outlook
from server.timeline.plan import Plan

Array = NDArray[np.float64]

# chosen: told which motor and when, but not how much: as little is known of that as the engine takes for granted
_FAULT_SIGMA = 0.003
# chosen: likewise of how much was spliced in or out
_SPLICE_SIGMA_S = 1.0


class Told(NamedTuple):
    """A motor that runs off: which, and since when."""

    station: int
    at_s: float


class _Turn(NamedTuple):
    """A start or stop as it is believed: its shift of the count, and the numbers of its errors among the unknowns."""

    at_s: float
    running: bool
    shift_s: float
    errors: tuple[int, ...]


class Batch:
    """The solution for one show; `events` are the true ones, in order of time.

    `spliced_s` is from where on the print lies otherwise than planned, infinite where it does not.
    """

    def __init__(
        self, plan: Plan, events: Sequence[Event], told: Told | None = None, spliced_s: float = np.inf
    ) -> None:
        self._plan = plan
        self._n = len(plan.stations)
        self._told = told
        self._spliced_s = spliced_s
        self._variances = self._priors()
        self._turns: list[list[_Turn]] = [[] for _ in plan.stations]
        seen = [(at_us(event, plan) / 1e6, event) for event in events]
        for at_s, event in seen:
            self._take_turn(event, at_s)
        self._evidence = [(t, e) for t, e in seen if e.kind in {"mark_pass", "slack_read"} and self._usable(t, e)]
        self.at_s = np.array([t for t, _ in self._evidence])
        rows = [self._row(t, e) for t, e in self._evidence]
        self._rows: Array = np.array([row for row, _, _, _ in rows]).reshape(len(rows), len(self._variances))
        self._values: Array = np.array([value for _, value, _, _ in rows])
        self._signs: Array = np.array([signs for _, _, signs, _ in rows]).reshape(len(rows), self._n)
        self._ran_s: Array = np.array([ran for _, _, _, ran in rows]).reshape(len(rows), self._n)
        noise = np.array([sigma_s(e, plan) ** 2 for _, e in self._evidence])
        self._walk = (plan.timing.rate_walk_ppm_per_sqrt_hour * 1e-6) ** 2 / 3600.0
        self._cov = self._covariance() + np.diag(noise)

    def _priors(self) -> list[float]:
        """Variances of the unknowns: the fault, the common rate, own rates, paths, the splice; then errors of turns."""
        timing = self._plan.timing
        paths = [(link.transit_s * timing.path_tolerance_percent / 100.0) ** 2 for link in self._plan.links]
        own = [(timing.rate_tolerance_ppm * 1e-6) ** 2] * self._n
        fault = _FAULT_SIGMA**2 if self._told is not None else 0.0
        return [fault, (timing.line_tolerance_ppm * 1e-6) ** 2, *own, *paths, _SPLICE_SIGMA_S**2]

    def _take_turn(self, event: Event, at_s: float) -> None:
        timing, running = self._plan.timing, event.kind in {"motor_start", "chain_start"}
        error, shift_s = sigma_s(event, self._plan), -timing.runup_loss_s if running else timing.coast_s
        if event.kind in {"motor_start", "motor_stop"}:
            stations, spread_s = [self._plan.station_index[event.station or ""]], error
            common: tuple[int, ...] = ()
        elif event.kind in {"chain_start", "chain_stop"}:
            stations = [k for k, s in enumerate(self._plan.stations) if s.inputs.motor != "contact"]
            spread_s, common = timing.start_spread_s, (self._unknown(error**2),)
        else:
            return
        for k in stations:
            if bool(self._turns[k] and self._turns[k][-1].running) is not running:
                own = self._unknown(spread_s**2 + (timing.runup_sigma_s**2 if running else 0.0))
                self._turns[k].append(_Turn(at_s, running, shift_s, (*common, own)))

    def _unknown(self, variance: float) -> int:
        self._variances.append(variance)
        return len(self._variances) - 1

    def _usable(self, at_s: float, event: Event) -> bool:
        """A pass at a motor that is not known to run tells of a missing start; nothing is made of it here."""
        k = self._plan.station_index[event.station or ""]
        started = bool(self._turns[k]) and self._turns[k][0].at_s <= at_s
        return started and (event.kind == "mark_pass" or k > 0)

    def _spells(self, k: int, at_s: float) -> Iterator[tuple[float, float]]:
        """When a motor has run by then, from when to when each time."""
        for i, turn in enumerate(self._turns[k]):
            if turn.running and turn.at_s < at_s:
                yield turn.at_s, min(self._turns[k][i + 1].at_s if i + 1 < len(self._turns[k]) else np.inf, at_s)

    def _ran(self, k: int, at_s: float) -> tuple[float, float]:
        """For how long a motor has run by then, and for how long of that it has run off."""
        ran_s = off_s = 0.0
        fault_s = self._told.at_s if self._told is not None and self._told.station == k else np.inf
        for from_s, end_s in self._spells(k, at_s):
            ran_s += end_s - from_s
            off_s += max(end_s - max(from_s, fault_s), 0.0)
        return ran_s, off_s

    def _count(self, k: int, at_s: float) -> tuple[Array, float, float]:
        """A count: its row of the unknowns but for the walk, its nominal value, and how long the motor has run."""
        ran_s, off_s = self._ran(k, at_s)
        row = np.zeros(len(self._variances))
        row[0], row[1], row[2 + k] = off_s, ran_s, ran_s
        past = [turn for turn in self._turns[k] if turn.at_s <= at_s]
        for turn in past:
            row[list(turn.errors)] += 1.0
        return row, ran_s + sum(turn.shift_s for turn in past), ran_s

    def _row(self, at_s: float, event: Event) -> tuple[Array, float, Array, Array]:
        """An observation: its row, its value less the nominal one, and the walks in it with their times."""
        k = self._plan.station_index[event.station or ""]
        row, nominal_s, ran_s = self._count(k, at_s)
        signs, ran = np.zeros(self._n), np.zeros(self._n)
        signs[k], ran[k] = 1.0, ran_s
        if event.kind == "mark_pass":
            x_s = self._plan.mark(event.mark or "").x_s
            row[2 + self._n : 2 + self._n + k] -= 1.0
            row[1 + 2 * self._n] -= float(x_s >= self._spliced_s)
            return row, x_s + self._plan.ahead_s[k] - nominal_s, signs, ran
        above, above_s, above_ran_s = self._count(k - 1, at_s)
        signs[k - 1], ran[k - 1] = -1.0, above_ran_s
        return row - above, above_s - nominal_s - (event.seconds or 0.0), signs, ran

    def _covariance(self) -> Array:
        cov = (self._rows * np.array(self._variances)) @ self._rows.T
        for k in range(self._n):
            signs, ran = self._signs[:, k], self._ran_s[:, k]
            cov += self._walk * np.outer(signs, signs) * _both(ran[:, None], ran[None, :])
        return np.asarray(cov, dtype=np.float64)

    def outlook(self, at_s: float) -> Outlook:
        """Slack of every link, its drift and its variance to come, by all that was seen until then.

        What else an outlook holds is empty.
        """
        m = int(np.searchsorted(self.at_s, at_s, side="right"))
        rows, signs, walks = self._targets(at_s)
        variances = np.array(self._variances)
        known = cho_factor(self._cov[:m, :m]) if m else None
        mean, cov = np.zeros(len(rows)), (rows * variances) @ rows.T + walks
        cross = (rows * variances) @ self._rows[:m].T
        for k in range(self._n):
            ran_s = self._ran(k, at_s)[0]
            seen, times = self._signs[:m, k], self._ran_s[:m, k]
            cross += self._walk * np.outer(signs[0][:, k], seen * _both(ran_s, times))
            cross += self._walk * np.outer(signs[1][:, k], seen * _walk_and_both(ran_s, times))
        if known is not None:
            mean = cross @ cho_solve(known, self._values[:m])
            cov = cov - cross @ cho_solve(known, cross.T)
        return self._as_outlook(at_s, mean, cov, signs[1])

    def _targets(self, at_s: float) -> tuple[Array, tuple[Array, Array], Array]:
        """Rows of every slack and then of every drift; the walks in them; and what those covary by themselves."""
        n, size = self._n, len(self._variances)
        counts = np.array([self._count(k, at_s)[0] for k in range(n)])
        running = np.array([float(self._runs(k, at_s)) for k in range(n)])
        rates = np.zeros((n, size))
        for k in range(n):
            rates[k, 1] = rates[k, 2 + k] = running[k]
            off = self._told is not None and self._told.station == k and at_s >= self._told.at_s
            rates[k, 0] = running[k] * float(off)
        difference = np.eye(n)[:-1] - np.eye(n)[1:]
        rows = np.vstack([difference @ counts, difference @ rates])
        both = np.vstack([difference, np.zeros((n - 1, n))])
        walk = np.vstack([np.zeros((n - 1, n)), difference * running])
        ran = np.array([self._ran(k, at_s)[0] for k in range(n)])
        own = (
            (both * _both(ran, ran)) @ both.T
            + (walk * ran) @ walk.T
            + (both * ran**2 / 2.0) @ walk.T
            + (walk * ran**2 / 2.0) @ both.T
        )
        return rows, (both, walk), self._walk * own

    def _runs(self, k: int, at_s: float) -> bool:
        past = [turn for turn in self._turns[k] if turn.at_s <= at_s]
        return bool(past) and past[-1].running

    def _as_outlook(self, at_s: float, mean: Array, cov: Array, walk: Array) -> Outlook:
        links = self._n - 1
        nominal = np.array([self._count(k, at_s)[1] for k in range(self._n)])
        running = np.array([float(self._runs(k, at_s)) for k in range(self._n)])
        slack = mean[:links] + nominal[:-1] - nominal[1:]
        drift = mean[links:] + running[:-1] - running[1:]
        w = self._walk * np.abs(walk[links:]).sum(axis=1) / 3.0
        i = np.arange(links)
        var = zip(
            cov[i, i].tolist(),
            (2.0 * cov[i, links + i]).tolist(),
            cov[links + i, links + i].tolist(),
            w.tolist(),
            strict=True,
        )
        return Outlook(round(at_s * 1e6), [], [], [], [], slack.tolist(), drift.tolist(), list(var))


def _both(s: Array | float, t: Array | float) -> Array:
    """Covariance of the integrals of one random walk up to `s` and up to `t`, for a walk of 1 a second."""
    low, high = np.minimum(s, t), np.maximum(s, t)
    return np.asarray(low**2 * (3.0 * high - low) / 6.0, dtype=np.float64)


def _walk_and_both(s: float, t: Array) -> Array:
    """Covariance of that walk at `s` with its integral up to `t`."""
    return np.asarray(np.where(t <= s, t**2 / 2.0, s * t - s**2 / 2.0), dtype=np.float64)
