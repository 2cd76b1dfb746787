"""What the best order gives up, and for what: each is the same question asked again without one of its wishes."""

from collections.abc import Iterator
from typing import Final

from server.planning.findings import span_text
from server.planning.ordering_answer import Order, Trade
from server.planning.ordering_problem import DM, MM, problem_from_wanted
from server.planning.ordering_search import Found, SearchEnded, found_orders
from server.planning.ordering_wanted import Fixed, Wanted, wish_text
from server.planning.site_model import Site
from server.timeline.faults import both
from server.timeline.film import FOOT_M

_NOTHING_M: Final = 0.5  # chosen: what a few rounded paths may differ by


def trades_of(site: Site, wanted: Wanted, best: Order, found: Found) -> tuple[Trade, ...]:
    """Say what the times, what was settled and the second chain cost, and which times are missed."""
    return tuple(_trades(site, wanted, best, found))


def _trades(site: Site, wanted: Wanted, best: Order, found: Found) -> Iterator[Trade]:
    if best.missed:
        yield _missed(wanted, best)
    if wanted.advertised:
        other = _least(site, wanted._replace(advertised={}, start=None))
        yield from _cost(wanted, best, found, other, "times", "The times")
    if wanted.fixed != Fixed():
        wishes = "; ".join(wish_text(said, houses) for said, houses in wanted.fixed.groups)
        other = _least(site, wanted._replace(fixed=Fixed()))
        yield from _cost(wanted, best, found, other, "fixed", f"What is settled ({wishes})")
    if wanted.chains > 1:
        yield from _second_chain(site, wanted, best)


def _missed(wanted: Wanted, best: Order) -> Trade:
    late = {stop.house: stop.late_s for stop in best.stops if stop.late_s is not None}
    said = [f"House {house} {span_text(abs(late[house]))} {_way(late[house])}" for house in best.missed]
    accepted = f"{span_text(wanted.early_s)} early to {span_text(wanted.late_s)} late"
    text = f"No order meets every time. In this one, the nearest, the head comes to {both(said)}; accepted {accepted}."
    return Trade("missed", text, None)


def _way(late_s: float) -> str:
    return "late" if late_s > 0.0 else "early"


def _cost(
    wanted: Wanted, best: Order, found: Found, other: tuple[Found, float] | None, code: str, what: str
) -> Iterator[Trade]:
    """How much path a wish costs, against the least without it."""
    if other is None:
        return
    without, path_m = other
    more_m = best.path_m - path_m
    order = " and ".join(", ".join(wanted.houses[k] for k in chain) for chain in without.chains)
    costs, it = ("cost", "them") if code == "times" else ("costs", "it")
    about = "" if best.is_proven and without.is_proven else "about "
    if code != "times" and without.widened_min < found.widened_min:
        fewer = found.widened_min - without.widened_min
        text = f"{what} {costs} time: without {it} heads would be up to {fewer} min nearer their times, as {order}."
        yield Trade(code, text, None)
    elif more_m <= _NOTHING_M:
        yield Trade(code, f"{what} {costs} no path: no order without {it} is shorter.", 0.0)
    else:
        text = f"{what} {costs} {about}{length_text(more_m)} of path. The least without {it}: {order}."
        yield Trade(code, text, more_m)


def _second_chain(site: Site, wanted: Wanted, best: Order) -> Iterator[Trade]:
    other = _least(site, wanted._replace(chains=1)) if _fits_one(wanted.fixed) else None
    if other is not None:
        less_m = other[1] - best.path_m
        saved = f"save {length_text(less_m)} of path" if less_m > _NOTHING_M else "save no path"
        yield Trade("chains", f"Two chains take two prints. They {saved} against one chain of all houses.", -less_m)


def _fits_one(fixed: Fixed) -> bool:
    return len(set(fixed.first)) < 2 and len(set(fixed.last)) < 2


def _least(site: Site, wanted: Wanted) -> tuple[Found, float] | None:
    """The best of another question and its path in metres; None where there is none, or none was found."""
    problem = problem_from_wanted(site, wanted)
    try:
        found = found_orders(problem, 1)
    except SearchEnded:
        return None
    return (found[0], found[0].path_u * (DM if wanted.is_timed else MM)) if found else None


def length_text(metres: float) -> str:
    """Say a length both ways, as they are taped: "38 ft (11.6 m)"."""
    return f"{metres / FOOT_M:.0f} ft ({metres:.1f} m)"
