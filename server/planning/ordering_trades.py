"""What the best order gives up, and for what: each is the same question asked again without one of its wishes."""

from collections.abc import Iterator
from typing import Final, NamedTuple

from server.planning.findings import span_text
from server.planning.ordering_answer import Order, Trade
from server.planning.ordering_problem import DM, MM, problem_from_wanted
from server.planning.ordering_search import Found, SearchEnded, found_orders
from server.planning.ordering_wanted import Fixed, Wanted, wish_text
from server.planning.site_model import Site
from server.timeline.faults import both
from server.timeline.film import FOOT_M

_NOTHING_M: Final = 0.5  # chosen: what a few rounded paths may differ by


class _Wish(NamedTuple):
    """A wish as `what` with its verb, `it` as it is called again, and what would be asked without it."""

    code: str
    what: str
    costs: str
    it: str
    without: Wanted


def trades_of(site: Site, wanted: Wanted, best: Order, found: Found) -> tuple[Trade, ...]:
    """Say what the times, what was settled and the second chain cost, and which times are missed."""
    return tuple(_trades(site, wanted, best, found))


def _trades(site: Site, wanted: Wanted, best: Order, found: Found) -> Iterator[Trade]:
    if best.missed:
        yield _missed(wanted, best)
    for wish in _wishes(wanted):
        yield _cost(site, wish, best, found, wanted.houses)
    if wanted.chains > 1 and _fits_one(wanted.fixed):
        yield from _second_chain(site, wanted, best)


def _wishes(wanted: Wanted) -> Iterator[_Wish]:
    if wanted.advertised:
        yield _Wish("times", "The times", "cost", "them", wanted._replace(advertised={}, start=None))
    if wanted.fixed != Fixed():
        wishes = "; ".join(wish_text(said, houses) for said, houses in wanted.fixed.groups)
        yield _Wish("fixed", f"What is settled ({wishes})", "costs", "it", wanted._replace(fixed=Fixed()))


def _missed(wanted: Wanted, best: Order) -> Trade:
    late = {stop.house: stop.late_s for stop in best.stops if stop.late_s is not None}
    said = [f"House {house} {span_text(abs(late[house]))} {_way(late[house])}" for house in best.missed]
    accepted = f"{span_text(wanted.early_s)} early to {span_text(wanted.late_s)} late"
    nearest = "the nearest" if best.is_proven else "the nearest that was found"
    text = f"No order meets every time. In this one, {nearest}, the head comes to {both(said)}; accepted {accepted}."
    return Trade("missed", text, None, best.is_proven)


def _way(late_s: float) -> str:
    return "late" if late_s > 0.0 else "early"


def _cost(site: Site, wish: _Wish, best: Order, found: Found, houses: tuple[str, ...]) -> Trade:
    """How much path a wish costs, against the least without it; or time, where that is nearer to the times."""
    code, what, costs, it, asked = wish
    try:
        without = _least(site, asked)
    except SearchEnded:
        without = None
    if without is None:
        return Trade(code, f"{what} may cost path: no order without {it} was found in the time given.", None, False)
    order = " and ".join(", ".join(houses[k] for k in chain) for chain in without.chains)
    is_proven = best.is_proven and without.is_proven
    if asked.is_timed and without.widened_min < found.widened_min:
        fewer = found.widened_min - without.widened_min
        costs = costs if is_proven else "may cost"
        text = f"{what} {costs} time: without {it} heads would be up to {fewer} min nearer their times, as {order}."
        return Trade(code, text, None, is_proven)
    more_m = best.path_m - _path_m(asked, without)
    if more_m > _NOTHING_M:
        about, least = ("", "The least") if is_proven else ("about ", "The least that was found")
        text = f"{what} {costs} {about}{length_text(more_m)} of path. {least} without {it}: {order}."
        return Trade(code, text, more_m, is_proven)
    if without.is_proven:
        return Trade(code, f"{what} {costs} no path: no order without {it} is shorter.", 0.0, True)
    text = f"{what} may cost path: no shorter order without {it} was found, but that there is none is not proven."
    return Trade(code, text, None, False)


def _second_chain(site: Site, wanted: Wanted, best: Order) -> Iterator[Trade]:
    """What path two chains save; nothing where one chain of all houses cannot be."""
    asked = wanted._replace(chains=1)
    two = "Two chains take two prints."
    try:
        one = _least(site, asked)
    except SearchEnded:
        text = f"{two} What path they save is not known: no chain of all houses was found in the time given."
        yield Trade("chains", text, None, False)
        return
    if one is None:
        return
    is_proven = best.is_proven and one.is_proven
    less_m = _path_m(asked, one) - best.path_m
    about, least = ("", "") if is_proven else ("about ", ", the least that was found")
    saved = f"{about}{length_text(less_m)} of path" if less_m > _NOTHING_M else "no path"
    yield Trade("chains", f"{two} They save {saved} against one chain of all houses{least}.", -less_m, is_proven)


def _fits_one(fixed: Fixed) -> bool:
    return len(set(fixed.first)) < 2 and len(set(fixed.last)) < 2


def _least(site: Site, wanted: Wanted) -> Found | None:
    """The best of another question; None where there is none. Raises SearchEnded."""
    found = found_orders(problem_from_wanted(site, wanted), 1)
    return found[0] if found else None


def _path_m(wanted: Wanted, found: Found) -> float:
    return found.path_u * (DM if wanted.is_timed else MM)


def length_text(metres: float) -> str:
    """Say a length both ways, as they are taped: "38 ft (11.6 m)"."""
    return f"{metres / FOOT_M:.0f} ft ({metres:.1f} m)"
