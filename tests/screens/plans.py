"""Plans of invented chains, from two houses to thirty, whose motors started so long ago."""

import re
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

LARKSPUR = Path(__file__).parents[2] / "fixtures/plans/larkspur.plan.toml"

LONG_TITLE = "The Remarkable Life and Several Reappearances of the Lighthouse Keeper's Youngest Daughter"
LONG_HOUSES = ("Winter Garden", "Upper Circle East", "Orangery", "Little Theatre", "Coach House", "12 B")

_ROOMS = ("The Old Assembly Room", "The Winter Theatre", "The Lower Orangery")
_WAYS = ("beside the North Stairs and the", "across the Courtyard from the", "behind the Corn Exchange and the")

_CONTACTS = 'motor = "contact", lamp = "contact", douser = "contact", cue = "contact"'


def numbered(houses: int) -> tuple[str, ...]:
    """The houses of a chain from the highest number down, so that a link runs `8 to 7`."""
    return tuple(str(number) for number in range(houses, 0, -1))


def sixty_letters(houses: int) -> tuple[str, ...]:
    """As many names of some sixty letters; no two are alike, and many begin alike."""
    return tuple(f"{_ROOMS[k % 3]} {_WAYS[k // 3 % 3]} Gate, {k + 1}" for k in range(houses))


def larkspur(motors_at: datetime) -> str:
    """The nine houses of the demonstration, with their mixture of contacts and taps."""
    return re.sub("motors_at = .*", f"motors_at = {motors_at:%Y-%m-%dT%H:%M:%SZ}", LARKSPUR.read_text(encoding="utf-8"))


def chain(motors_at: datetime, houses: Sequence[str], title: str = "", timezone: str = "") -> str:
    """The print of the demonstration through these houses, in this order, everything of them on contacts."""
    head, *_ = larkspur(motors_at).partition("[[stations]]")
    if timezone:
        head = re.sub('timezone = ".*"', f'timezone = "{timezone}"', head, count=1)
    if title:
        head = re.sub('title = ".*"', f'title = "{title}"', head, count=1)
    return head + "".join(_station(k, house) for k, house in enumerate(houses))


def moment(after_s: float) -> datetime:
    """When motors started that have run for `after_s` now, to the whole second."""
    return (datetime.now(UTC) - timedelta(seconds=after_s)).replace(microsecond=0)


def _station(k: int, house: str) -> str:
    path = f"path_ft = {40 + 17 * (k % 4)}\nrollers = {6 + k % 3}\n" if k else ""
    return f'[[stations]]\nid = "s{k}"\nhouse = "{house}"\nbooth = "{_booth(k)}"\n{path}inputs = {{ {_CONTACTS} }}\n\n'


def _booth(k: int) -> str:
    return ("North", "Centre", "South")[k // 3 % 3]
