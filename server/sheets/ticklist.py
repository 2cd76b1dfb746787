"""The threading sheet as things to be ticked off one by one, each known again after the plan was changed.

A tick is worth something only for what was really done. So what a thing is known by has what is done, where, and the
houses that the film comes from and goes to there. Where one of these is another, it is to be looked at again.
"""

from collections.abc import Container, Iterable, Iterator
from hashlib import sha256
from typing import Final, NamedTuple

from server.planning.findings import THE_CHAIN
from server.planning.lacing import Lacing
from server.sheets.times import length_text
from server.timeline.naming import house_of
from server.timeline.plan import Mark, Plan

MACHINE_CHECKS: Final = ("Loop at rest", "Failsafe armed", "Rollers all turn", "Douser shut, lamp out")
"""What is looked at once more at every machine."""

_KEY_LENGTH: Final = 16  # hexadecimal digits: two of a hundred things are alike once in 10^15 plans


class Tick(NamedTuple):
    """One thing to be ticked off; `key` is what it is known by, alike in two plans where it is the same thing."""

    key: str
    where: str
    what: str


class TickStep(NamedTuple):
    """One step of the lacing: how many do it, how long that takes them, from when; `caution` None where it has none.

    `begins_s` is seconds after `motors_at`.
    """

    tick: Tick
    number: int
    people: int
    minutes: float
    begins_s: float
    caution: str | None


class TickList(NamedTuple):
    """All there is to tick off: the steps, splices and tape marks, every machine once more, and the foil cues."""

    steps: tuple[TickStep, ...]
    marks: tuple[Tick, ...]
    machines: tuple[Tick, ...]
    cues: tuple[Tick, ...]


def ticklist_of(plan: Plan, lacing: Lacing) -> TickList:
    """List what is on the threading sheet of a plan."""
    ways = _ways(plan, lacing)
    steps = _known(((step.where, step.what) for step in lacing.steps), ways)
    return TickList(
        steps=tuple(
            TickStep(
                tick, step.number, step.people, step.minutes, lacing.begin_s + step.begins_min * 60.0, step.caution
            )
            for tick, step in zip(steps, lacing.steps, strict=True)
        ),
        marks=_known(_marks(plan, lacing), ways),
        machines=_known(
            ((house_of(plan, k), what) for k in range(len(plan.stations)) for what in MACHINE_CHECKS), ways
        ),
        cues=_known(_cues(plan), ways),
    )


def _ways(plan: Plan, lacing: Lacing) -> dict[str, str]:
    """What film does at each place: the houses before and after a house, those along a stretch, the whole chain."""
    houses = [station.house for station in plan.stations]
    ways = {house_of(plan, k): " > ".join(houses[max(k - 1, 0) : k + 2]) for k in range(len(houses))}
    for pull in lacing.stretches:
        first, last = plan.station_index[pull.first], plan.station_index[pull.last]
        ways[f"House {pull.from_house} to {pull.to_house}"] = " > ".join(houses[first : last + 1])
    # Who walked the whole chain walked every step of it, by this very path.
    paths = (f"{link.path_m!r}" for link in plan.links)
    ways[THE_CHAIN] = "\n".join([" > ".join(houses), *paths, *(f"{step.where}: {step.what}" for step in lacing.steps)])
    return ways


def _known(things: Iterable[tuple[str, str]], ways: dict[str, str]) -> tuple[Tick, ...]:
    """Give each thing its key; of two that are said alike the second has another."""
    ticks: list[Tick] = []
    said: dict[str, int] = {}
    for where, what in things:
        text = "\n".join((where, what, ways.get(where, "")))
        said[text] = said.get(text, 0) + 1
        key = sha256(f"{text}\n{said[text]}".encode()).hexdigest()[:_KEY_LENGTH]
        ticks.append(Tick(key, f"{where[:1].upper()}{where[1:]}", what))
    return tuple(ticks)


def _marks(plan: Plan, lacing: Lacing) -> Iterator[tuple[str, str]]:
    """Splices and tape marks, as the threading sheet has them."""
    first, last = house_of(plan, 0), house_of(plan, len(plan.stations) - 1)
    yield first, "splice of the print's head leader to the chain's, both sides taped."
    yield first, "tape mark on the film in the gate. Every time counts from there."
    for pull in lacing.stretches[1:]:
        yield f"House {pull.from_house}", "splice of the two stretches, both sides taped, tried by a pull."
    yield last, "the leader's end is held on the take-up's core."


def _cues(plan: Plan) -> Iterator[tuple[str, str]]:
    """The foil cues that the plan counts on, and where on the print they are."""
    segments = {segment.id for segment in plan.print}
    for mark in plan.marks:
        if mark.cue:
            feet = plan.film.counter_ft_from_s(mark.x_s)
            yield (
                _cue_place(mark, segments),
                f"{feet:.1f} counter ft from the print's first frame, {length_text(mark.x_s)}",
            )


def _cue_place(mark: Mark, segments: Container[str]) -> str:
    return f"the first frame of {mark.title}" if mark.id in segments else f"the mark {mark.title}"
