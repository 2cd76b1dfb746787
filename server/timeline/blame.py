"""Which motor a link's slack comes from: what people are told of it, and what is told under what."""

import math
from typing import NamedTuple

from server.timeline.diagnosis import jumped
from server.timeline.evidence import Evidence
from server.timeline.naming import house_of
from server.timeline.steps import ALWAYS_US

# chosen: either of two motors may be the one that is off where the other explains this much of what the likelier does
_AS_WELL = 0.75
# chosen: a motor is named where its rate is off by so many standard deviations, and so many times what the other's is
_NAMED_SD, _NAMED_TIMES = 3.0, 3.0
# chosen: and where that spends a reserve within the show; less is what motors of one make differ by
_NAMED_WITHIN_S = 5400.0


def clear_us(evidence: Evidence, k: int) -> int | None:
    """When a station's tail is out: seen, estimated, or long ago if it stopped with its tail out; else None."""
    out_us = evidence.reached_us(k, "tail_end")
    if out_us is None and not evidence.stations[k].running and evidence.is_out(k, "tail_end"):
        return ALWAYS_US
    return out_us


def has_left(evidence: Evidence, link: int) -> bool:
    """Whether the film had left a link by the latest event that moved the estimate."""
    out_us = clear_us(evidence, link)
    return out_us is not None and out_us <= evidence.outlook.at_us


class Off(NamedTuple):
    """The motor that makes a link run tight or loose, and how much faster it feeds than others, as a share."""

    station: int
    rate: float


def motor_off(evidence: Evidence, link: int) -> Off | None:
    """Return which of a link's two motors makes it run tight or loose; None where neither surely does.

    Slack grows by the difference of two rates: it is the motor that surely runs otherwise than those beside the two,
    and makes nearly all of that difference. Film that jumped makes none.
    """
    rates, slack_s = evidence.outlook.rate, evidence.outlook.slack[link]
    if not all(rates[link : link + 2]):
        return None
    others = [k for k, rate in enumerate(rates) if rate > 0.0 and k not in {link, link + 1}]
    ends = [(k, *evidence.estimate.rate_beside(k, others)) for k in (link, link + 1)]
    outward = math.copysign(1.0, slack_s)
    makes = (outward * ends[0][1], -outward * ends[1][1])
    most = 0 if makes[0] > makes[1] else 1
    station, rate, sd = ends[most]
    enough = evidence.plan.links[link].reserve_s / _NAMED_WITHIN_S
    is_sure = makes[most] >= max(_NAMED_SD * sd, _NAMED_TIMES * abs(makes[1 - most]), enough)
    return Off(station, rate) if is_sure else None


def motor_in_words(evidence: Evidence, link: int) -> str:
    """`House 7's motor runs slow`, where that is what makes a link run tight or loose, or film that jumped there."""
    off = motor_off(evidence, link)
    if off is None:
        return _jump_in_words(evidence, link)
    return f"{house_of(evidence.plan, off.station)}'s motor runs {'fast' if off.rate > 0.0 else 'slow'}"


def _jump_in_words(evidence: Evidence, link: int) -> str:
    """`film jumped in House 7`, where that makes most of a link's slack."""
    jump = jumped(evidence)
    if jump is None or jump[0] not in {link, link + 1}:
        return ""
    station, by_s = jump
    made_s, slack_s = by_s if station == link else -by_s, evidence.outlook.slack[link]
    return f"film jumped in {house_of(evidence.plan, station)}" if 2.0 * made_s * slack_s > slack_s**2 else ""


def same_motor(evidence: Evidence, link: int) -> int | None:
    """Return the link on the other side of a motor that is to blame for this one, where it is for both."""
    for k in to_blame(evidence, link):
        beside = k - 1 if k == link else k
        if 0 <= beside < len(evidence.plan.links) and k in to_blame(evidence, beside):
            return beside
    return None


def to_blame(evidence: Evidence, link: int) -> tuple[int, ...]:
    """Return which of a link's two motors is off, or both where either may be: the likelier first.

    That whose other link runs the other way by more, and that of which enough is supposed: this alone where it adds
    more to what the link will use than the other explains of it. The first and the last motor that have film have no
    other link: they are it where the other motor's explains less than half.
    """
    own = _to_come_s(evidence, link) or 0.0
    beside = (_to_come_s(evidence, i) for i in (link - 1, link + 1))
    upper, lower = (_explained(own, -own / 2.0 if other is None else other) for other in beside)
    likelier, second = (link, link + 1) if upper > lower else (link + 1, link)
    either = min(upper, lower) >= _AS_WELL * max(upper, lower) > 0.0
    supposed = evidence.prospect.supposed.get(link)
    if supposed is not None and supposed.strong:
        _, slack, drift, _ = supposed.link
        more = abs(slack + drift * evidence.plan.timing.forecast_horizon_s) - abs(own)
        if more > (lower if supposed.station == link else upper):
            return (supposed.station,)
        either = either or supposed.station == second
    return (likelier, second) if either else (likelier,)


def _to_come_s(evidence: Evidence, link: int) -> float | None:
    """How much slack is to be expected of a link at the horizon; None where there is no film on it, or no such link."""
    outlook = evidence.outlook
    if not 0 <= link < len(outlook.slack) or has_left(evidence, link):
        return None
    return outlook.slack[link] + outlook.drift[link] * evidence.plan.timing.forecast_horizon_s


def _explained(slack_s: float, other_s: float) -> float:
    """How much of one link's slack a motor explains by which its other link has that much."""
    return min(abs(slack_s), abs(other_s)) if slack_s * other_s < 0.0 else 0.0
