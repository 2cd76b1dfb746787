"""What there is to tell of the links: slack that is past its share of the reserve, or will be."""

import math
from collections.abc import Collection, Iterator

import numpy as np

from server.timeline.alarm_kinds import OF_LINKS
from server.timeline.blame import clear_us, has_left, motor_in_words, same_motor
from server.timeline.condition import Condition, steady, us_from_s
from server.timeline.estimate import US_PER_S
from server.timeline.evidence import Evidence
from server.timeline.naming import link_of
from server.timeline.outlook import LinkOutlook, variance_at
from server.timeline.spent import BACK
from server.timeline.starts import unseen_starts
from server.timeline.steps import ALWAYS_US, Steps, delayed, level_at, steps_of_line, until
from server.timeline.stops import stop_todo
from server.timeline.suppositions import MATTERS, Supposed
from server.timeline.view import Level
from server.timeline.wording import text_of

TIGHT_RAISE: tuple[tuple[float, Level], ...] = ((0.5, "watch"), (0.9, "act"))
TIGHT_HOLD: tuple[tuple[float, Level], ...] = ((0.4, "watch"), (0.8, "act"))
FORECAST_ACT_S = 60.0
# chosen deadband: a forecast that moves by less than this does not fall from act
_FORECAST_BAND_S = 30.0
# The deadband of a reserve that is spent, and, chosen, of a forecast that it lasts with no more than that to spare.
_NEARLY_GONE = BACK
_NOT_READ = "it holds less again, and nobody has read it or laced it anew since"
_LONG_S = 86_400.0
# chosen: an instant that moves by less than a millisecond from one step to the next is found; most are in three
_STEPS, _SAME_S = 20, 0.001
# chosen: a drift under this is that of film that stands or runs as it should, not of film that spills or is pulled
_STANDS_RATE = 0.01
_NEVER_US = 2**62


def slack_conditions(
    evidence: Evidence, due_us: dict[int, int], until_us: int, held: Collection[str]
) -> Iterator[Condition]:
    """Read off what there is to tell of each link; `due_us` says when motors that stand were due to start.

    Of a link of which nothing can come on by then, and nothing is `held`, there is nothing.
    """
    outlook, prospect = evidence.outlook, evidence.prospect
    # Where no motor runs slack stands still, and any span will do.
    span_s = (until_us - outlook.at_us) / US_PER_S if any(outlook.rate) else 0.0
    used, near = prospect.is_used(TIGHT_HOLD[0][0], span_s), prospect.may_be_gone(span_s)
    held_links = {subject for kind, _, subject in (key.partition(":") for key in held) if kind in OF_LINKS}
    supposed = prospect.supposed if prospect.may_suppose or held_links else {}
    back, unseen = evidence.back_from_spent(), unseen_starts(evidence, due_us)
    asked = {*np.flatnonzero(used | near).tolist(), *(i for i, one in supposed.items() if one.strong), *back}
    for i, link in enumerate(evidence.plan.links):
        # A plan is warned of a link without any reserve; nothing could be watched on it.
        # Of a motor that may have started unseen nobody can tell what its links hold.
        if (i not in asked and link.id not in held_links) or link.reserve_s <= 0.0:
            continue
        if i in unseen or i + 1 in unseen or has_left(evidence, i):
            continue
        out_us = clear_us(evidence, i)
        if used[i] or i in back:
            yield from _spent(evidence, i, out_us, was_spent=i in back)
        if used[i]:
            yield from _slack(evidence, i, span_s, out_us)
        known = _forecast(evidence, i, span_s, out_us, due_us)
        if i in supposed and (known is None or not known.on):
            only_supposed = _supposed(evidence, supposed[i], span_s, out_us, due_us)
            if known is not None and only_supposed is not None:
                only_supposed = only_supposed._replace(stay=known.stay)
            known = only_supposed or known
        if known is not None:
            yield known


def _spent(evidence: Evidence, i: int, out_us: int | None, *, was_spent: bool) -> Iterator[Condition]:
    """Slack that is past the reserve by more than one standard deviation: not to come any more, but so.

    It stays until a tenth of the reserve is left again, as somebody reads the link or laces it anew.
    """
    outlook, reserve_s = evidence.outlook, evidence.plan.links[i].reserve_s
    link, hold_s = outlook.of_link(i), _NEARLY_GONE * reserve_s
    # What runs back is not put right by that: it stays until something is learned.
    is_over = was_spent or abs(link.slack) >= hold_s
    stay: Steps = ((ALWAYS_US, "act"),) if is_over else _past(outlook.at_us, link, hold_s, hold_s)
    if not any(level for _, level in stay):
        return
    to_come_us = _surely_used_us(outlook.at_us, link, reserve_s)
    known_us = max(stop_known_us(evidence, k) for k in (i, i + 1))
    on = delayed(_surely_past(outlook.at_us, link, reserve_s, to_come_us), known_us)
    if _may_have_started(evidence, i):
        on = ()
    sign = math.copysign(1.0, link.slack if abs(link.slack) >= hold_s else link.drift)
    text = _NOT_READ if was_spent else _spent_in_words(evidence, link, to_come_us)
    beside, own = _beside(evidence, i, sign), _slack_keys(evidence, i)
    yield Condition(
        "reserve_spent",
        evidence.plan.links[i].id,
        until(on, out_us),
        until(stay, out_us),
        text_of("reserve_spent", link_of(evidence.plan, i), text),
        (*_stops(evidence, i), *beside),
        replaces=own,
        todo=stop_todo(evidence, "reserve_spent", ()),
    )


def _slack_keys(evidence: Evidence, i: int) -> tuple[str, ...]:
    return tuple(f"{kind}:{evidence.plan.links[i].id}" for kind in ("slack_tight", "slack_loose", "slack_forecast"))


def _outward(link: LinkOutlook) -> float:
    """How fast a link's slack grows, the way that it is; negative where it goes back."""
    return math.copysign(1.0, link.slack) * link.drift


def _past(at_us: int, link: LinkOutlook, falling_s: float, rising_s: float | None) -> Steps:
    """When slack is past a share of its reserve: until it is back within `falling_s`, and from `rising_s` on again.

    None where it does not come to that.
    """
    sign = math.copysign(1.0, link.drift)
    back = steps_of_line(-sign * link.slack, -abs(link.drift), at_us, ((falling_s, "act"),), reached=True)
    if rising_s is None:
        return back
    out = steps_of_line(sign * link.slack, abs(link.drift), at_us, ((rising_s, "act"),), reached=True)
    if link.drift == 0.0:
        return back if level_at(back, at_us) else out
    return (*back, *out)


def _surely_past(at_us: int, link: LinkOutlook, reserve_s: float, to_come_us: int | None) -> Steps:
    """The same of the reserve and one standard deviation of slack, as it is and as it is at `to_come_us`."""
    now_s = reserve_s + math.sqrt(variance_at(link.slack_var, 0.0))
    if link.drift == 0.0:
        return _past(at_us, link, now_s, now_s)
    if to_come_us is None:
        return _past(at_us, link, now_s, None)
    return _past(at_us, link, now_s, abs(link.slack + link.drift * (to_come_us - at_us) / US_PER_S))


def _surely_used_us(at_us: int, link: LinkOutlook, reserve_s: float) -> int | None:
    """When slack goes past the reserve by one standard deviation of it; None where it is not on its way.

    The deviation at that instant is part of what it is compared with, so it is found by going there step by step.
    """
    if link.drift == 0.0:
        return None
    after_s = 0.0
    for _ in range(_STEPS):
        past_s = reserve_s + math.sqrt(variance_at(link.slack_var, after_s))
        then_s = (past_s - math.copysign(link.slack, link.slack * link.drift)) / abs(link.drift)
        if not 0.0 <= then_s <= _LONG_S:
            return at_us if then_s < 0.0 else None
        if abs(then_s - after_s) <= _SAME_S:
            return at_us + us_from_s(then_s)
        after_s = then_s
    return None


def _spent_in_words(evidence: Evidence, link: LinkOutlook, on_us: int | None) -> str:
    """By how much, in seconds, counter feet and frames; of film that runs, by how much at least."""
    at_us = max(evidence.outlook.at_us, on_us if on_us is not None else evidence.outlook.at_us)
    slack_s = link.slack + link.drift * (at_us - evidence.outlook.at_us) / US_PER_S
    film = evidence.plan.film.in_words(slack_s)
    least, growing = ("more than ", ", and growing") if _outward(link) > _STANDS_RATE else ("", "")
    if slack_s > 0.0:
        return f"film on the floor, {least}{slack_s:.1f} s too much, {film} to take out{growing}"
    return f"film taut, {least}{-slack_s:.1f} s too little, {film} to give{growing}"


def _slack(evidence: Evidence, i: int, span_s: float, out_us: int | None) -> Iterator[Condition]:
    link, outlook = evidence.plan.links[i], evidence.outlook
    slack, drift = outlook.slack[i] / link.reserve_s, outlook.drift[i] / link.reserve_s
    stops_us = max(stop_known_us(evidence, k) for k in (i, i + 1))
    for kind, sign in (("slack_tight", -1.0), ("slack_loose", 1.0)):
        value, slope = sign * slack, sign * drift
        if max(value, value + slope * span_s) < TIGHT_HOLD[0][0]:
            continue
        on = delayed(steps_of_line(value, slope, outlook.at_us, TIGHT_RAISE, reached=True), stops_us)
        stay = steps_of_line(value, slope, outlook.at_us, TIGHT_HOLD, reached=False)
        beside = _beside(evidence, i, sign)
        causes = (*_stops(evidence, i), *beside[:2], f"slack_forecast:{link.id}", *beside[2:])
        text = text_of(kind, link_of(evidence.plan, i), motor_in_words(evidence, i))
        yield Condition(kind, link.id, until(on, out_us), until(stay, out_us), text, causes)


def _stops(evidence: Evidence, link: int) -> tuple[str, ...]:
    """What a link's slack follows from first of all: a stop at either end."""
    ends = (evidence.plan.stations[link].id, evidence.plan.stations[link + 1].id)
    return tuple(f"{kind}:{end}" for kind in ("film_trip", "motor_lost", "start_missing") for end in ends)


def _beside(evidence: Evidence, link: int, sign: float) -> tuple[str, ...]:
    """What else a link that runs loose (`sign` 1.0) or tight (-1.0) may follow from: what is told of its neighbour.

    That is slack and what is forecast, where the same motor is to blame for both.
    """
    beside = same_motor(evidence, link)
    if beside is None:
        return ()
    other, id_ = "slack_tight" if sign > 0.0 else "slack_loose", evidence.plan.links[beside].id
    return (f"reserve_spent:{id_}", f"{other}:{id_}", f"slack_forecast:{id_}")


def _forecast(
    evidence: Evidence, i: int, span_s: float, out_us: int | None, due_us: dict[int, int]
) -> Condition | None:
    """Whether the reserve will be gone before the film is out; it stands until a tenth is expected to be left by then.

    So what is seen next does not take back what was told, as long as it is so.
    """
    horizon_us = us_from_s(evidence.plan.timing.forecast_horizon_s)
    outlook, reserve_s = evidence.outlook, evidence.plan.links[i].reserve_s
    link, last_us = outlook.of_link(i), _NEVER_US if out_us is None else out_us
    if _used_us(outlook.at_us, link, _NEARLY_GONE * reserve_s) >= last_us:
        return None
    most_us = evidence.prospect.known_gone_us(link, span_s)
    half_us = _used_us(outlook.at_us, link, reserve_s)
    act_us = half_us - us_from_s(FORECAST_ACT_S)
    stay: Steps = ((ALWAYS_US, "watch"), (act_us - us_from_s(_FORECAST_BAND_S), "act"))
    on: Steps = ()
    settled_us = _settled_us(evidence, i, due_us)
    if most_us is not None and settled_us is not None and half_us < last_us and not _has_tripped(evidence, i):
        known_us = most_us - horizon_us
        # Beside a motor that stands it is seconds, and the stop says what to do.
        rising = _rising((known_us, "watch"), (max(known_us, act_us), "act"))
        on = delayed(steady(known_us, "watch") if _has_stopped(evidence, i) else rising, settled_us)
    at_once = bool(on) and act_us <= outlook.at_us
    when = "within a minute" if at_once else "before long" if on else "before the film is out"
    if half_us >= last_us:
        when = "about when the film is out"
    who = motor_in_words(evidence, i)
    text = text_of("slack_forecast", link_of(evidence.plan, i), f"{when} ({who})" if who else when)
    condition = _forecast_of(evidence, i, until(on, out_us), until(stay, out_us), text)
    if at_once:
        condition = condition._replace(todo="Be ready to stop the chain. Go to this link, and report what you see.")
    if half_us >= last_us:
        return condition
    # By what is most likely it is gone from then on, though not yet surely.
    gone = text_of("slack_forecast_now", link_of(evidence.plan, i))
    return condition._replace(stay=_with_edge(condition.stay, half_us), text_from=(half_us, gone))


def _with_edge(steps: Steps, at_us: int) -> Steps:
    """The same levels, with an instant among them at which something else changes."""
    return tuple(sorted((*steps, (at_us, level_at(steps, at_us))), key=lambda step: step[0]))


def _supposed(
    evidence: Evidence, supposed: Supposed, span_s: float, out_us: int | None, due_us: dict[int, int]
) -> Condition | None:
    """A watch where what is only supposed would have the reserve gone within the horizon, or half of it by now.

    It comes on where enough speaks for that, and stays on where anything still does.
    """
    i, at_us = supposed.link.link, evidence.outlook.at_us
    settled_us = _settled_us(evidence, i, due_us)
    if settled_us is None or _has_tripped(evidence, i):
        return None
    reserve_s, horizon_us = evidence.plan.links[i].reserve_s, us_from_s(evidence.plan.timing.forecast_horizon_s)
    gone_us = _used_us(at_us, supposed.link, reserve_s)
    stay_us = min(_used_us(at_us, supposed.link, MATTERS * reserve_s), gone_us - horizon_us)
    if stay_us > at_us + us_from_s(span_s) and not supposed.strong:
        return None
    on: Steps = ()
    if supposed.strong:
        sure_us = evidence.prospect.known_gone_us(supposed.link, span_s)
        half_us = _used_us(at_us, supposed.link, TIGHT_RAISE[0][0] * reserve_s)
        on_us = min(half_us, _NEVER_US if sure_us is None else sure_us - horizon_us)
        on = delayed(steady(on_us, "watch"), settled_us) if on_us < _NEVER_US else ()
    stay = steady(stay_us, "watch")
    when = "before long" if gone_us > at_us else "now"
    text = text_of("slack_forecast", link_of(evidence.plan, i), f"{when} (if what was seen last is true)")
    return _forecast_of(evidence, i, until(on, out_us), until(stay, out_us), text)


def _used_us(at_us: int, link: LinkOutlook, share_s: float) -> int:
    """When that much of a reserve is used, either way; `_NEVER_US` where it is not on its way."""
    if abs(link.slack) >= share_s:
        return at_us
    left_s, drift = share_s - math.copysign(link.slack, link.slack * link.drift), abs(link.drift)
    return at_us + us_from_s(left_s / drift) if drift * _LONG_S > left_s else _NEVER_US


def _forecast_of(evidence: Evidence, i: int, on: Steps, stay: Steps, text: str) -> Condition:
    link, outlook = evidence.plan.links[i], evidence.outlook
    blocked_by = (f"slack_tight:{link.id}", f"slack_loose:{link.id}")
    sign = math.copysign(1.0, outlook.drift[i] or outlook.slack[i])
    beside = _beside(evidence, i, sign)
    # What was forecast of its neighbour tells more than slack of either.
    causes = (*_stops(evidence, i), *beside[2:], *blocked_by, *beside[:2])
    return Condition("slack_forecast", link.id, on, stay, text, causes, blocked_by)


def _has_tripped(evidence: Evidence, i: int) -> bool:
    """Whether a failsafe beside a link says by itself that the reserve is gone: then it is not told as to come."""
    return any(evidence.stations[k].trip_us is not None for k in (i, i + 1))


def _may_have_started(evidence: Evidence, i: int) -> bool:
    """Whether a motor beside a link may run since the other does: nobody but people would tell of its first start."""
    ends = zip(evidence.plan.stations[i : i + 2], evidence.stations[i : i + 2], strict=True)
    return any(state.started_us is None and station.inputs.motor != "contact" for station, state in ends)


def _has_stopped(evidence: Evidence, i: int) -> bool:
    """Whether a motor beside a link stands that has run."""
    ends = evidence.stations[i : i + 2]
    return any(not state.running and state.started_us is not None for state in ends)


def _rising(first: tuple[int, Level], second: tuple[int, Level]) -> Steps:
    return (second,) if second[0] <= first[0] else (first, second)


def _settled_us(evidence: Evidence, i: int, due_us: dict[int, int]) -> int | None:
    """From when on a drift between two motors is a drift, and not one of them starting or stopping just behind.

    None where one of them stands and nothing but a tap would tell of its start.
    """
    grace_us = us_from_s(evidence.plan.timing.start_grace_s)
    turns_us = [ALWAYS_US]
    for k in (i, i + 1):
        state = evidence.stations[k]
        if not state.running and state.stopped_us is None:
            if evidence.plan.stations[k].inputs.motor != "contact":
                return None
            turns_us.append(due_us.get(k, ALWAYS_US) + grace_us)
        if state.started_us is not None:
            turns_us.append(state.started_us + grace_us)
        turns_us.append(stop_known_us(evidence, k))
    return max(turns_us)


def stop_known_us(evidence: Evidence, k: int) -> int:
    """Return from when on it is known whether a station's latest stop was its own or the chain's."""
    stopped_us, grace_us = evidence.stations[k].stopped_us, us_from_s(evidence.plan.timing.start_grace_s)
    return ALWAYS_US if stopped_us is None else _last_of_stops_us(evidence, stopped_us, grace_us) + grace_us


def _last_of_stops_us(evidence: Evidence, stopped_us: int, grace_us: int) -> int:
    """When the last motor stopped of those that followed a stop one after another, each within the grace."""
    last_us = stopped_us
    stops = (state.stopped_us for state in evidence.stations if not state.running and state.stopped_us is not None)
    for us in sorted(stops):
        if last_us < us <= last_us + grace_us:
            last_us = us
    return last_us
