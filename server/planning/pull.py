"""How hard leader is to pull through a path: the drag of free rollers, and of what does not turn.

Each free roller multiplies the pull by a little, which is its bearing. Film over a fixed guide multiplies it by the
capstan law, exp(mu theta) (Euler-Eytelwein). What hangs of the film's own weight is left out.
"""

import math
from typing import Final, Literal

from server.timeline.threading import ROLLER_LOSS, pull_left

Effort = Literal["easy", "hard", "too hard for one pair of hands"]

ROLLER_DRAG: Final = max(ROLLER_LOSS)  # of the pull, at each free roller: the worst of 0.5 to 2 %, from memory
GUIDE_FRICTION: Final = 0.3  # of film on a fixed guide: from memory
REEL_N: Final = 3.0  # with which a reel of leader that turns freely holds back: chosen
EASY_N: Final = 15.0  # what two fingers pull for a quarter of an hour: chosen
MOST_N: Final = 40.0  # past which one person pulls in jerks, and rollers are bent, not film: chosen

ASSUMED: Final = (
    f"Pull: the reel holds back {REEL_N:g} N, each free roller takes {ROLLER_DRAG * 100:g} % (from memory).",
    f"Film over fixed guides: friction {GUIDE_FRICTION:g} (from memory) and the turns of the site file.",
    f"Easy is up to {EASY_N:g} N, hard up to {MOST_N:g} N (both chosen).",
)
"""What the pulls are worked out with, for whoever reads them."""


def over_fixed_guides(turns_deg: float, friction: float = GUIDE_FRICTION) -> float:
    """Return how many times the pull grows over fixed guides that turn the film by so much, all together."""
    return math.exp(friction * math.radians(turns_deg))


def pull_n(rollers: int, turns_deg: float) -> float:
    """Return the pull at the free end, in newtons, past so many free rollers and fixed turns."""
    return REEL_N / pull_left(rollers, ROLLER_DRAG) * over_fixed_guides(turns_deg)


def effort_of(pull: float) -> Effort:
    """Return what that many newtons are to a person who pulls leader hand over hand."""
    if pull <= EASY_N:
        return "easy"
    return "hard" if pull <= MOST_N else "too hard for one pair of hands"
