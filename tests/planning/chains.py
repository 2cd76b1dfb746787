"""Chains and sites for the tests of what is known before a show; houses are 11, 12, 13 and so on, ids st0, st1, st2."""

from collections.abc import Sequence

from server.planning.site_model import Deck, House, Path, Site, Walk
from server.timeline.plan import Plan, parse_plan

METRES_A_FOOT = 0.3048


def chain(
    *paths: tuple[float, int],
    timing: str = "",
    rules: str = "",
    film: str = "",
    stations: dict[int, str] | None = None,
    booths: Sequence[str] = (),
    motors_at: str = "2026-03-14T18:50:00-05:00",
    title: str = "Chain",
    head_ft: float = 60,
    feature: str = "1:40:00",
    tail_ft: float = 300,
    more: str = "",
) -> Plan:
    """A plan whose links have these paths, in feet, and rollers; `stations` are more lines of some of them."""
    lines = [
        f'format = "festoon-plan/1"\ntitle = "{title}"\ntimezone = "America/Chicago"',
        f"[film]\n{film}\n[timing]\nmotors_at = {motors_at}\n{timing}\n[threading]\n{rules}",
        f'[[print]]\nid = "leader"\nkind = "leader"\nfeet = {head_ft}',
        f'[[print]]\nid = "film"\nkind = "feature"\nduration = "{feature}"',
        *([f'[[print]]\nid = "tail"\nkind = "tail"\nfeet = {tail_ft}'] if tail_ft else []),
    ]
    for k, (feet, rollers) in enumerate([(0.0, 2), *paths]):
        booth = f'booth = "{booths[k]}"\n' if booths else ""
        path = f"path_ft = {feet!r}\n" if k else ""
        lines.append(f'[[stations]]\nid = "st{k}"\nhouse = "{11 + k}"\n{booth}{path}rollers = {rollers}')
        lines.append((stations or {}).get(k, ""))
    return parse_plan("\n".join([*lines, more]), "chain.plan.toml")


def site(*paths: Path, houses: Sequence[House] = (), walks: Sequence[tuple[str, str, float]] = ()) -> Site:
    """A site with these paths and walks; where no houses are given, 11 to 20, each as a site has it by default."""
    return Site(
        site="Example Hall",
        houses=tuple(houses) or tuple(House(house=str(number)) for number in range(11, 21)),
        paths=paths,
        walks=tuple(Walk(booths=(one, other), walk_s=walk_s) for one, other, walk_s in walks),
    )


def path(one: int, other: int, feet: float, **more: float) -> Path:
    """A measured path between two houses, in feet."""
    return Path.model_validate({"houses": (str(one), str(other)), "path_m": feet * METRES_A_FOOT} | more)


def house(number: int, *, core_mm: float = 0.0, roll_mm: float = 0.0) -> House:
    """A house with a deck of that size."""
    return House(house=str(number), deck=Deck(core_mm=core_mm, roll_mm=roll_mm) if roll_mm else None)
