"""How many people a show takes, who is where when, and why one fewer is too few.

Both ends are bounded: `least` is proved, mostly by a few neighbouring duties that fewer people cannot do in any order;
`enough` has a roster. Where they differ nobody has shown which of the numbers between would do.
"""

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from server.planning.duties import Duty
from server.planning.findings import THE_CREW, Finding, clock_text, span_text
from server.planning.rosters import UNTIMED_S, Routes, Search, Walks, begins_of, roster, walks_between
from server.planning.site_model import Site
from server.timeline.plan import Plan

_NEIGHBOURS: Final = 8  # chosen: so many duties, by their deadlines, are searched through to prove that people lack
_DIVE_STEPS: Final = 50  # chosen: over one for each duty, to find a roster where one is easy to find
_PROOF_STEPS: Final = 2_000  # chosen: past these a handful of duties proves nothing
_FEW: Final = 12  # chosen: of so many duties every order is looked at to prove that people lack
_CROWD: Final = 500  # chosen: duties by people; past that only what is found at once is looked for
_NAMED: Final = 4  # chosen: of the duties that clash, so many are named


class Task(NamedTuple):
    """One duty of a person: when it is begun, after `walk_s` of walking from the one before."""

    duty: Duty
    begin_s: float
    walk_s: float


class Missed(NamedTuple):
    """A duty that nobody is free for: how late the first who could come would be."""

    duty: Duty
    late_s: float


class CrewPlan(NamedTuple):
    """What a show asks of people.

    `least` people are proved to be needed, by `clash`: duties that one fewer cannot do (none where one is enough).
    `enough` people have a roster. `people` is a roster of the crew that was asked about, or of `enough`: for each the
    duties in order. `missed` are those that this crew cannot do. `untimed` are the pairs of booths whose walk nobody
    timed.
    """

    least: int
    enough: int
    clash: tuple[Duty, ...]
    people: tuple[tuple[Task, ...], ...]
    missed: tuple[Missed, ...]
    untimed: tuple[tuple[str, str], ...]


def crew_plan(duties: Sequence[Duty], site: Site | None, crew: int | None = None) -> CrewPlan:
    """Work out how many people these duties take, which come by their deadlines, and a roster of `crew` people."""
    walks = walks_between(duties, site)
    least, enough, clash, routes = _bounds(duties, walks)
    missed: tuple[Missed, ...] = ()
    if crew is not None and crew != enough:
        found = _found(duties, walks, crew).routes if crew >= least else None
        if found is not None:
            enough, routes = min(enough, crew), found
        else:
            routes, missed = _as_many_as_can(duties, walks, crew)
    people = tuple(_tasks(duties, walks, route) for route in routes)
    return CrewPlan(least, enough, clash, people, missed, walks.untimed)


class _Bounds(NamedTuple):
    least: int
    enough: int
    clash: tuple[Duty, ...]
    routes: Routes


def _bounds(duties: Sequence[Duty], walks: Walks) -> _Bounds:
    """Halve what lies between a crew that cannot and one that can; see of how many fewer it is proved."""
    enough, routes = _easily(duties, walks)
    failing, least = 0, 1
    while enough - failing > 1:
        people = (failing + enough) // 2
        found = _found(duties, walks, people)
        if found.routes is not None:
            enough, routes = people, found.routes
        else:
            failing, least = people, people + 1 if found.proved else least
    clash = _clash_of(duties, walks, least - 1)
    unsure = enough
    while unsure - least > 0:
        people = (least + unsure) // 2
        few = _clash_of(duties, walks, people)
        if few:
            least, clash = people + 1, few
        else:
            unsure = people
    return _Bounds(least, enough, _smallest(clash, walks, least - 1), routes)


def _easily(duties: Sequence[Duty], walks: Walks) -> tuple[int, Routes]:
    """A crew that has a roster which is found at once."""
    people = 1
    while (routes := _dive(duties, walks, people)) is None:
        people *= 2
    return people, routes


def _dive(duties: Sequence[Duty], walks: Walks, people: int) -> Routes | None:
    return roster(duties, walks, people, len(duties) + _DIVE_STEPS, width=0).routes


def _found(duties: Sequence[Duty], walks: Walks, people: int) -> Search:
    """What a search for a roster comes to; of a crowd of duties only what is found at once."""
    routes = _dive(duties, walks, people)
    if routes is not None or len(duties) * people > _CROWD:
        return Search(routes, proved=False)
    return roster(duties, walks, people)


def _clash_of(duties: Sequence[Duty], walks: Walks, people: int) -> tuple[Duty, ...]:
    """A few neighbours that so many people cannot do in any order; none where nothing so small shows it."""
    if not people:
        return ()
    many = max(_NEIGHBOURS, people + 1)
    while True:
        for start in range(0, len(duties) - people, max(1, many // _NEIGHBOURS)):
            few = tuple(duties[start : start + many])
            if _too_few(few, walks, people):
                return few
        if many >= len(duties):
            return ()
        many *= 2


def _too_few(duties: Sequence[Duty], walks: Walks, people: int) -> bool:
    """Whether it is proved that so many people cannot do these duties; of a crowd only by the time that they take."""
    if _have_no_time(duties, walks, people):
        return True
    if len(duties) > _FEW:
        return False
    found = roster(duties, walks, people, _PROOF_STEPS, width=0)
    return found.routes is None and found.proved


def _have_no_time(duties: Sequence[Duty], walks: Walks, people: int) -> bool:
    """Whether the duties, and the fewest and shortest walks between their houses, take more time than people have."""
    places = {walks.places[duty.house, duty.booth] for duty in duties}
    walk_s = min((walks.seconds[one][other] for one in places for other in places if one != other), default=0.0)
    work_s = sum(duty.takes_s for duty in duties) + max(0, len(places) - people) * walk_s
    span_s = max(duty.by_s + duty.takes_s for duty in duties) - min(duty.from_s for duty in duties)
    return work_s > people * span_s


def _smallest(clash: tuple[Duty, ...], walks: Walks, people: int) -> tuple[Duty, ...]:
    """Leave out whatever is not needed to show that so many people are too few."""
    for duty in clash:
        fewer = tuple(other for other in clash if other is not duty)
        if _too_few(fewer, walks, people):
            clash = fewer
    return clash


def _as_many_as_can(duties: Sequence[Duty], walks: Walks, crew: int) -> tuple[Routes, tuple[Missed, ...]]:
    """Give each duty, by its deadline, to whoever is there with the least walking; say which nobody can do."""
    routes: list[tuple[int, ...]] = [()] * crew
    missed: list[Missed] = []
    for d in range(len(duties)):
        fitting = [
            (_walk_to(duties, walks, route, d), person)
            for person, route in enumerate(routes)
            if begins_of(duties, walks, (*route, d)) is not None
        ]
        if fitting:
            person = min(fitting)[1]
            routes[person] = (*routes[person], d)
        else:
            late_s = min(_arrives_s(duties, walks, route, d) for route in routes) - duties[d].by_s
            missed.append(Missed(duties[d], late_s))
    return tuple(routes), tuple(missed)


def _walk_to(duties: Sequence[Duty], walks: Walks, route: Sequence[int], duty: int) -> float:
    return walks.between(duties[route[-1]], duties[duty]) if route else UNTIMED_S


def _arrives_s(duties: Sequence[Duty], walks: Walks, route: Sequence[int], duty: int) -> float:
    begins = begins_of(duties, walks, route)
    if not begins:
        return duties[duty].from_s
    last = duties[route[-1]]
    return begins[-1] + last.takes_s + walks.between(last, duties[duty])


def _tasks(duties: Sequence[Duty], walks: Walks, route: Sequence[int]) -> tuple[Task, ...]:
    begins = begins_of(duties, walks, route) or []
    tasks = []
    for place, (d, begin_s) in enumerate(zip(route, begins, strict=True)):
        walk_s = walks.between(duties[route[place - 1]], duties[d]) if place else 0.0
        tasks.append(Task(duties[d], begin_s, walk_s))
    return tuple(tasks)


def crew_findings(plan: Plan, crew_plan: CrewPlan, crew: int | None) -> Iterator[Finding]:
    """Say how many people the show takes; of a crew that was asked about, whether it is too few and for what."""
    stations = tuple(station.id for station in plan.stations)
    if crew is not None and crew_plan.missed:
        proved = crew < crew_plan.least
        yield Finding(
            "crew_too_few",
            "fault" if proved else "warning",
            THE_CREW,
            stations,
            f"{_people(crew)} {'cannot do' if proved else 'may not manage'} this show: {_misses(plan, crew_plan)}.",
            _clash(plan, crew_plan, crew),
            f"Have a crew of {crew_plan.enough}, or a contact or a timer in place of a hand where they clash.",
        )
    elif crew_plan.least > 1 or crew_plan.enough > crew_plan.least:
        text = f"The show takes a crew of {crew_plan.enough}."
        if crew_plan.enough > crew_plan.least:
            text = f"A crew of {crew_plan.enough} is enough. Fewer than {crew_plan.least} are too few."
        yield Finding(
            "crew_needed",
            "note",
            THE_CREW,
            stations,
            text,
            _clash(plan, crew_plan, crew_plan.least - 1),
            "Agree before the show who is where, and when.",
        )
    yield from _untimed(crew_plan, stations)


def _untimed(crew_plan: CrewPlan, stations: tuple[str, ...]) -> Iterator[Finding]:
    named = [pair for pair in crew_plan.untimed if all(pair)]
    if named:
        pairs = "; ".join(f"{one} to {other}" for one, other in named[:_NAMED])
        more = f", and {len(named) - _NAMED} more" if len(named) > _NAMED else ""
        yield Finding(
            "walk_untimed",
            "note",
            THE_CREW,
            stations,
            f"Nobody timed the walk between booths: {pairs}{more}. {UNTIMED_S:.0f} s are taken.",
            "Who can be where in time goes by these walks.",
            "Walk them with a watch, and write them in the site file as [[walks]].",
        )


def _people(number: int) -> str:
    return "One person" if number == 1 else f"{number} people"


def _misses(plan: Plan, crew_plan: CrewPlan) -> str:
    first, others = crew_plan.missed[0], len(crew_plan.missed) - 1
    more = f", and {others} more" if others else ""
    return (
        f"House {first.duty.house}, {first.duty.what}, is due by {clock_text(plan, first.duty.by_s)}, "
        f"and whoever comes is {span_text(first.late_s)} late{more}"
    )


def _clash(plan: Plan, crew_plan: CrewPlan, people: int) -> str:
    """The duties that so many people cannot do in any order, where that many are proved to be too few."""
    if not crew_plan.clash or people >= crew_plan.least:
        return "No roster was found for them; none was shown to be impossible."
    named = [_window(plan, duty) for duty in crew_plan.clash[:_NAMED]]
    if len(crew_plan.clash) > _NAMED:
        named.append(f"and {len(crew_plan.clash) - _NAMED} more")
    who = "one person" if crew_plan.least == 2 else f"{crew_plan.least - 1} people"
    return f"In no order can {who} do: {'; '.join(named)}."


def _window(plan: Plan, duty: Duty) -> str:
    by = clock_text(plan, duty.by_s)
    when = f"at {by}" if duty.from_s == duty.by_s else f"from {clock_text(plan, duty.from_s)[:8]} to {by}"
    return f"House {duty.house}, {duty.what} ({when})"
