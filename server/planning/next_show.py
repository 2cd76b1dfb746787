"""After a show: when machines are free, where the print lies and how it gets back, and leader kept in the chain.

Times are seconds after `motors_at` of the show that ends.
"""

from typing import Final, NamedTuple

from server.planning.lacing import READY_MIN, SPLICE_MIN, Lacing, lacing_of
from server.planning.leader import END_FT
from server.planning.rolls import USUAL_DECK, deck_of, film_m, roll_kg, roll_mm
from server.planning.rosters import UNTIMED_S
from server.planning.site_model import Site
from server.timeline.film import FOOT_M
from server.timeline.plan import Plan
from server.timeline.schedule import Schedule, schedule_from_plan

LIFT_MIN: Final = 5.0  # chosen: to clamp a print and lift it off a deck, and again to lay it on the next
LADEN: Final = 2.0  # chosen: how many times as long as a person without a load people with a print walk
LONE_KG: Final = 15.0  # chosen: what is heavier two people carry


class WayBack(NamedTuple):
    """One way for the print to be where the next show begins: how, with how many people, and from when it is there."""

    how: str
    people: int
    minutes: float
    there_s: float


class LeaderBehind(NamedTuple):
    """Threading leader spliced on behind the tail, so that the chain stays laced when the print is out.

    `leader_ft` are tape-measure feet; it is spliced on as the print is made up, with `minutes` of one person at either
    end. `earliest_s` is when the next show's motors may start, `saves_min` how much sooner that is than with lacing
    anew. `roll_mm` is the roll on the first deck with it, `fits` whether the deck takes it.
    """

    leader_ft: float
    crew: int
    minutes: float
    earliest_s: float
    saves_min: float
    roll_mm: float
    fits: bool


class NextShow(NamedTuple):
    """What comes after a show.

    The first machine is free at `first_free_s`, the last at `last_free_s`; the print then lies on the take-up of
    `print_at`, `print_kg` of it. `lacing_anew_s` is when the motors may start again if the chain is laced anew.
    """

    first_free_house: str
    first_free_s: float
    last_free_s: float
    print_at: str
    print_kg: float
    ways_back: tuple[WayBack, ...]
    lacing_anew_s: float
    behind: LeaderBehind


def next_show_of(plan: Plan, site: Site | None, crew: int | None = None) -> NextShow:
    """Work out what a show leaves behind, for a crew of so many people (two, where nobody says how many)."""
    schedule, lacing = schedule_from_plan(plan), lacing_of(plan, site, crew)
    first = min(schedule.stations, key=lambda station: station.clear_s)
    last_free_s = max(station.clear_s for station in schedule.stations)
    ways = _ways_back(plan, site, lacing, last_free_s)
    back_s = ways[0].there_s
    # Where carrying takes the whole crew the print is carried first; else the others lace meanwhile.
    lace_from_s = back_s if lacing.crew <= ways[0].people else last_free_s
    anew_s = max(back_s + SPLICE_MIN * 60.0, lace_from_s + lacing.minutes * 60.0) + READY_MIN * 60.0
    return NextShow(
        first_free_house=first.house,
        first_free_s=first.clear_s,
        last_free_s=last_free_s,
        print_at=plan.stations[-1].house,
        print_kg=_kg(plan, site),
        ways_back=ways,
        lacing_anew_s=anew_s,
        behind=_behind(plan, site, lacing, schedule, back_s, anew_s),
    )


def _kg(plan: Plan, site: Site | None) -> float:
    return roll_kg(plan, plan.film.m_from_s(plan.print_s), film_m(site))


def _ways_back(plan: Plan, site: Site | None, lacing: Lacing, free_s: float) -> tuple[WayBack, ...]:
    """The ways for the print to get back, the one that is usual first."""
    first, last = plan.stations[0], plan.stations[-1]
    if len(plan.stations) == 1:
        return (WayBack(f"It is on House {last.house}'s own take-up: thread from that deck.", 1, 0.0, free_s),)
    known_s = site.walk_s(first.booth, last.booth) if site else None if first.booth != last.booth else 0.0
    walk_s = UNTIMED_S if known_s is None else known_s
    people = 1 if _kg(plan, site) <= LONE_KG else 2
    carry_min = 2.0 * LIFT_MIN + LADEN * walk_s / 60.0
    carried = f"Clamp it and carry it from House {last.house} to House {first.house}; it needs no rewinding."
    ways = [WayBack(carried, people, carry_min, free_s + carry_min * 60.0)]
    turned = f"Lay the next show's chain the other way, from House {last.house} to House {first.house}."
    ways.append(WayBack(turned, lacing.crew, lacing.minutes, free_s + lacing.minutes * 60.0))
    path = None if site is None or len(plan.stations) < 3 else site.path(last.house, first.house)
    if path is not None:
        home_s = plan.film.s_from_m(path.path_m)
        homeward = (
            f"Lead the film from House {last.house} on to a take-up at House {first.house}: "
            f"{path.path_m / FOOT_M:.0f} ft more leader, and it is there by itself."
        )
        ways.append(WayBack(homeward, 0, home_s / 60.0, free_s + home_s))
    return tuple(ways)


def _behind(
    plan: Plan, site: Site | None, lacing: Lacing, schedule: Schedule, back_s: float, anew_s: float
) -> LeaderBehind:
    """Leader as long as the chain: as the film's end is clear of the last gate it fills all of it."""
    deck = deck_of(site, plan.stations[0].house) or USUAL_DECK
    leader_ft = END_FT + lacing.chain_ft
    roll = roll_mm(plan.film.m_from_s(plan.print_s) + leader_ft * FOOT_M, deck.core_mm, film_m(site))
    last_free_s = max(station.clear_s for station in schedule.stations)
    earliest_s = max(back_s, last_free_s) + (SPLICE_MIN + READY_MIN) * 60.0
    return LeaderBehind(
        leader_ft=leader_ft,
        crew=1,
        minutes=SPLICE_MIN,
        earliest_s=earliest_s,
        saves_min=(anew_s - earliest_s) / 60.0,
        roll_mm=roll,
        fits=roll <= deck.roll_mm,
    )
