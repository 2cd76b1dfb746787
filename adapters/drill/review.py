"""The review of a rehearsal: what was done, held against what truly was.

Everything is worked out from the truth of the drill. All times are seconds after `motors_at`.
"""

from collections.abc import Mapping, Sequence
from math import inf
from typing import Final, Literal, NamedTuple, TypeAlias

import numpy as np

from adapters.drill.crew import Picture, Span, both, standing_spans, without
from adapters.drill.motion import Floats
from adapters.drill.rehearsal import Done, Rehearsal
from adapters.drill.troubles import Trouble, troubles_of
from adapters.drill.truth import Truth
from server.timeline.events import Event, at_us, sigma_s
from server.timeline.plan import Link, Plan

StrikeVerdict: TypeAlias = Literal["in time", "early", "late", "never"]
TapVerdict: TypeAlias = Literal["right", "early", "late", "wrong house", "wrong mark", "again", "missed", "not there"]

RIGHT_SDS: Final = 3.0
"""A tap that is off by no more of its `sigma_s`, the plan's `tap_sigma_s` unless it has its own, is right. Chosen."""

EDGE_S: Final = 3.0
"""A strike that misses its true window by no more is in time: no desk knows the window better. Chosen."""

NEAR_S: Final = 30.0
"""A tap that is off by more was not meant for that pass. Chosen: shorter than any trailer."""


class StrikeReview(NamedTuple):
    """One lamp against its true window; `struck_s` is None where it was never lit. `yours`: the person struck it."""

    station: str
    yours: bool
    struck_s: float | None
    opens_s: float
    closes_s: float
    head_s: float
    verdict: StrikeVerdict


class TapReview(NamedTuple):
    """One tapped pass, or a missed one (`tapped_s` None), against the true pass.

    `error_s` is how much later than the pass the tap counts, below 0 earlier; None where there is nothing to compare.
    `meant` is the station or the mark that it truly was, where that was another.
    """

    station: str
    mark: str
    tapped_s: float | None
    passed_s: float | None
    error_s: float | None
    verdict: TapVerdict
    meant: str | None = None


class LinkReview(NamedTuple):
    """The worst that a link came to.

    `left_s`: what was left of its reserve then, below 0 when it was past it. `spilled_ft` counter feet that fell,
    `pulled_ft` that were pulled past the reserve, each 0.0 where none.
    """

    link: str
    worst_s: float
    slack_s: float
    left_s: float
    spilled_ft: float
    pulled_ft: float


class DarkReview(NamedTuple):
    """A house between its head and its end: seconds without a picture, and of those with the film standing."""

    station: str
    dark_s: float
    standing_s: float


class HeatReview(NamedTuple):
    """Film that stood in the light for longer than its house's `gate_limit_s`; `until_s` is None where it did still."""

    station: str
    from_s: float
    until_s: float | None
    for_s: float


class Review(NamedTuple):
    """The whole review; `end` is how the drill ended: `out`, `spilled`, or None where the person ended it."""

    name: str
    text: str
    seed: int
    crew: str
    start_s: float
    ended_s: float
    end: str | None
    troubles: tuple[Trouble, ...]
    done: tuple[Done, ...]
    strikes: tuple[StrikeReview, ...]
    taps: tuple[TapReview, ...]
    links: tuple[LinkReview, ...]
    dark: tuple[DarkReview, ...]
    heat: tuple[HeatReview, ...]
    first_spent_s: float | None


def review_of(rehearsal: Rehearsal, reported: Sequence[Event]) -> Review:
    """Review a rehearsal as it stands; `reported` are all events that the person sent, in any order.

    What was before they came to it is not theirs.
    """
    truth, ended_s, duties = rehearsal.truth, rehearsal.at_s, rehearsal.duties
    start_s = rehearsal.start_s
    plan = truth.plan
    yours = frozenset(station.id for station in plan.stations if duties.yours(station, "lamp"))
    asked = {station.id: duties.passes(station) for station in plan.stations}
    spent_s = [spent.at_s for spent in truth.spent if spent.at_s <= ended_s]
    return Review(
        name=rehearsal.scenario.name,
        text=rehearsal.scenario.text,
        seed=truth.seed,
        crew=duties.crew,
        start_s=start_s,
        ended_s=ended_s,
        end=rehearsal.end,
        troubles=tuple(troubles_of(truth, yours, ended_s)),
        done=tuple(rehearsal.done),
        strikes=tuple(strike_reviews(truth, yours, start_s, ended_s)),
        taps=tuple(tap_reviews(truth, asked, reported, start_s, ended_s)),
        links=tuple(link_review(truth, link, start_s, ended_s) for link in plan.links),
        dark=tuple(dark_reviews(truth, start_s, ended_s)),
        heat=tuple(heat_reviews(truth, start_s, ended_s)),
        first_spent_s=min(spent_s, default=None),
    )


def strike_reviews(truth: Truth, yours: frozenset[str], start_s: float, ended_s: float) -> list[StrikeReview]:
    """Every lamp that was to be lit between `start_s` and `ended_s`, or was."""
    reviews = []
    for station, picture in zip(truth.plan.stations, truth.pictures, strict=True):
        head_s = truth.pass_s(station.id, "head")
        if head_s is None or (station.inputs.lamp == "none" and not picture.lit):
            continue
        opens_s, closes_s = head_s - station.lamp.earliest_s, head_s - station.lamp.latest_s
        struck_s = _strike_s(picture, head_s)
        if closes_s <= start_s or (struck_s is not None and struck_s < start_s):
            continue
        if struck_s is not None or closes_s <= ended_s:
            verdict = _strike_verdict(struck_s, opens_s, closes_s)
            reviews.append(StrikeReview(station.id, station.id in yours, struck_s, opens_s, closes_s, head_s, verdict))
    return reviews


def _strike_s(picture: Picture, head_s: float) -> float | None:
    """The strike that lit the picture's beginning, else the first after it, else one that still burns."""
    held = [span.from_s for span in picture.lit if span.until_s > head_s]
    return held[0] if held else None


def _strike_verdict(struck_s: float | None, opens_s: float, closes_s: float) -> StrikeVerdict:
    if struck_s is None:
        return "never"
    if struck_s < opens_s - EDGE_S:
        return "early"
    return "in time" if struck_s <= closes_s + EDGE_S else "late"


def tap_reviews(
    truth: Truth, asked: Mapping[str, frozenset[str]], reported: Sequence[Event], start_s: float, ended_s: float
) -> list[TapReview]:
    """Every pass that was tapped and not taken back, and of the marks `asked` for at each station those missed."""
    taken_back = {event.retracts for event in reported if event.kind == "retract"}
    taps = [event for event in reported if event.kind == "mark_pass" and event.id not in taken_back]
    reviews: list[TapReview] = []
    for event in sorted(taps, key=lambda event: event.t):
        reviews.append(_tap_review(truth, event, reviews, ended_s))
    # By the time of the pass: two marks at one point of the print are one sight, and either name is right.
    tapped = {(tap.station, tap.passed_s) for tap in reviews if tap.verdict in {"right", "early", "late"}}
    for station, marks in asked.items():
        for mark in sorted(marks):
            passed_s = truth.pass_s(station, mark)
            to_tap = passed_s is not None and start_s < passed_s <= ended_s
            if to_tap and (station, passed_s) not in tapped:
                reviews.append(TapReview(station, mark, None, passed_s, None, "missed"))
    return sorted(reviews, key=lambda tap: tap.tapped_s if tap.tapped_s is not None else tap.passed_s or 0.0)


def _tap_review(truth: Truth, event: Event, before: Sequence[TapReview], ended_s: float) -> TapReview:
    plan = truth.plan
    station, name, tapped_s = str(event.station), str(event.mark), at_us(event, plan) / 1e6
    passed_s = truth.pass_s(station, name)
    error_s = None if passed_s is None or passed_s > ended_s + NEAR_S else tapped_s - passed_s
    right_s = RIGHT_SDS * sigma_s(event, plan)

    def told(verdict: TapVerdict, meant: str | None = None) -> TapReview:
        return TapReview(station, name, tapped_s, passed_s, error_s, verdict, meant)

    seen = {"right", "early", "late"}
    if any((tap.station, tap.passed_s) == (station, passed_s) and tap.verdict in seen for tap in before):
        return told("again")
    if error_s is not None and abs(error_s) <= right_s:
        return told("right")
    others = [other.id for other in plan.stations if other.id != station]
    if house := _nearest([(other, truth.pass_s(other, name)) for other in others], tapped_s, right_s):
        return told("wrong house", house)
    marks = [mark.id for mark in plan.marks if mark.cue and mark.id != name]
    if mark := _nearest([(other, truth.pass_s(station, other)) for other in marks], tapped_s, right_s):
        return told("wrong mark", mark)
    if error_s is None or abs(error_s) > NEAR_S:
        return told("not there")
    return told("late" if error_s > 0.0 else "early")


def _nearest(passes: Sequence[tuple[str, float | None]], at_s: float, within_s: float) -> str | None:
    """Whose pass was then; None where none was within that time."""
    near = [(abs(passed_s - at_s), name) for name, passed_s in passes if passed_s is not None]
    off_s, name = min(near, default=(inf, ""))
    return name if off_s <= within_s else None


def link_review(truth: Truth, link: Link, start_s: float, ended_s: float) -> LinkReview:
    """The worst of one link between `start_s` and `ended_s`: slack bends only where one of its two motors does."""
    k = truth.plan.station_index[link.upstream]
    borders = np.union1d(truth.course.curves[k].at_s, truth.course.curves[k + 1].at_s)
    t_s = np.concatenate(([start_s], borders[(borders > start_s) & (borders < ended_s)], [ended_s]))
    slack_s = truth.slack_s(link.id, t_s)
    t_s, slack_s = t_s[~np.isnan(slack_s)], slack_s[~np.isnan(slack_s)]
    if not len(t_s):
        return LinkReview(link.id, ended_s, 0.0, link.reserve_s, 0.0, 0.0)
    worst = int(np.argmax(np.abs(slack_s)))
    return LinkReview(
        link=link.id,
        worst_s=float(t_s[worst]),
        slack_s=float(slack_s[worst]),
        left_s=link.reserve_s - abs(float(slack_s[worst])),
        spilled_ft=_past_ft(truth.plan, slack_s, link),
        pulled_ft=_past_ft(truth.plan, -slack_s, link),
    )


def _past_ft(plan: Plan, slack_s: Floats, link: Link) -> float:
    # A failsafe stops the motor at the reserve itself: what rounding leaves past it is no film.
    past_s = float(slack_s.max()) - link.reserve_s
    return plan.film.counter_ft_from_s(past_s) if past_s > 1e-3 else 0.0


def dark_reviews(truth: Truth, start_s: float, ended_s: float) -> list[DarkReview]:
    """Every house that had a picture to show between `start_s` and `ended_s`."""
    reviews = []
    for k, (station, picture) in enumerate(zip(truth.plan.stations, truth.pictures, strict=True)):
        head_s, end_s = truth.pass_s(station.id, "head"), truth.pass_s(station.id, "end")
        until_s = min(ended_s, inf if end_s is None else end_s)
        if head_s is not None and max(head_s, start_s) < until_s:
            show = [Span(max(head_s, start_s), until_s)]
            standing = both(show, standing_spans(truth.course, k))
            dark = _outside(show, both(picture.lit, picture.open))
            for stand in standing:
                dark = without(dark, stand)
            reviews.append(DarkReview(station.id, _length_s(dark) + _length_s(standing), _length_s(standing)))
    return reviews


def heat_reviews(truth: Truth, start_s: float, ended_s: float) -> list[HeatReview]:
    """Every time that film stood in the light for too long, in order of time."""
    reviews = []
    for station in truth.plan.stations:
        for span in both(truth.in_the_light[station.id], [Span(start_s, ended_s)]):
            for_s = span.until_s - span.from_s
            if for_s > station.lamp.gate_limit_s:
                until_s = span.until_s if span.until_s < ended_s else None
                reviews.append(HeatReview(station.id, span.from_s, until_s, for_s))
    return sorted(reviews, key=lambda heat: heat.from_s)


def _outside(spans: Sequence[Span], gaps: Sequence[Span]) -> list[Span]:
    left = list(spans)
    for gap in gaps:
        left = without(left, gap)
    return left


def _length_s(spans: Sequence[Span]) -> float:
    return sum(span.until_s - span.from_s for span in spans)
