"""What did not fit, until a second observation tells the same story.

One story is a station's own: its count jumped, or its rate changed. The other is common: the mains changed, and all
motors with them. It is told where two stations are off alike, by three taps at least where nothing but taps tells, and
no other that was seen between them speaks against it.
"""

import math
from dataclasses import dataclass, replace
from typing import NamedTuple

from server.timeline.changes import MISFIT_SD
from server.timeline.estimate import US_PER_S, Estimate
from server.timeline.plan import Link, Plan

# chosen: opened a little wider than what was seen, so that the observations decide and not the guess
_WIDER = 2.0
# chosen: twice the slip of a loaded induction motor; a motor further off than this is not what went by
_MOST_RATE = 0.1
# What the mains keep to (EN 50160), and, chosen, twice that for what is called a change of theirs
_MAINS_RATE = 0.01
_MOST_COMMON_RATE = 2.0 * _MAINS_RATE
# chosen: a misfit is one motor's where it is over what the mains may do by this many standard deviations
_ALONE_SD = 2.0
# chosen: after so many passes what is off is the film, before it is the path
_PATH_IS_KNOWN = 2
# chosen: what fits settles what did not by differing from it by this many standard deviations
_SETTLES_SD = 3.0
# chosen: film is off by more than its links hold where it is so by this many standard deviations
_HELD_SD = 3.0
# chosen: so many taps that agree are no slip of fingers
_TAPS = 3
# chosen: how long a finger takes to come down twice
_TWICE_S = 5.0
# chosen: what share of a source's observations are slips, and within how many seconds they lie: a detector sees
# something else once in a hundred times, at any moment of the minute; one finger in twenty is seconds late
_SLIPS = {"contact": (0.01, 60.0), "tap": (0.05, 6.0)}
# chosen: how closely two marks must follow one another to show that a motor runs that is believed to stand
_SAME_SPEED = 0.02


class Stranger(NamedTuple):
    """An observation that did not fit: when, who saw what, and its own error.

    `ahead_s` is by how much the station's count would have to be ahead of (+) or behind (-) its estimate. `x_s` is
    the film that a pass saw, None where the link that feeds the station was read to hold `slack_s`.
    """

    at_us: int
    source: str
    x_s: float | None
    slack_s: float
    ahead_s: float
    error_s: float

    @property
    def slips_per_s(self) -> float:
        """How dense the slips of its source lie about where an observation should be."""
        share, within_s = _SLIPS["contact" if self.source.startswith("contact") else "tap"]
        return share / within_s


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

    __slots__ = ("_accounts", "_alone", "_elsewhere", "_latest", "_plan")

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._accounts = (_Account(),) * len(plan.stations)
        # Misfits of passes that may be the first signs of a common change, the latest two of each station; and the
        # latest that is none, because others have fitted since.
        self._elsewhere: tuple[tuple[int, Stranger], ...] = ()
        self._alone: tuple[int, Stranger] | None = None
        # Where the latest pass fitted, and when.
        self._latest: tuple[int, int] | None = None

    def copy(self) -> "Misfits":
        """Return an independent copy."""
        twin = Misfits(self._plan)
        twin._accounts, twin._elsewhere = self._accounts, self._elsewhere
        twin._alone, twin._latest = self._alone, self._latest
        return twin

    def suppose_alone(self, estimate: Estimate) -> tuple[int, Estimate] | None:
        """Return where the latest misfit is that no other station shares, and what would be known if it were true.

        None where there is none, or where a person saw it: a tap that does not fit may be of the wrong house or mark.

        Its motor's rate is then supposed to have changed midway since the station last fitted, or its film to have
        jumped where no motor could be so far off. It is over once the station fits, stops or is explained; film that
        would be further off than a link holds is a wrong tap.
        """
        if self._alone is None or not self._alone[1].source.startswith("contact"):
            return None
        station, stranger = self._alone
        account = self._accounts[station]
        if account.stranger is not stranger or account.fitted_us is None or account.fitted_us >= stranger.at_us:
            return None
        if abs(stranger.ahead_s) > self.hold_s(station):
            return None
        twin = estimate.copy()
        ago_s = (twin.at_us - stranger.at_us) / US_PER_S
        half_s = 0.5 * (stranger.at_us - account.fitted_us) / US_PER_S
        if abs(stranger.ahead_s) > _MOST_RATE * half_s:
            twin.open(station, _WIDER * abs(stranger.ahead_s), 0.0)
        else:
            twin.open_since(station, half_s + ago_s, _WIDER * abs(stranger.ahead_s) / half_s)
        see(twin, station, stranger, ago_s)
        return station, twin

    def hold_s(self, station: int) -> float:
        """How far a station's film can be off by itself: what one of its links holds from the middle to one end."""
        return max((link.reserve_s for link in self._beside(station)), default=math.inf)

    def _may_have_stood(self, station: int) -> bool:
        """Whether nobody but people would tell of a stop."""
        return self._plan.stations[station].inputs.motor != "contact"

    def turned(self, station: int, at_us: int, *, running: bool) -> None:
        """A motor started or stopped: what was in doubt about it is over."""
        account = self._accounts[station]
        fitted_us = at_us if running else account.fitted_us
        self._set(station, _Account(None, fitted_us, passes=account.passes))
        self._elsewhere = _without(self._elsewhere, station)

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

    def passed(self, station: int, at_us: int, ahead_s: float, sigma_s: float) -> None:
        """A pass fits, `ahead_s` give or take `sigma_s`; that may speak against a common change."""
        if self._settles(station, ahead_s, sigma_s):
            self.fitted(station, at_us, placed=True)
        else:
            account = self._accounts[station]
            self._set(station, replace(account, placed=True, passes=account.passes + 1))
        elsewhere = _without(self._elsewhere, station)
        against = [
            (where, one)
            for where, one in elsewhere
            if abs(ahead_s - one.ahead_s) > MISFIT_SD * math.hypot(sigma_s, one.error_s)
        ]
        self._elsewhere = tuple(one for one in elsewhere if one not in against)
        self._alone = against[-1] if against else self._alone
        self._latest = (station, at_us)

    def second(self, station: int, now: Stranger) -> Stranger | None:
        """Keep a misfit, and return the one before it at the same station, if it is still in doubt.

        The same source telling of the same pass is no second opinion: what it says now stands instead.
        """
        account = self._accounts[station]
        self._set(station, replace(account, stranger=now))
        if self._latest is not None and self._latest[0] != station and now.x_s is not None:
            since_s = (now.at_us - self._latest[1]) / US_PER_S
            if abs(now.ahead_s) - _ALONE_SD * now.error_s > _MAINS_RATE * since_s:
                self._alone = (station, now)
        before = account.stranger
        return None if before is not None and _is_same_pass(before, now) else before

    def common(self, station: int, now: Stranger, estimate: Estimate) -> bool:
        """Whether a misfit agrees with others elsewhere on a change of all motors; the state has then learned them all.

        Two late fingers are nothing rare: where only taps tell it takes three, in two houses at least.
        """
        if now.x_s is None:
            return False
        before = [(where, one) for where, one in self._elsewhere if where != station or not _is_same_pass(one, now)]
        found = [self._alike(where, one, station, now) for where, one in before]
        alike = [one for one, explained in zip(before, found, strict=True) if explained is not None]
        here = [one for one in alike if one[0] == station]
        self._elsewhere = (*(one for one in alike if one[0] != station), *here[-1:], (station, now))
        tapped = all(one.source.startswith("tap") for _, one in self._elsewhere)
        if len(alike) == len(here) or (tapped and len(alike) < _TAPS - 1):
            return False
        explained = [one for one in found if one is not None]
        estimate.open_common(max(one.count_sigma_s for one in explained), max(one.rate_sigma for one in explained))
        for where, one in self._elsewhere:
            see(estimate, where, one, (now.at_us - one.at_us) / US_PER_S)
            self.fitted(where, now.at_us)
        self._elsewhere = ()
        self._accounts = tuple(replace(one, stranger=None) for one in self._accounts)
        return True

    def _alike(self, where: int, first: Stranger, station: int, now: Stranger) -> Explanation | None:
        """What change of all motors explains two misfits of passes, if any does."""
        fitted_us = max((one.fitted_us for one in self._accounts if one.fitted_us is not None), default=now.at_us)
        stood = self._may_have_stood(where) and self._may_have_stood(station)
        return common_explanation(first, now, min(fitted_us, first.at_us), may_have_stood=stood)

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
        self._elsewhere = _without(self._elsewhere, station)
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
            <= self._plan.links[i].reserve_s + _HELD_SD * math.hypot(now.error_s, estimate.slack_sigma_s(i))
            for i, side in ((station - 1, -1.0), (station, 1.0))
            if 0 <= i < len(self._plan.links)
        )

    def told_again(self, station: int, now: Stranger) -> bool:
        """Whether the latest that did not fit is the same pass, told moments ago: a finger came down twice."""
        before = self._accounts[station].stranger
        return before is not None and _is_same_pass(before, now) and now.at_us - before.at_us <= _TWICE_S * US_PER_S

    def _set(self, station: int, account: _Account) -> None:
        self._accounts = (*self._accounts[:station], account, *self._accounts[station + 1 :])


def _without(strangers: tuple[tuple[int, Stranger], ...], station: int) -> tuple[tuple[int, Stranger], ...]:
    return tuple(one for one in strangers if one[0] != station)


def _is_same_pass(one: Stranger, other: Stranger) -> bool:
    return one.x_s is not None and (one.source, one.x_s) == (other.source, other.x_s)


def see(estimate: Estimate, station: int, seen: Stranger, ago_s: float) -> None:
    """Learn what was seen `ago_s` seconds ago, if it fits by now."""
    if seen.x_s is None:
        estimate.see_past_slack(station - 1, seen.slack_s, seen.error_s, ago_s)
    else:
        estimate.see_past_pass(station, seen.x_s, seen.error_s, ago_s)


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
    return Explanation(_WIDER * max(abs(first.ahead_s), abs(second.ahead_s)), _WIDER * (rate or 0.0), better, jumped)


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


def common_explanation(
    first: Stranger, second: Stranger, fitted_us: int, *, may_have_stood: bool
) -> Explanation | None:
    """Return the change of all rates since `fitted_us` that explains the passes of two stations; None if none does.

    A change by `e` at `tau` leaves each `e (t - tau)` ahead, so between them they grow by no more than in proportion
    to the time since, and not against it, give or take their errors. Both may also be late by the same, where the
    chain may have stood with nobody to tell of it.
    """
    since_s = (first.at_us - fitted_us) / US_PER_S
    apart_s = (second.at_us - first.at_us) / US_PER_S
    errors_s = MISFIT_SD * math.hypot(first.error_s, second.error_s)
    growth_s = math.copysign(1.0, first.ahead_s) * (second.ahead_s - first.ahead_s)
    if growth_s < -errors_s:
        return None
    ahead_s = max(abs(first.ahead_s), abs(second.ahead_s))
    if may_have_stood and second.ahead_s < 0.0 and abs(growth_s) <= errors_s:
        return Explanation(_WIDER * ahead_s, 0.0, jumped=True, may_have_jumped=True)
    least_rate = ahead_s / max(since_s + apart_s, 1.0)
    most_growth_s = _MOST_COMMON_RATE * apart_s
    if least_rate > _MOST_COMMON_RATE or growth_s > most_growth_s + errors_s:
        return None
    rate = max(least_rate, max(growth_s, 0.0) / max(apart_s, 1.0))
    return Explanation(_WIDER * ahead_s, _WIDER * rate, jumped=False, may_have_jumped=False)


def shows_running(first: Stranger, second: Stranger) -> bool:
    """Whether two passes, at a station whose motor is believed to stand, are of film that runs at about its speed."""
    if first.x_s is None or second.x_s is None:
        return False
    film_s, apart_s = second.x_s - first.x_s, (second.at_us - first.at_us) / US_PER_S
    errors_s = MISFIT_SD * math.hypot(first.error_s, second.error_s)
    return film_s > 0.0 and abs(apart_s - film_s) <= errors_s + _SAME_SPEED * film_s
