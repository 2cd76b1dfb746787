"""The text of a `*.site.toml` made into a `Site`, or into all of its faults at once."""

from collections.abc import Collection, Iterable
from typing import Final

from server.planning.meant import meant_name, meant_zone, quoted
from server.planning.meant_table import MeantTable
from server.planning.site_model import FORMAT, TAPE_PERCENT, Deck, House, Path, Site, Walk
from server.timeline.faults import both, either, found_text
from server.timeline.film import FOOT_M
from server.timeline.plan import _inputs as inputs_from_table
from server.timeline.plan import _lamp as lamp_from_table
from server.timeline.plan import _threading as threading_from_table
from server.timeline.plan import timezone_of
from server.timeline.plan_model import Lamp
from server.timeline.tables import Faults, key_lines, toml_from_text

__all__ = ["Deck", "House", "Path", "Site", "SiteFaults", "Walk", "parse_site"]

# Chosen: past these a number is a slip of the keyboard, not a site. The leader of the longest chain reported,
# sixteen houses, is some 670 m in all.
_LONGEST_PATH_M: Final = 500.0
_HIGHEST_M: Final = 30.0
_WIDEST_LOOP_M: Final = 50.0
_MOST_ROLLERS: Final = 500
_MOST_DOORWAYS: Final = 50
_MOST_TURNS_DEG: Final = 7200.0
_LONGEST_WALK_S: Final = 3600.0
_LONGEST_RESERVE_S: Final = 60.0
_CORE_MM: Final = (50.0, 1000.0)
_ROLL_MM: Final = (200.0, 3000.0)
_FILM_MM: Final = (0.05, 0.3)  # a whole print is 0.13 to 0.14 mm on polyester, from memory
_MOST_HOUSES: Final = 100

_OTHERS: Final = {"festoon-plan/1": "a plan", "festoon-contacts/1": "a wiring file", "festoon-events/1": "a recording"}


class SiteFaults(Exception):
    """A site that cannot be used; `faults` are all of them, one line each."""

    def __init__(self, faults: list[str]) -> None:
        super().__init__("\n".join(faults))
        self.faults = faults


def parse_site(text: str, name: str) -> Site:
    """Make a site of the text of a file; `name` is what messages call the file.

    Raises SiteFaults with every fault of the text, each `name: line N: key.path: found X. Accepted Y`. Where what was
    found is nearly right, it ends with what to write. A file of another kind is one fault.
    """
    text = text.removeprefix("\ufeff")
    if text.lstrip().startswith("{"):
        raise SiteFaults([f"{name}: found a recording; accepted a site, a TOML file with format = {quoted(FORMAT)}"])
    faults = Faults(name, key_lines(text))
    data = toml_from_text(text, faults)
    if data is not None:
        site = _site(MeantTable(data, "", faults))
        if site is not None:
            return site
    raise SiteFaults(faults.texts())


def _site(top: MeantTable) -> Site | None:
    """Read every table before anything is decided, so that no fault hides another."""
    if _is_another(top):
        return None
    name, film_mm = top.required_text("site"), _film_mm(top)
    with top.meant(meant_zone):
        timezone, _ = timezone_of(top)
    threading = threading_from_table(top.table("threading"))
    house_tables = top.meant_tables("houses", "at least one [[houses]]")
    houses = tuple(_house(table) for table in house_tables)
    _check_houses(house_tables, [house.house for house in houses])
    names = dict.fromkeys(house.house for house in houses)
    booths = dict.fromkeys(house.booth for house in houses if house.booth is not None)
    paths, walks = _paths(_optional(top, "paths"), names), _walks(_optional(top, "walks"), booths)
    top.close()
    if top.faults.noted:
        return None
    return Site(
        site=name,
        timezone=timezone,
        film_mm=film_mm,
        threading=threading,
        houses=houses,
        paths=paths,
        walks=walks,
    )


def _is_another(top: MeantTable) -> bool:
    """Whether this is a file of another kind: nothing else need then be said of it."""
    found = top.take("format")
    if found == FORMAT:
        return False
    other = _OTHERS.get(found) if isinstance(found, str) else None
    top.fault("format", f"{found_text(found)}, {other}" if other else found_text(found), found_text(FORMAT))
    return other is not None


def _film_mm(top: MeantTable) -> float:
    film_mm = top.number("film_mm", 0.14, 0.0, 1.0)
    low, high = _FILM_MM
    if not low <= film_mm <= high:
        top.fault("film_mm", f"{film_mm:g}", f"the thickness of film, from {low:g} to {high:g} mm")
    return film_mm


def _optional(top: MeantTable, key: str) -> list[MeantTable]:
    if key in top.data:
        return top.meant_tables(key, f"one [[{key}]] or more, or none")
    top.known(key)
    return []


def _house(table: MeantTable) -> House:
    house = House(
        house=_name(table, "house") or "",
        booth=_name(table, "booth"),
        reserve_s=_measured(table, "reserve_s", _LONGEST_RESERVE_S),
        deck=_deck(table),
        inputs=inputs_from_table(table.table("inputs")),
        lamp=lamp_from_table(table, Lamp()),
    )
    if "house" not in table.data:
        table.fault("house", "nothing", "the house's name, such as '4'")
    table.close()
    return house


def _name(table: MeantTable, key: str) -> str | None:
    """What a house or a booth is called, without the word that is put before it."""
    name = table.text(key)
    if name is not None and (meant := meant_name(name)):
        table.fault(key, found_text(name), f"a name without {key!r}, which is put before it: write {quoted(meant)}")
        return meant
    number = table.data.get(key)
    # A number is told as a fault already, and its name is taken so that no path that names it is another.
    return f"{number}" if isinstance(number, (int, float)) and not isinstance(number, bool) else name


def _deck(table: MeantTable) -> Deck | None:
    core_mm = table.number("deck_core_mm", 0.0, *_CORE_MM)
    roll_mm = table.number("deck_roll_mm", 0.0, *_ROLL_MM)
    given = [key for key in ("deck_core_mm", "deck_roll_mm") if key in table.data]
    if len(given) == 1:
        table.fault("", f"{given[0]} alone", "deck_core_mm and deck_roll_mm, or neither")
    if core_mm and roll_mm and core_mm >= roll_mm:
        table.fault("deck_core_mm", f"{core_mm:g}", f"a core smaller than the largest roll, {roll_mm:g} mm")
    return Deck(core_mm=core_mm, roll_mm=roll_mm) if core_mm and roll_mm else None


def _check_houses(tables: list[MeantTable], names: list[str]) -> None:
    """Each name is one house's; names that differ in the case of a letter are one."""
    first: dict[str, str] = {}
    for table, name in zip(tables, names, strict=True):
        if name and first.setdefault(name.casefold(), table.path) != table.path:
            found = f"{found_text(name)}, which {first[name.casefold()]} has too"
            table.fault("house", found, "the name of one house only")
    if len(tables) > _MOST_HOUSES:
        tables[0].faults.add("houses", f"{len(tables)}", f"1 to {_MOST_HOUSES} houses")


def _measured(table: MeantTable, key: str, high: float) -> float | None:
    """A number that may not be given."""
    if key in table.data:
        return table.number(key, 0.0, 0.0, high)
    table.known(key)
    return None


def _paths(tables: list[MeantTable], houses: Collection[str]) -> tuple[Path, ...]:
    paths = [_path(table, houses) for table in tables]
    ends = [None if path is None else path.houses for path in paths]
    _check_pairs(tables, ends, "one path between two houses: it holds both ways")
    return tuple(path for path in paths if path is not None)


def _path(table: MeantTable, houses: Collection[str]) -> Path | None:
    ends = _ends(table, houses, "a house of this site")
    path = Path(
        houses=ends or ("", ""),
        path_m=_length_m(table, "path", _LONGEST_PATH_M, required=True) or 0.0,
        path_tolerance_percent=table.number("path_tolerance_percent", TAPE_PERCENT, 0.0, 100.0, over=True),
        rollers=table.whole("rollers", 0, 0, _MOST_ROLLERS),
        turns_deg=table.number("turns_deg", 0.0, 0.0, _MOST_TURNS_DEG),
        doorways=table.whole("doorways", 0, 0, _MOST_DOORWAYS),
        height_m=_length_m(table, "height", _HIGHEST_M, required=False),
        loop_span_m=_measured(table, "loop_span_m", _WIDEST_LOOP_M),
        loop_drop_m=_measured(table, "loop_drop_m", _HIGHEST_M),
    )
    _check_loop(table, path)
    table.close()
    return path if ends else None


def _check_loop(table: MeantTable, path: Path) -> None:
    """A loop is part of its path, and hangs below its highest roller."""
    if path.path_m and path.loop_span_m is not None and path.loop_span_m > path.path_m:
        table.fault("loop_span_m", f"{path.loop_span_m:g}", f"no more than the path, which is {path.path_m:g} m")
    if path.height_m is not None and path.loop_drop_m is not None and path.loop_drop_m > path.height_m:
        table.fault("loop_drop_m", f"{path.loop_drop_m:g}", f"no more than the height, which is {path.height_m:g} m")


def _length_m(table: MeantTable, what: str, high_m: float, *, required: bool) -> float | None:
    """A length in metres or in feet, over 0; None where it is not given, or not usable."""
    keys = (f"{what}_ft", f"{what}_m")
    feet = table.number(keys[0], 0.0, 0.0, high_m / FOOT_M, over=True)
    metres = table.number(keys[1], 0.0, 0.0, high_m, over=True)
    given = [key for key in keys if key in table.data]
    if len(given) > 1 or (required and not given):
        count = "exactly one of" if required else "one of"
        table.fault("", both(given) if given else f"no {what}", f"{count} {either(keys)}")
    return metres or feet * FOOT_M or None


def _walks(tables: list[MeantTable], booths: Collection[str]) -> tuple[Walk, ...]:
    walks = [_walk(table, booths) for table in tables]
    ends = [None if walk is None else walk.booths for walk in walks]
    _check_pairs(tables, ends, "one walk between two booths: it holds both ways")
    return tuple(walk for walk in walks if walk is not None)


def _walk(table: MeantTable, booths: Collection[str]) -> Walk | None:
    ends = _ends(table, booths, "a booth that a house of this site names")
    if "walk_s" not in table.data:
        table.fault("walk_s", "nothing", f"a number over 0 and at most {_LONGEST_WALK_S:.0f}")
    walk_s = table.number("walk_s", 0.0, 0.0, _LONGEST_WALK_S, over=True)
    table.close()
    return Walk(booths=ends, walk_s=walk_s) if ends else None


def _ends(table: MeantTable, names: Collection[str], what: str) -> tuple[str, str] | None:
    """What a path or a walk lies between; None on a fault."""
    one, other = table.named("from", names, what), table.named("to", names, what)
    if one is None or other is None:
        return None
    if one == other:
        table.fault("to", found_text(other), "another than 'from'")
        return None
    return one, other


def _check_pairs(tables: list[MeantTable], ends: Iterable[tuple[str, str] | None], accepted: str) -> None:
    first: dict[frozenset[str], str] = {}
    for table, pair in zip(tables, ends, strict=True):
        if pair is not None and first.setdefault(frozenset(pair), table.path) != table.path:
            table.fault("to", f"{both(pair)}, which {first[frozenset(pair)]} has too", accepted)
