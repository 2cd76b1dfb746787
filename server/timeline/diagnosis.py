"""What is wrong, told once as what it is: which fault, of what, and by how much, as soon as the state bears it out.

A fault is told as a note at the house whose pass showed it. None of these asks for anything now but film that jumped.
"""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Literal, NamedTuple

from server.timeline.naming import house_of, houses_of, link_of

if TYPE_CHECKING:
    from server.timeline.evidence import Evidence

# chosen: a fault is told of from so many standard deviations on
_SURE_SD = 4.0
# Film that jumped and a splice look alike to the first house that sees them.
_LEAST_HOUSES = 2
# chosen: a splice is told of from five frames on, and so is film that jumped
_SPLICE_S = _JUMP_S = 0.2
# chosen: a clock and a path are told of from a quarter of a usual reserve on; less is what the mains look like at first
_CLOCK_S = _PATH_S = 0.5
# chosen: a path is told of where it is further off than nature's one in eighty
_PATH_SD = 2.5
# chosen: all motors are told of from a third of a thousandth on; less is what the mains wander by
_ALL_RATES = 0.0003
# chosen: film jumped, and its motor did no more, where in ten minutes that would make at most half of the jump
_RATE_SD, _RATE_OVER_S, _RATE_SHARE = 2.0, 600.0, 0.5
# chosen: a tail is told of where it is further off than three in a thousand are
_TAIL_SD = 3.0
# chosen: two gates let the same two closings by, give or take what contacts are late by
_TWO_FOILS_S = 0.3
# chosen: a second foil is no further off than this, else it is another mark's
_SECOND_FOIL_S = 60.0
# chosen: a contact that closes again within this chatters
_CHATTER_S = 0.5

FaultKind = Literal["all_rates", "clock", "film_jumped", "foil_doubled", "foil_missing", "path", "splice", "tail"]


class Fault(NamedTuple):
    """A fault told as what it is; `subject` is the id of a station, link or mark, a feed, "chain" or "print"."""

    kind: FaultKind
    subject: str


_TAIL = Fault("tail", "print")


class Told(NamedTuple):
    """What was told of a fault, and when."""

    fault: Fault
    at_us: int
    text: str


class _Found(NamedTuple):
    """A fault, at which station it is told, and the words: what it is and what to do.

    `change` is the number of the change of motors that it is, 0 where it is none: each such change is told once.
    """

    fault: Fault
    station: int
    text: str
    todo: str
    change: int = 0


def tell(evidence: "Evidence", station: int, at: int, feed: int | None) -> None:
    """After a pass at a station, told by a feed: say of the first fault that it bears out and nobody was told of."""
    for found in _found(evidence, station, feed):
        if found.change > evidence.told_change or (not found.change and found.fault not in evidence.faults):
            evidence.told_change = found.change or evidence.told_change
            _say(evidence, at, found)
            return


def _say(evidence: "Evidence", at: int, found: _Found) -> None:
    evidence.told_faults = (*evidence.told_faults, Told(found.fault, at, found.text))
    evidence.misfit(found.station, at, found.text, found.todo)


def jumped(evidence: "Evidence") -> tuple[int, float] | None:
    """Return at which station film has jumped, and by how much; None where none did, or it may be the motor's rate."""
    of = evidence.estimate.believed
    # Of the only house nothing tells it from a splice.
    if of is None or not evidence.plan.links or of.subject >= len(evidence.stations):
        return None
    by_s, sd_s = of.jump_s()
    rate, rate_sd = of.rate()
    by_rate_s = (abs(rate) + _RATE_SD * rate_sd) * _RATE_OVER_S
    is_jump = abs(by_s) >= max(_JUMP_S, _SURE_SD * sd_s) and by_rate_s <= _RATE_SHARE * abs(by_s)
    return (of.subject, by_s) if is_jump else None


def _found(evidence: "Evidence", station: int, feed: int | None) -> Iterator[_Found]:
    """The cheapest first: at most passes there is nothing."""
    if station > 0:
        yield from _path(evidence, station)
    yield from _motors(evidence, station)
    yield from _splices(evidence, station)
    yield from _clocks(evidence, feed)
    yield from _foils(evidence, station)


def _path(evidence: "Evidence", station: int) -> Iterator[_Found]:
    """The path to a gate, as what it is by the pass that came over it."""
    plan, by_s, sd_s, prior_s = evidence.plan, *evidence.estimate.path_s(station - 1)
    if abs(by_s) < max(_PATH_S, _PATH_SD * prior_s, _SURE_SD * sd_s):
        return
    longer = "longer" if by_s > 0.0 else "shorter"
    off = f"{abs(by_s):.1f} s of film ({plan.film.tape_ft_from_s(abs(by_s)):.1f} ft by the tape) {longer} than planned"
    text = f"{link_of(plan, station - 1)}: the path is {off}; that is no slack"
    todo = "Nothing to do now: it is allowed for. Measure the path again later."
    yield _Found(Fault("path", plan.links[station - 1].id), station, text, todo)


def _motors(evidence: "Evidence", station: int) -> Iterator[_Found]:
    """The latest change of motors that was believed: film that jumped at one, or all that run otherwise."""
    plan, of = evidence.plan, evidence.estimate.believed
    if of is None:
        return
    if found := jumped(evidence):
        k, by_s = found
        film = f"{abs(by_s):.1f} s of film {'too much' if by_s > 0.0 else 'too little'}"
        text = f"{house_of(plan, k)}: the film jumped: {film} went by, once; the motor runs as before"
        yield _Found(
            Fault("film_jumped", plan.stations[k].id),
            k,
            text,
            "Look at its loops. Keep hands clear of them.",
            of.number,
        )
    rate, sd = of.rate()
    if of.subject == len(plan.stations) and abs(rate) >= max(_ALL_RATES, _SURE_SD * sd):
        faster = "faster" if rate > 0.0 else "slower"
        text = f"All motors: they run {100.0 * abs(rate):.2f} % {faster} than before; that is no slack"
        todo = "Nothing to do: arrivals are told by it. The mains' frequency may have changed."
        yield _Found(Fault("all_rates", "chain"), station, text, todo, of.number)


def _splices(evidence: "Evidence", station: int) -> Iterator[_Found]:
    """Splices that two houses have seen: the first alone may have had its film jump."""
    for from_s, by_s, sd_s in evidence.estimate.splices():
        if sum(state.latest_x_s >= from_s for state in evidence.stations) < _LEAST_HOUSES:
            continue
        if abs(by_s) < max(_SPLICE_S, _SURE_SD * sd_s):
            continue
        mark = next(mark for mark in evidence.plan.marks if mark.x_s == from_s)
        film = f"{abs(by_s):.1f} s of film {'more' if by_s > 0.0 else 'less'}"
        house = house_of(evidence.plan, station)
        text = f"{house}: the print has {film} before {mark.title} than planned; that is no slack"
        todo = "Nothing to do now: every house sees it alike. Put the plan right later."
        yield _Found(Fault("splice", mark.id), station, text, todo)


def _clocks(evidence: "Evidence", feed: int | None) -> Iterator[_Found]:
    """Clocks that a pass that another `feed` tells of shows to be off."""
    for number, late_s, sd_s in evidence.estimate.clocks():
        if number == feed or abs(late_s) < max(_CLOCK_S, _SURE_SD * sd_s):
            continue
        name, stations = evidence.feeds[number]
        off = f"{abs(late_s):.1f} s {'late' if late_s > 0.0 else 'early'}"
        whose = houses_of(evidence.plan, sorted(stations))
        text = f"{whose}: what their contacts tell is dated {off}; that is no slack"
        todo = "Nothing to do now: it is allowed for. Put the clock right later."
        yield _Found(Fault("clock", name), min(stations), text, todo)


def _foils(evidence: "Evidence", station: int) -> Iterator[_Found]:
    up_us = {source: state.since_us if state.up else None for source, state in evidence.sources.items()}
    for mark in evidence.cues.off_the_print(evidence.stations, up_us):
        text = f"{house_of(evidence.plan, station)}: no house has seen {mark.title}: its foil is off the print"
        todo = "Nothing to do now: the film is where it should be. Put the foil on again after the show."
        yield _Found(Fault("foil_missing", mark.id), station, text, todo)


def _after_the_tail(evidence: "Evidence", station: int) -> str:
    is_last = station == len(evidence.stations) - 1
    return "Nothing to do." if is_last else "Nothing to do: the houses after it are expected to run out alike."


def tail_was_short(evidence: "Evidence", station: int, at: int, short_s: float) -> None:
    """What was told as a trip turns out to have been the film's end, by the next house that shows the same tail."""
    off = f"the tail is {short_s:.0f} s shorter than planned"
    text = f"{house_of(evidence.plan, station)}: the film ran out, and nothing was wrong: {off}"
    todo = _after_the_tail(evidence, station)
    if _TAIL in evidence.faults:
        evidence.misfit(station, at, text, todo)
    else:
        _say(evidence, at, _Found(_TAIL, station, text, todo))


def tell_tail(evidence: "Evidence", station: int, at: int) -> None:
    """The film ran out at a gate: say once by how much the tail is longer or shorter than planned."""
    (by_s, sd_s), planned_sd_s = evidence.estimate.tail(), evidence.plan.timing.tail_sigma_s
    if _TAIL in evidence.faults or abs(by_s) < max(_TAIL_SD * planned_sd_s, _SURE_SD * sd_s) or not by_s:
        return
    off = f"{abs(by_s):.0f} s {'longer' if by_s > 0.0 else 'shorter'} than planned"
    todo = _after_the_tail(evidence, station)
    text = f"{house_of(evidence.plan, station)}: the film ran out; the tail is {off}"
    _say(evidence, at, _Found(_TAIL, station, text, todo))


def closed_again(evidence: "Evidence", station: int, at: int, mark: str, title: str) -> None:
    """The contact of a gate closed again at a mark: where another gate's did alike, the print has two foils there."""
    state = evidence.stations[station]
    apart_s = (at - state.passes.get(mark, at)) / 1e6
    if not _CHATTER_S <= apart_s <= _SECOND_FOIL_S or not state.running or mark in state.closed_again:
        return
    state.closed_again = {**state.closed_again, mark: apart_s}
    others = (other.closed_again.get(mark) for k, other in enumerate(evidence.stations) if k != station)
    fault = Fault("foil_doubled", mark)
    if fault not in evidence.faults and any(s is not None and abs(s - apart_s) <= _TWO_FOILS_S for s in others):
        text = f"{house_of(evidence.plan, station)}: {title} has two foils, {apart_s:.1f} s apart"
        todo = "Nothing to do now: the second is not counted. Take it off after the show."
        _say(evidence, at, _Found(fault, station, text, todo))
