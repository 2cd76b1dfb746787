"""The print as a roll on a deck: how large it is, how heavy, and whether the deck takes it."""

import math
from collections.abc import Iterator
from typing import Final

from server.planning.findings import Finding
from server.planning.site_model import Deck, Site
from server.timeline.film import FOOT_M, Gauge
from server.timeline.naming import house_of
from server.timeline.plan import Plan
from server.timeline.threading import DECK_M, PRINT_THICKNESS_M, RING_M

USUAL_DECK: Final = Deck(core_mm=RING_M * 1000.0, roll_mm=DECK_M * 1000.0)

# Polyester weighs 1390 kg a cubic metre (from memory); the widths are those that the gauges are named for.
_KG_PER_M3: Final = 1390.0
_WIDTH_M: Final[dict[Gauge, float]] = {"16mm": 0.016, "35mm": 0.035, "70mm": 0.070}


def film_m(site: Site | None) -> float:
    """Return how thick the film is, in metres: as the site file says, or as is usual."""
    return PRINT_THICKNESS_M if site is None else site.film_mm / 1000.0


def deck_of(site: Site | None, house: str) -> Deck | None:
    """Return the deck of a house; None where nobody said which it has."""
    known = None if site is None else site.by_house.get(house)
    return None if known is None else known.deck


def roll_mm(length_m: float, core_mm: float, thickness_m: float) -> float:
    """Return the diameter of a roll of so much film about a core: D^2 = d^2 + 4 t L / pi."""
    return math.sqrt(core_mm**2 + 4.0 * thickness_m * length_m / math.pi * 1e6)


def roll_kg(plan: Plan, length_m: float, thickness_m: float) -> float:
    """Return what so much film of the plan's gauge weighs, its core left out."""
    return length_m * _WIDTH_M[plan.film.gauge] * thickness_m * _KG_PER_M3


def deck_findings(plan: Plan, site: Site | None, chain_ft: float) -> Iterator[Finding]:
    """Say which deck is too small: the print pays out at the first house, and is taken up at the last.

    `chain_ft` is the leader ahead of the print's first frame, which is taken up before it.
    """
    print_m = plan.film.m_from_s(plan.print_s)
    last = len(plan.stations) - 1
    yield from _deck_finding(plan, site, 0, print_m, "pays out the print")
    yield from _deck_finding(plan, site, last, print_m + chain_ft * FOOT_M, "takes up the leader and the print")


def _deck_finding(plan: Plan, site: Site | None, k: int, length_m: float, does: str) -> Iterator[Finding]:
    station, thickness_m = plan.stations[k], film_m(site)
    known = deck_of(site, station.house)
    deck = known or USUAL_DECK
    roll = roll_mm(length_m, deck.core_mm, thickness_m)
    if roll <= deck.roll_mm:
        return
    holds_m = math.pi * (deck.roll_mm**2 - deck.core_mm**2) * 1e-6 / (4.0 * thickness_m)
    whose = "deck" if known else "deck, if it is a usual one,"
    text = (
        f"{house_of(plan, k)}: {length_m:.0f} m of film make a roll of {roll / 1000:.2f} m. "
        f"The {whose} takes {deck.roll_mm / 1000:.2f} m, which is {holds_m:.0f} m of film."
    )
    yield Finding(
        "print_over_deck",
        "fault",
        house_of(plan, k),
        (station.id,),
        text,
        f"This deck {does}, and film over its edge falls off.",
        "Use a larger deck, run the print in two parts with an intermission, or write the deck's true size "
        "in the site file.",
    )
