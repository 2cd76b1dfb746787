"""An order of houses as it is read and printed: 80 columns, and no colour."""

from collections.abc import Iterator
from datetime import datetime, tzinfo
from zoneinfo import ZoneInfo

from rich.console import Console
from rich.table import Table
from rich.text import Text

from server.planning.cautions import FILM_CAUTIONS, SITE_RULES
from server.planning.findings import span_text
from server.planning.ordering import Chain, Order, Ordering, Stop, Wanted
from server.planning.site_model import Site
from server.terminal.plain_tables import print_list, print_tables, row_of, table_of
from server.timeline.film import FOOT_M

_ORDER_WIDTH = 44


def print_order(ordering: Ordering, site: Site, wanted: Wanted, console: Console) -> None:
    """Print the best order, what was traded for it, and the next best; houses by name, times on the house's clock."""
    best, zone = ordering.best, ZoneInfo(site.timezone)
    for line in _heading(ordering, site, wanted):
        console.print(Text(line))
    for number, chain in enumerate(best.chains, 1):
        title = "In film order" if len(best.chains) == 1 else f"Chain {number}, in film order"
        print_tables(console, _chain(chain, title, zone, is_timed=bool(wanted.advertised)))
        if chain.start is not None:
            console.print(Text(f"Motors at {chain.start.astimezone(zone):%H:%M:%S on %Y-%m-%d}."))
    if _is_clock_changed(best, zone):
        console.print(Text("The house's clock is changed between these times: 'Off' is true minutes."))
    if ordering.can_be_turned:
        console.print(Text("Turned about it is as good."))
    if ordering.trades:
        print_list(console, "What was traded:", (trade.text for trade in ordering.trades))
    if ordering.next_best:
        print_tables(console, _next_best(ordering))
    for line in _others(ordering):
        console.print(Text(line))
    print_list(console, "Film:", FILM_CAUTIONS)


def _others(ordering: Ordering) -> Iterator[str]:
    """What is known of orders that are not printed."""
    if not ordering.is_complete:
        yield "\nThe search ended before it was complete: there may be other orders."
    elif not ordering.next_best:
        yield "\nThere is no other order that keeps what is settled."
    if not all(order.is_proven for order in ordering.next_best):
        yield "That no order was passed over between these is not proven."


def _is_clock_changed(order: Order, zone: tzinfo) -> bool:
    """Whether the clock is put forward or back between any two moments of the order."""
    moments = [chain.start for chain in order.chains]
    moments += [moment for stop in order.stops for moment in (stop.head, stop.advertised)]
    return len({moment.astimezone(zone).utcoffset() for moment in moments if moment is not None}) > 1


def _heading(ordering: Ordering, site: Site, wanted: Wanted) -> Iterator[str]:
    best = ordering.best
    yield site.site
    houses = "1 house" if len(wanted.houses) == 1 else f"{len(wanted.houses)} houses"
    chains = "" if wanted.chains == 1 else ", two chains"
    aim = "The least leader that meets the times" if wanted.advertised and not best.missed else "The least leader"
    aim = "The nearest to the times" if best.missed else aim
    leader_ft, path_ft = best.leader_m / FOOT_M, best.path_m / FOOT_M
    yield f"{aim}, {houses}{chains}: {leader_ft:.0f} ft of leader, {path_ft:.0f} ft of it path."
    if wanted.advertised:
        accepted = f"{span_text(wanted.early_s)} early to {span_text(wanted.late_s)} late"
        yield f"A head meets its time from {accepted}."
    if not best.is_proven:
        yield "It is the best that was found. That none is better is not proven."
    yield SITE_RULES


def _chain(chain: Chain, title: str, zone: tzinfo, *, is_timed: bool) -> Table:
    times = ("Head", "Advert.", "Off") if is_timed or chain.start else ()
    table = table_of(title, names=("House",), numbers=("Path ft", "Rollers", "Doorways", "Head after", *times))
    for k, stop in enumerate(chain.stops):
        path = (f"{stop.path_m / FOOT_M:.1f}", f"{stop.rollers}", f"{stop.doorways}") if k else ("", "", "")
        table.add_row(*row_of([stop.house, *path, _minutes(stop.after_s), *(_times(stop, zone) if times else ())]))
    return table


def _times(stop: Stop, zone: tzinfo) -> tuple[str, str, str]:
    head = _clock(stop.head, zone, "%H:%M:%S")
    if stop.late_s is None:
        return head, "", ""
    return head, _clock(stop.advertised, zone, "%H:%M"), _off(stop.late_s)


def _clock(moment: datetime | None, zone: tzinfo, form: str) -> str:
    return "" if moment is None else moment.astimezone(zone).strftime(form)


def _minutes(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02}"


def _off(late_s: float) -> str:
    if round(late_s) == 0:
        return "on time"
    return f"{_minutes(abs(late_s))} {'late' if late_s > 0.0 else 'early'}"


def _next_best(ordering: Ordering) -> Table:
    is_timed = ordering.best.late_s is not None
    table = table_of(
        "The next best",
        names=("Order",),
        numbers=("Path ft", "more", "Doors", *(("Worst",) if is_timed else ())),
        widths={"Order": _ORDER_WIDTH},
    )
    for order in ordering.next_best:
        more_ft = (order.path_m - ordering.best.path_m) / FOOT_M
        cells = [_houses(order), f"{order.path_m / FOOT_M:.0f}", f"{more_ft:+.1f}", f"{order.doorways}"]
        table.add_row(*row_of([*cells, *([_worst(order)] if is_timed else [])]))
    return table


def _worst(order: Order) -> str:
    """What the head that is furthest from its time is off."""
    return _off(max((stop.late_s for stop in order.stops if stop.late_s is not None), key=abs))


def _houses(order: Order) -> str:
    return "\nand ".join(", ".join(chain.houses) for chain in order.chains)
