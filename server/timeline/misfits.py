"""What did not fit, until a second observation of the station tells the same story: a jump, a rate, or a path."""

import math
from dataclasses import dataclass, replace
from typing import NamedTuple

from server.timeline.changes import MISFIT_SD
from server.timeline.estimate import US_PER_S, Estimate
from server.timeline.plan import Link, Plan

WIDER = 2.0
"""The state is opened so much wider than what was seen, so that observations decide and not the guess. Chosen."""

# chosen: twice the slip of a loaded induction motor; a motor further off than this is not what went by
_MOST_RATE = 0.1
# chosen: after so many passes what is off is the film, before it is the path
_PATH_IS_KNOWN = 2
# chosen: what fits settles what did not by differing from it by this many standard deviations
_SETTLES_SD = 3.0
HELD_SD = 3.0
"""Film is off by more than its links hold where it is so by this many standard deviations. Chosen."""

# chosen: how long a finger takes to come down twice
_TWICE_S = 5.0
# chosen: a source sees something else, or is of something else, once in a hundred times, at any moment of the minute
_ELSEWHERE_PER_S = 0.01 / 60.0
# chosen: one finger in twenty is late, by six seconds on the average
_LATE, _LATE_S = 0.05, 6.0
# chosen: how closely two marks must follow one another to show that a motor runs that is believed to stand
_SAME_SPEED = 0.02


class Stranger(NamedTuple):
    """An observation that did not fit: when, who saw what, and its own error.

    `ahead_s` is by how much the station's count would have to be ahead of (+) or behind (-) its estimate. `x_s` is
    the film that a pass saw, None where the link that feeds the station was read to hold `slack_s`. `feed` is whose
    clock dates it, if that may be off by itself.
    """

    at_us: int
    source: str
    x_s: float | None
    slack_s: float
    ahead_s: float
    error_s: float
    feed: int | None = None

    @property
    def slips_per_s(self) -> float:
        """How dense the slips of its source lie about where an observation should be."""
        late = 0.0 if self.source.startswith("contact") else _LATE / _LATE_S * math.exp(-abs(self.ahead_s) / _LATE_S)
        return _ELSEWHERE_PER_S + late


class Explanation(NamedTuple):
    """What would have to be true: about how large a jump of the count, and how large a change of the rate.

    `may_have_jumped` is whether the jump alone explains it, `jumped` whether it does so better.
    """

    count_sigma_s: float
    rate_sigma: float
    jumped: bool
    may_have_jumped: bool


@dataclass(frozen=True, slots=True)
class _Account:
    """One station: its latest misfit if nothing has settled it, when it last fitted or started, whether a pass has
    confirmed since the start where its film is, how many passes were ever believed, and how often misfits in a row
    agreed with one another on what film cannot do.
    """

    stranger: Stranger | None = None
    fitted_us: int | None = None
    placed: bool = False
    passes: int = 0
    agreed: int = 0


class Misfits:
    """What is in doubt, station by station."""

    __slots__ = ("_accounts", "_plan")

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._accounts = (_Account(),) * len(plan.stations)

    def copy(self) -> "Misfits":
        """Return an independent copy."""
        twin = Misfits(self._plan)
        twin._accounts = self._accounts
        return twin

    def hold_s(self, station: int) -> float:
        """How far a station's film can be off by itself: what one of its links holds from the middle to one end."""
        return max((link.reserve_s for link in self._beside(station)), default=math.inf)

    def turned(self, station: int, at_us: int, *, running: bool) -> None:
        """A motor started or stopped: what was in doubt about it is over."""
        account = self._accounts[station]
        fitted_us = at_us if running else account.fitted_us
        self._set(station, _Account(None, fitted_us, passes=account.passes))

    def fitted(self, station: int, at_us: int, *, placed: bool = False) -> None:
        """An observation of a station fits, or has been explained."""
        account = self._accounts[station]
        self._set(station, _Account(None, at_us, placed or account.placed, account.passes + placed))

    def read(self, station: int, at_us: int, ahead_s: float, sigma_s: float) -> None:
        """A reading of slack fits, `ahead_s` give or take `sigma_s`."""
        if self._settles(station, ahead_s, sigma_s):
            self.fitted(station, at_us)

    def _settles(self, station: int, ahead_s: float, sigma_s: float) -> bool:
        """Whether what fits is fine enough to speak against the latest that did not, if there is one."""
        stranger = self._accounts[station].stranger
        return stranger is None or abs(ahead_s - stranger.ahead_s) > _SETTLES_SD * sigma_s

    def has_any(self, station: int) -> bool:
        """Whether an observation of a station is in doubt."""
        return self._accounts[station].stranger is not None

    def passed(self, station: int, at_us: int, ahead_s: float, sigma_s: float) -> None:
        """A pass fits, `ahead_s` give or take `sigma_s`."""
        if self._settles(station, ahead_s, sigma_s):
            self.fitted(station, at_us, placed=True)
        else:
            account = self._accounts[station]
            self._set(station, replace(account, placed=True, passes=account.passes + 1))

    def second(self, station: int, now: Stranger) -> Stranger | None:
        """Keep a misfit, and return the one before it at the same station, if it is still in doubt.

        The same source telling of the same pass is no second opinion: what it says now stands instead.
        """
        account = self._accounts[station]
        self._set(station, replace(account, stranger=now))
        before = account.stranger
        return None if before is not None and _is_same_pass(before, now) else before

    def own(self, station: int, before: Stranger, now: Stranger, estimate: Estimate) -> bool:
        """Whether two misfits of one running station agree; the state has then opened up to them and learned both.

        Film whose place is known cannot be off by more than its links hold: two that agree on that are not believed,
        but where it runs off and nobody tapped that. A third is, as is a second where no more than one pass has ever
        told of the place; film that seems to have jumped then has not, but the path to the gate is wrong.
        """
        account = self._accounts[station]
        if account.fitted_us is None:
            return False
        found = explanation(before, now, account.fitted_us, estimate.rate_var(station))
        if found is None:
            self._set(station, replace(account, agreed=0))
            return False
        passes = station > 0 and before.x_s is not None and now.x_s is not None
        tapped = before.source.startswith("tap") or now.source.startswith("tap")
        held = self._held(station, now, estimate)
        moved = passes and self._may_be_path(station, found, now, tapped=tapped, held=held)
        too_far = (tapped or (account.placed and found.jumped)) and not held
        if too_far and not moved and not account.agreed:
            self._set(station, replace(account, agreed=1))
            return False
        if moved or (passes and found.jumped and too_far):
            self._open_gate(station, found.count_sigma_s, estimate)
        else:
            estimate.open(station, found.count_sigma_s, found.rate_sigma)
        see(estimate, station, before, (now.at_us - before.at_us) / US_PER_S)
        see(estimate, station, now, 0.0)
        return True

    def _may_be_path(self, station: int, found: Explanation, now: Stranger, *, tapped: bool, held: bool) -> bool:
        """Whether the path to a gate explains two misfits best: too few passes have told of it yet.

        That is so even if a rate would explain them better, of more than a motor's links hold. Taps of film that is
        nearer to another gate are of the wrong house.
        """
        alike = found.jumped or (found.may_have_jumped and not held)
        few = self._accounts[station].passes < _PATH_IS_KNOWN
        return few and alike and (not tapped or self._is_here(station, now))

    def _is_here(self, station: int, now: Stranger) -> bool:
        """Whether film is nearer to where a gate should have it than to where its neighbours should."""
        return abs(now.ahead_s) < 0.5 * min(link.transit_s for link in self._beside(station))

    def _open_gate(self, station: int, sigma_s: float, estimate: Estimate) -> None:
        below = self._accounts[station + 1 : station + 2]
        estimate.open_gate(station, sigma_s, alone=any(one.passes for one in below))

    def _beside(self, station: int) -> tuple[Link, ...]:
        """The links beside a station."""
        return self._plan.links[max(station - 1, 0) : station + 1]

    def _held(self, station: int, now: Stranger, estimate: Estimate) -> bool:
        """Whether the links beside a station can hold what they would have to if its film were so far ahead."""
        return all(
            abs(estimate.slack_s(i) + side * now.ahead_s)
            <= self._plan.links[i].reserve_s + HELD_SD * math.hypot(now.error_s, estimate.slack_sigma_s(i))
            for i, side in ((station - 1, -1.0), (station, 1.0))
            if 0 <= i < len(self._plan.links)
        )

    def told_again(self, station: int, now: Stranger) -> bool:
        """Whether the latest that did not fit is the same pass, told moments ago: a finger came down twice."""
        before = self._accounts[station].stranger
        return before is not None and _is_same_pass(before, now) and now.at_us - before.at_us <= _TWICE_S * US_PER_S

    def _set(self, station: int, account: _Account) -> None:
        self._accounts = (*self._accounts[:station], account, *self._accounts[station + 1 :])


def _is_same_pass(one: Stranger, other: Stranger) -> bool:
    return one.x_s is not None and (one.source, one.x_s) == (other.source, other.x_s)


def see(estimate: Estimate, station: int, seen: Stranger, ago_s: float) -> None:
    """Learn what was seen `ago_s` seconds ago, if it fits by now."""
    if seen.x_s is None:
        estimate.see_past_slack(station - 1, seen.slack_s, seen.error_s, ago_s)
    else:
        estimate.see_past_pass(station, seen.x_s, seen.error_s, ago_s, seen.feed)


def explanation(first: Stranger, second: Stranger, fitted_us: int, rate_var: float) -> Explanation | None:
    """Return the one jump, or else the one change of rate since `fitted_us`, that explains both; None if neither does.

    A jump leaves both equally far ahead; a rate that changed by `e` at `tau` leaves each `e (t - tau)` ahead. Both are
    held to their errors and, for the jump, to what the rate's own variance `rate_var` may have added in between.
    Where either would do, both are admitted.
    """
    apart_s = (second.at_us - first.at_us) / US_PER_S
    allowed_s = MISFIT_SD * math.hypot(first.error_s, second.error_s, apart_s * rate_var**0.5)
    jumped = abs(second.ahead_s - first.ahead_s) <= allowed_s
    rate = _changed_rate(first, second, fitted_us)
    if not jumped and rate is None:
        return None
    # A rate that changed at once leaves the second further ahead by this share at least, a jump by nothing.
    least_s = abs(second.ahead_s) * apart_s / max((second.at_us - fitted_us) / US_PER_S, apart_s)
    grown_s = math.copysign(1.0, second.ahead_s) * (second.ahead_s - first.ahead_s)
    better = rate is None or grown_s < 0.5 * least_s
    return Explanation(WIDER * max(abs(first.ahead_s), abs(second.ahead_s)), WIDER * (rate or 0.0), better, jumped)


def _changed_rate(first: Stranger, second: Stranger, fitted_us: int) -> float | None:
    """About how much one rate changed since `fitted_us`, if that leaves the two as far ahead as they are.

    If it changed at `tau` then `second / first = (t2 - tau) / (t1 - tau)`: at least what it is for the earliest `tau`.
    """
    apart_s, since_s = (second.at_us - first.at_us) / US_PER_S, (first.at_us - fitted_us) / US_PER_S
    errors_s = MISFIT_SD * math.hypot(first.error_s, second.error_s)
    sign = math.copysign(1.0, second.ahead_s)
    grown_s, ahead_s = sign * (second.ahead_s - first.ahead_s), abs(second.ahead_s)
    if apart_s <= 0.0 or grown_s > ahead_s + errors_s:
        return None
    least_rate = ahead_s / (since_s + apart_s)
    if grown_s < least_rate * apart_s - errors_s:
        return None
    rate = max(least_rate, (grown_s - errors_s) / apart_s)
    return rate if rate <= _MOST_RATE else None


def shows_running(first: Stranger, second: Stranger) -> bool:
    """Whether two passes, at a station whose motor is believed to stand, are of film that runs at about its speed."""
    if first.x_s is None or second.x_s is None:
        return False
    film_s, apart_s = second.x_s - first.x_s, (second.at_us - first.at_us) / US_PER_S
    errors_s = MISFIT_SD * math.hypot(first.error_s, second.error_s)
    return film_s > 0.0 and abs(apart_s - film_s) <= errors_s + _SAME_SPEED * film_s
