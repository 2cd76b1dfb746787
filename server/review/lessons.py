"""What runs say of the plan they went by: how long each path really is, and how fast the motors ran.

A path is the same in every run, so what several runs say of it is one Gaussian. Each run's own estimate already holds
what its plan said before any evidence. In information form (the inverse of the covariance, which adds up for
independent evidence) that is taken off each run and put in once, from the plan that is corrected. Rates are each run's
own: a motor's rate wanders, the mains' even more, and nobody saw what they did between two shows. Within a run the
joint estimate has settled what is rate and what is path.
"""

from collections.abc import Sequence
from statistics import fmean
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from tomlkit.exceptions import TOMLKitError

from server.review.plan_text import PathUnit, corrected_text, path_units
from server.review.reading import Reading
from server.timeline.estimate import US_PER_S
from server.timeline.faults import both
from server.timeline.film import FOOT_M, Film
from server.timeline.naming import houses_of
from server.timeline.plan import Plan, parse_plan
from server.timeline.schedule import Schedule, StationSchedule, schedule_from_plan

Array = NDArray[np.float64]

# chosen: runs that do not halve the plan's own uncertainty of a path say nothing that is worth writing down
_LEARNED = 0.5
# chosen: a thousandth of a foot or a metre of path is under a frame by far
_DIGITS = 3


class LessonFault(Exception):
    """Runs that cannot be learned from together, in one sentence."""


class Taught(NamedTuple):
    """One run to learn from; `plan_name` and `plan_text` are of the plan it went by."""

    id: str
    reading: Reading
    plan_name: str
    plan_text: str


class PathLesson(NamedTuple):
    """One path: what the plan says and what runs say, in the plan's own unit, with one standard deviation each.

    `changed` says whether the corrected plan has the new value. Transits are seconds of film.
    """

    link: str
    station: str
    unit: PathUnit
    old: float
    old_sd: float
    new: float
    new_sd: float
    changed: bool
    old_transit_s: float
    new_transit_s: float
    sd_s: float


class RateLesson(NamedTuple):
    """One motor in one run: its own rate error, and the whole with what all motors have in common; in ppm."""

    run: str
    station: str
    own_ppm: float
    own_sd_ppm: float
    whole_ppm: float
    whole_sd_ppm: float


class CommonRate(NamedTuple):
    """The rate error that all motors of one run had in common, in ppm."""

    run: str
    ppm: float
    sd_ppm: float


class Difference(NamedTuple):
    """What the corrected plan says otherwise of one station; seconds after the first planned start.

    `seen_off_old_s` and `seen_off_new_s` are how much later the head was seen than planned, both counted from the first
    start, on average over the runs in which it was seen. None where it was not.
    """

    station: str
    house: str
    head_old_s: float
    head_new_s: float
    moved_s: float
    opens_old_s: float
    opens_new_s: float
    closes_old_s: float
    closes_new_s: float
    lets_out_old_s: float
    lets_out_new_s: float
    seen_off_old_s: float | None
    seen_off_new_s: float | None


class Lessons(NamedTuple):
    """What runs teach; `text` corrects that of `plan`. `gone` and `new` are the warnings that go and come with it."""

    runs: tuple[str, ...]
    plan_run: str
    plan_name: str
    plan: Plan
    paths: tuple[PathLesson, ...]
    rates: tuple[RateLesson, ...]
    common: tuple[CommonRate, ...]
    differences: tuple[Difference, ...]
    gone: tuple[str, ...]
    new: tuple[str, ...]
    text: str


def lessons_from_runs(runs: Sequence[Taught]) -> Lessons:
    """Learn from one run or several of one chain; the plan of the last is corrected. Raises LessonFault."""
    last = runs[-1]
    plan = last.reading.plan
    for run in runs:
        _same_chain(run, last)
    try:
        paths = _path_lessons(runs, last)
        changed = {one.station: one.new for one in paths if one.changed}
        text = corrected_text(last.plan_text, changed, [run.id for run in runs])
    except TOMLKitError as error:
        raise LessonFault(
            f"{last.plan_name} is written so that its paths cannot be changed in place ({error})."
        ) from None
    old, new = schedule_from_plan(plan), schedule_from_plan(parse_plan(text, last.plan_name))
    said_old, said_new = ({warning.text for warning in one.warnings} for one in (old, new))
    return Lessons(
        runs=tuple(run.id for run in runs),
        plan_run=last.id,
        plan_name=last.plan_name,
        plan=plan,
        paths=paths,
        rates=tuple(rate for run in runs for rate in _rates(run)),
        common=tuple(_common(run) for run in runs),
        differences=_differences(runs, old, new),
        gone=tuple(sorted(said_old - said_new)),
        new=tuple(sorted(said_new - said_old)),
        text=text,
    )


def _same_chain(run: Taught, last: Taught) -> None:
    mine, theirs = run.reading.plan, last.reading.plan
    told = None
    if [*mine.station_index] != [*theirs.station_index]:
        told = [houses_of(plan, range(len(plan.stations))) for plan in (mine, theirs)]
        if told[0] == told[1]:
            told = [f"the stations {both(plan.station_index)}" for plan in (mine, theirs)]
    elif mine.film != theirs.film:
        told = [f"projectors with {_film(plan.film)}" for plan in (mine, theirs)]
    if told is not None:
        raise LessonFault(
            f"{run.id} ran through {told[0]} and {last.id} through {told[1]}:"
            " learn from runs of one chain and one gauge together."
        )


def _film(film: Film) -> str:
    return f"{film.gauge} at {film.frame_rate:g} frames/s, shrunk by {film.shrinkage_percent:g} %"


def transits(runs: Sequence[Reading], plan: Plan) -> tuple[Array, Array]:
    """What runs say together of every transit, in seconds of film: means, and their joint covariance.

    Paths that the plan gives no uncertainty, or no length, are as it says.
    """
    said = np.asarray([link.transit_s for link in plan.links], dtype=np.float64)
    base_var = (said * plan.timing.path_tolerance_percent / 100.0) ** 2
    told = [reading.walk.final.evidence.estimate.errors() for reading in runs]
    free = np.flatnonzero(np.all([base_var > 0.0, *(one.path_prior_var > 0.0 for one in told)], axis=0))
    information = np.diag(1.0 / base_var[free])
    weighed = said[free] / base_var[free]
    for reading, one in zip(runs, told, strict=True):
        own = np.asarray([link.transit_s for link in reading.plan.links], dtype=np.float64)[free]
        after = np.linalg.inv(one.path_cov[np.ix_(free, free)])
        before = np.diag(1.0 / one.path_prior_var[free])
        information = information + after - before
        weighed = weighed + after @ (own + one.path_s[free]) - before @ own
    covariance = np.zeros((len(said), len(said)))
    found = np.linalg.inv(information)
    covariance[np.ix_(free, free)] = (found + found.T) / 2.0
    said[free] = found @ weighed
    return said, covariance


def _path_lessons(runs: Sequence[Taught], last: Taught) -> tuple[PathLesson, ...]:
    plan = last.reading.plan
    transit_s, covariance = transits([run.reading for run in runs], plan)
    units = path_units(last.plan_text)
    lessons = []
    for i, link in enumerate(plan.links):
        unit = units.get(link.downstream, "ft")
        size = plan.film.m_from_s(1.0) / (FOOT_M if unit == "ft" else 1.0)
        sd_s, old_sd_s = covariance[i, i] ** 0.5, link.transit_s * plan.timing.path_tolerance_percent / 100.0
        old, new = link.transit_s * size, round(float(transit_s[i]) * size, _DIGITS)
        lessons.append(
            PathLesson(
                link=link.id,
                station=link.downstream,
                unit=unit,
                old=round(old, 6),
                old_sd=old_sd_s * size,
                new=new,
                new_sd=float(sd_s) * size,
                changed=bool(sd_s < _LEARNED * old_sd_s) and new > 0.0 and new != round(old, _DIGITS),
                old_transit_s=link.transit_s,
                new_transit_s=float(transit_s[i]),
                sd_s=float(sd_s),
            )
        )
    return tuple(lessons)


def _rates(run: Taught) -> list[RateLesson]:
    told = run.reading.walk.final.evidence.estimate.errors()
    return [
        RateLesson(
            run=run.id,
            station=station.id,
            own_ppm=float(told.own[k]) * 1e6,
            own_sd_ppm=float(told.own_var[k]) ** 0.5 * 1e6,
            whole_ppm=(told.common + float(told.own[k])) * 1e6,
            whole_sd_ppm=max(float(told.whole_var[k]), 0.0) ** 0.5 * 1e6,
        )
        for k, station in enumerate(run.reading.plan.stations)
    ]


def _common(run: Taught) -> CommonRate:
    told = run.reading.walk.final.evidence.estimate.errors()
    return CommonRate(run.id, told.common * 1e6, told.common_var**0.5 * 1e6)


def _differences(runs: Sequence[Taught], old: Schedule, new: Schedule) -> tuple[Difference, ...]:
    seen = [_heads_after_first_start(run.reading) for run in runs]
    return tuple(
        _difference(before, after, [one[before.id] for one in seen if before.id in one], _first_start_s(old))
        for before, after in zip(old.stations, new.stations, strict=True)
    )


def _difference(before: StationSchedule, after: StationSchedule, seen_s: list[float], first_s: float) -> Difference:
    head_old_s, head_new_s = before.passes["head"], after.passes["head"]
    off_old_s, off_new_s = (
        fmean(seen_s) - (head_s - first_s) if seen_s else None for head_s in (head_old_s, head_new_s)
    )
    return Difference(
        station=before.id,
        house=before.house,
        head_old_s=head_old_s,
        head_new_s=head_new_s,
        moved_s=head_new_s - head_old_s,
        opens_old_s=before.strike_opens_s,
        opens_new_s=after.strike_opens_s,
        closes_old_s=before.strike_closes_s,
        closes_new_s=after.strike_closes_s,
        lets_out_old_s=before.passes["end"],
        lets_out_new_s=after.passes["end"],
        seen_off_old_s=off_old_s,
        seen_off_new_s=off_new_s,
    )


def _first_start_s(schedule: Schedule) -> float:
    return min(station.start_s for station in schedule.stations)


def first_start_us(reading: Reading) -> int | None:
    """When the first motor of a run started; None where none did."""
    started = [state.started_us for state in reading.walk.final.evidence.stations if state.started_us is not None]
    return min(started, default=None)


def _heads_after_first_start(reading: Reading) -> dict[str, float]:
    """How long after the first start the head was seen, by station; those where it was seen and believed."""
    first_us = first_start_us(reading)
    if first_us is None:
        return {}
    return {
        one.station: (one.observed_us - first_us) / US_PER_S
        for one in reading.passes
        if one.mark == "head" and one.believed and one.observed_us is not None
    }
