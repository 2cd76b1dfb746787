"""The wiring file, `*.contacts.toml`: which wire of which feed is what, or all that is wrong with it at once."""

from collections.abc import Iterator, Mapping
from typing import Final, NamedTuple

from adapters.contacts.kinds import DEBOUNCE_MS, WHATS, FeedWiring, Input, Kind, What, is_device, is_network
from server.timeline.faults import either, found_text
from server.timeline.plan import Plan, Station
from server.timeline.tables import Faults, Table, key_lines, toml_from_text

FORMAT: Final = "festoon-contacts/1"

MOST_DEBOUNCE_MS: Final = 1000
MOST_SAMPLING_MS: Final = 10_000
"""Chosen: what a link's reserve is long gone in says nothing any more."""
_NORMALLY: Final = ("open", "closed")
_PLANNED: Final = ("motor", "lamp", "douser", "cue")


class WiringFaults(Exception):
    """A wiring file that cannot be used; `faults` are all of them, one line each."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


class Wiring(NamedTuple):
    """What a wiring file says; `warnings` are lines for whoever starts the server."""

    feeds: tuple[FeedWiring, ...]
    warnings: tuple[str, ...] = ()

    @property
    def inputs(self) -> tuple[Input, ...]:
        """Every input, in the order of the feeds."""
        return tuple(each for feed in self.feeds for each in feed.inputs)


def read_wiring(text: str, name: str, plan: Plan, kinds: Mapping[str, Kind]) -> Wiring:
    """Make a wiring of the text of a file, for the stations of `plan`; `name` is what messages call the file.

    Raises WiringFaults with every fault of the text, each `name: line N: key.path: found X; accepted Y`.
    """
    text = text.removeprefix("\ufeff")
    faults = Faults(name, key_lines(text))
    data = toml_from_text(text, faults)
    wiring = None if data is None else _wiring(Table(data, "", faults), plan, kinds)
    if wiring is None or faults.noted:
        raise WiringFaults(faults.texts())
    return wiring._replace(warnings=tuple(f"{name}: {warning}" for warning in _warnings(wiring, plan)))


def _wiring(top: Table, plan: Plan, kinds: Mapping[str, Kind]) -> Wiring:
    found = top.take("format")
    if found != FORMAT:
        top.fault("format", found_text(found), found_text(FORMAT))
    feed_tables = top.tables("feeds", "at least one [[feeds]]")
    feeds = {table.path: _feed(table, kinds) for table in feed_tables}
    _check_once(feed_tables, "id", [feed.id for feed in feeds.values()], "the id of one feed only")
    _check_once(feed_tables, "port", [feed.address for feed in feeds.values()], "each port for one feed only")
    by_id = {feed.id: feed for feed in feeds.values()}
    input_tables = top.tables("inputs", "at least one [[inputs]]")
    inputs = [_input(table, by_id, plan) for table in input_tables]
    _check_wires(input_tables, inputs)
    top.close()
    return Wiring(tuple(_wired(feed, inputs) for feed in feeds.values()))


def _wired(feed: FeedWiring, inputs: list[Input]) -> FeedWiring:
    return feed._replace(inputs=tuple(each for each in inputs if each.feed == feed.id))


def _feed(table: Table, kinds: Mapping[str, Kind]) -> FeedWiring:
    feed_id = table.identifier("id") or ""
    named = table.take("kind")
    kind = kinds.get(named) if isinstance(named, str) else None
    if kind is None:
        table.fault("kind", found_text(named), either(kinds))
        kind, address = next(iter(kinds.values())), table.text("port") or ""
        return FeedWiring(feed_id, kind, address, kind.port(Table({}, table.path, table.faults), ""))
    address = _address(table, kind)
    make_port = kind.port(table, address)
    sampling_us = 1000 * table.whole("sampling_ms", 0, 0, MOST_SAMPLING_MS)
    table.close()
    return FeedWiring(feed_id, kind, address, make_port, sampling_us=sampling_us)


def _address(table: Table, kind: Kind) -> str:
    value = table.take("port")
    address = value if isinstance(value, str) else ""
    if (kind.device and is_device(address)) or is_network(address, kind.schemes):
        return address
    forms = [*(["a device such as /dev/ttyUSB0"] if kind.device else []), *(f"{s}://host:port" for s in kind.schemes)]
    table.fault("port", found_text(value), either(forms))
    return ""


def _input(table: Table, feeds: Mapping[str, FeedWiring], plan: Plan) -> Input:
    feed = _known(table, "feed", feeds)
    place = _place(table, feeds.get(feed or ""))
    station = _known(table, "station", plan.station_index) or ""
    made = Input(
        feed=feed or "",
        place=place,
        station=station,
        house=plan.stations[plan.station_index[station]].house if station else "",
        what=_what(table),
        normally_closed=table.word("normally", _NORMALLY, "open") == "closed",
        debounce_us=1000 * table.whole("debounce_ms", DEBOUNCE_MS, 0, MOST_DEBOUNCE_MS),
    )
    table.close()
    return made


def _known(table: Table, key: str, known: Mapping[str, object]) -> str | None:
    value = table.take(key)
    if isinstance(value, str) and value in known:
        return value
    table.fault(key, found_text(value), either(each for each in known if each))
    return None


def _place(table: Table, feed: FeedWiring | None) -> str:
    value = table.take("input")
    if feed is None:
        return ""
    place = feed.kind.place(value) if isinstance(value, str) else None
    if place is None:
        table.fault("input", found_text(value), feed.kind.places)
    return place or ""


def _what(table: Table) -> What:
    if "what" not in table.data:
        table.fault("what", "nothing", either(WHATS))
    return table.word("what", WHATS, "motor")


def _check_once(tables: list[Table], key: str, values: list[str], accepted: str) -> None:
    first: dict[str, str] = {}
    for value, table in zip(values, tables, strict=True):
        if value and first.setdefault(value, table.path) != table.path:
            table.fault(key, f"{found_text(value)}, which {first[value]} has too", accepted)


def _check_wires(tables: list[Table], inputs: list[Input]) -> None:
    """One wire is one thing, and one thing is on one wire; of failsafes a projector may have several."""
    _check_once(tables, "input", [f"{i.id}" if i.feed and i.place else "" for i in inputs], "one input on one wire")
    things = [f"{i.what} of {i.station}" if i.station and i.what != "failsafe" else "" for i in inputs]
    _check_once(tables, "what", things, "one wire for each")


def _warnings(wiring: Wiring, plan: Plan) -> Iterator[str]:
    for feed in wiring.feeds:
        if not feed.inputs:
            yield f"nothing is wired to the feed {feed.id}"
    wired = {(each.station, each.what) for each in wiring.inputs}
    for station in plan.stations:
        for what in _PLANNED:
            text = _unlike_plan(station, what, (station.id, what) in wired)
            if text is not None:
                yield text


def _unlike_plan(station: Station, what: str, wired: bool) -> str | None:
    planned: str = getattr(station.inputs, what)
    if planned == "contact" and not wired:
        return f"the plan has the {what} of House {station.house} on a contact, and no input is wired to it"
    if planned != "contact" and wired:
        by = f"the {what} of House {station.house} by {planned}"
        return f"the plan has {by}: no alarm will expect the contact that is wired"
    return None
