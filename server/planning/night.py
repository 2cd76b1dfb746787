"""The shows of one night against each other: houses, machines, the print and the crew."""

from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise
from typing import Final, NamedTuple

from server.planning.crew import crew_plan
from server.planning.duties import Duty, duties_of
from server.planning.findings import THE_CHAIN, THE_CREW, Finding, clock_text, gravest_first, span_text
from server.planning.lacing import lacing_of
from server.planning.next_show import NextShow, next_show_of
from server.planning.site_model import Site
from server.timeline.faults import both
from server.timeline.plan import Plan
from server.timeline.schedule import Schedule, schedule_from_plan

TURN_S: Final = 1200.0
"""From a house clear of film to the next picture there: guests out, swept, guests in. Chosen."""


class _Show(NamedTuple):
    """One show of the night, its schedule, and what it leaves behind."""

    plan: Plan
    schedule: Schedule
    after: NextShow

    def since(self, other: "_Show") -> float:
        """How long after the other's motors this one's are to start, in seconds."""
        return (self.plan.zero - other.plan.zero).total_seconds()


def judge_night(plans: Sequence[Plan], site: Site | None, crew: int | None = None) -> tuple[Finding, ...]:
    """Return what is wrong between the shows of one night, the gravest first; each show by itself is `judge`'s.

    `crew` is how many people there are for all of them together. A finding's `stations` are those of the later show.
    """
    ordered = sorted(plans, key=lambda plan: plan.zero)
    shows = [_Show(plan, schedule_from_plan(plan), next_show_of(plan, site, crew)) for plan in ordered]
    findings = [
        *(finding for pair in combinations(shows, 2) for finding in _houses(*pair)),
        *(finding for pair in combinations(shows, 2) for finding in _machines(*pair, site, crew)),
        *(finding for pair in _of_one_print(shows) for finding in _print(*pair)),
        *(_crew(shows, site, crew) if len(shows) > 1 else ()),
    ]
    return gravest_first(findings)


class _House(NamedTuple):
    """One house of two shows: when it is clear of the first, and its start and head of the second."""

    house: str
    station: str
    clear_s: float
    start_s: float
    head_s: float


def _houses(before: _Show, after: _Show) -> Iterator[Finding]:
    """Whether the houses that both use are clear of the one show before the next."""
    later_s = after.since(before)
    cleared = {station.house: station.clear_s for station in before.schedule.stations}
    shared = [
        _House(
            station.house,
            station.id,
            cleared[station.house],
            later_s + station.start_s,
            later_s + station.passes["head"],
        )
        for station in after.schedule.stations
        if station.house in cleared
    ]
    in_use = [house for house in shared if house.start_s < house.clear_s]
    if in_use:
        yield _in_use(before, after, in_use)
    short = [house for house in shared if house.start_s >= house.clear_s and house.head_s < house.clear_s + TURN_S]
    if short:
        yield _not_clear(before, after, short)


def _in_use(before: _Show, after: _Show, houses: list[_House]) -> Finding:
    worst = max(houses, key=lambda house: house.clear_s - house.start_s)
    late = span_text(worst.clear_s - worst.start_s)
    return Finding(
        "house_in_use",
        "fault",
        _names(houses),
        tuple(house.station for house in houses),
        f"{_names(houses)}: the motors are to start for {after.plan.title} while {before.plan.title} still runs.",
        f"House {worst.house} is to start at {clock_text(before.plan, worst.start_s)}, and is clear at "
        f"{clock_text(before.plan, worst.clear_s)}.",
        f"Start {after.plan.title} {late} later at least, or in other houses.",
    )


def _not_clear(before: _Show, after: _Show, houses: list[_House]) -> Finding:
    worst = min(houses, key=lambda house: house.head_s - house.clear_s)
    return Finding(
        "house_not_clear",
        "warning",
        _names(houses),
        tuple(house.station for house in houses),
        f"{_names(houses)}: under {span_text(TURN_S)} lie between {before.plan.title} and {after.plan.title}.",
        f"House {worst.house} is clear at {clock_text(before.plan, worst.clear_s)}, and the next head comes at "
        f"{clock_text(before.plan, worst.head_s)}.",
        f"Start {after.plan.title} {span_text(worst.clear_s + TURN_S - worst.head_s)} later.",
    )


def _names(houses: list[_House]) -> str:
    return f"House{'s' if len(houses) > 1 else ''} {both(house.house for house in houses)}"


def _machines(before: _Show, after: _Show, site: Site | None, crew: int | None) -> Iterator[Finding]:
    """Whether there is time to lace the machines that both use."""
    houses = {station.house for station in after.plan.stations}
    shared = [station for station in before.schedule.stations if station.house in houses]
    later_s = after.since(before)
    if not shared or later_s < min(station.clear_s for station in shared):
        return
    free_s = max(station.clear_s for station in shared)
    lacing = lacing_of(after.plan, site, crew)
    begins_s = later_s + lacing.begin_s
    if begins_s >= free_s:
        return
    late_s = free_s - begins_s
    same = [station.house for station in before.plan.stations] == [station.house for station in after.plan.stations]
    behind = before.after.behind
    kept = (
        f" Or splice {behind.leader_ft:.0f} ft of leader on behind the tail of {before.plan.title}: then they may "
        f"start from {clock_text(before.plan, behind.earliest_s)}."
        if same and behind.fits
        else ""
    )
    yield Finding(
        "no_time_to_lace",
        "fault",
        THE_CHAIN,
        tuple(station.id for station in after.plan.stations),
        f"{after.plan.title}: lacing begins at {clock_text(before.plan, begins_s)}, before its machines are free.",
        f"The last of them is clear of {before.plan.title} at {clock_text(before.plan, free_s)}; "
        f"{lacing.crew} people lace for {lacing.minutes:.0f} minutes.",
        f"Start the motors {span_text(late_s)} later.{kept}",
    )


def _of_one_print(shows: Sequence[_Show]) -> Iterator[tuple[_Show, _Show]]:
    """Each show with the next of the same print; prints are known by the title of their show."""
    for title in dict.fromkeys(show.plan.title for show in shows):
        yield from pairwise([show for show in shows if show.plan.title == title])


def _print(before: _Show, after: _Show) -> Iterator[Finding]:
    """Whether a print is back in time for its next show."""
    first, last = after.plan.stations[0].house, before.plan.stations[-1].house
    way, later_s = before.after.ways_back[0], after.since(before)
    there_s = before.after.last_free_s if first == last else way.there_s
    stations = tuple(station.id for station in after.plan.stations)
    if later_s < there_s:
        yield Finding(
            "print_not_back",
            "fault",
            THE_CHAIN,
            stations,
            f"{after.plan.title}: its print is not at House {first} when the motors are to start.",
            f"It lies at House {last}, where it is clear at {clock_text(before.plan, before.after.last_free_s)}. "
            f"It can be at House {first} by {clock_text(before.plan, there_s)}.",
            f"Start {span_text(there_s - later_s)} later, begin the chain at House {last}, or use a second print.",
        )
    elif first != last:
        yield Finding(
            "print_to_carry",
            "note",
            THE_CHAIN,
            stations,
            f"{after.plan.title}: its print lies at House {last} after a show, and is wanted at House {first}.",
            f"It weighs about {before.after.print_kg:.0f} kg.",
            way.how,
        )


def _crew(shows: Sequence[_Show], site: Site | None, crew: int | None) -> Iterator[Finding]:
    """Whether the shows together ask for more people than each of them alone, or than there are."""
    first = shows[0]
    alone = [duties_of(show.plan, show.schedule, show.since(first)) for show in shows]
    together: list[Duty] = sorted((duty for duties in alone for duty in duties), key=lambda duty: duty.by_s)
    needed = crew_plan(together, site, crew)
    most = max(crew_plan(duties, site).enough for duties in alone)
    if needed.enough <= most and not needed.missed:
        return
    proved = crew is not None and crew < needed.least
    first_missed = needed.missed[0] if needed.missed else None
    stations = tuple(station.id for station in shows[-1].plan.stations)
    clash = "; ".join(
        f"House {duty.house}, {duty.what}, by {clock_text(first.plan, duty.by_s)}" for duty in needed.clash[:4]
    )
    yield Finding(
        "night_crew",
        "fault" if proved else "warning" if first_missed else "note",
        THE_CREW,
        stations,
        f"The shows of this night take a crew of {needed.enough} together; each alone takes {most} at most.",
        f"Their work falls together: {clash}." if clash else "Their work falls together.",
        f"Have a crew of {needed.enough}, or start one of the shows at another time.",
    )
