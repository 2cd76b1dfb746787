"""A site: the houses, booths, decks, measured paths and walks of one complex, which stay from plan to plan.

Import these names from `server.planning.site`, which also makes a `Site` of the text of a file.
"""

from functools import cached_property
from typing import Final

from pydantic import BaseModel, ConfigDict

from server.timeline.plan import Inputs, Lamp, ThreadingRules, Timing

FORMAT: Final = "festoon-site/1"
TAPE_PERCENT: Final[float] = Timing.model_fields["path_tolerance_percent"].default
"""One standard deviation of a path that nobody but a tape has measured: what a plan takes too."""


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Deck(_Frozen):
    """A platter's deck: the diameter of its core, and of the largest roll that it takes."""

    core_mm: float
    roll_mm: float


class House(_Frozen):
    """One house with its projector; `booth`, `reserve_s` and `deck` are None where the file does not say."""

    house: str
    booth: str | None = None
    reserve_s: float | None = None
    deck: Deck | None = None
    inputs: Inputs = Inputs()
    lamp: Lamp = Lamp()


class Path(_Frozen):
    """The measured way of the film from one house's projector to another's; it holds both ways.

    `path_tolerance_percent` is one standard deviation of `path_m`, by a tape or as runs measured it. `turns_deg` is
    what the film turns over fixed guides, all of them together (free rollers do not count). `height_m` is that of its
    highest roller, `doorways` how many it crosses. The loop that holds the reserve hangs over `loop_span_m` and has
    `loop_drop_m` of room below; each is None where nobody measured it.
    """

    houses: tuple[str, str]
    path_m: float
    path_tolerance_percent: float = TAPE_PERCENT
    rollers: int = 0
    turns_deg: float = 0.0
    doorways: int = 0
    height_m: float | None = None
    loop_span_m: float | None = None
    loop_drop_m: float | None = None


class Walk(_Frozen):
    """How long a person walks from one booth to another, both ways."""

    booths: tuple[str, str]
    walk_s: float


class Site(_Frozen):
    """One complex. `film_mm` is how thick the film is, for the roll on a deck."""

    site: str
    timezone: str = "UTC"
    film_mm: float = 0.14
    threading: ThreadingRules = ThreadingRules()
    houses: tuple[House, ...]
    paths: tuple[Path, ...] = ()
    walks: tuple[Walk, ...] = ()

    @cached_property
    def by_house(self) -> dict[str, House]:
        """The houses by their names."""
        return {house.house: house for house in self.houses}

    def path(self, one: str, other: str) -> Path | None:
        """The path between two houses, whichever way; None where nobody measured one."""
        return self._paths.get(frozenset((one, other)))

    def walk_s(self, one: str | None, other: str | None) -> float | None:
        """How long somebody walks from booth to booth: 0 within one, None where nobody timed it."""
        if one == other:
            return 0.0
        walk = self._walks.get(frozenset((one, other)))
        return None if walk is None else walk.walk_s

    @cached_property
    def _paths(self) -> dict[frozenset[str], Path]:
        return {frozenset(path.houses): path for path in self.paths}

    @cached_property
    def _walks(self) -> dict[frozenset[str | None], Walk]:
        return {frozenset(walk.booths): walk for walk in self.walks}
