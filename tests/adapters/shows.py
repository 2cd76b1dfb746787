"""Plans, clocks and posts that the tests of the adapters share."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

from server.timeline.events import Event
from server.timeline.plan import Plan, parse_plan

LARKSPUR = Path(__file__).parents[2] / "fixtures/plans/larkspur.plan.toml"
ZERO = datetime(2026, 3, 14, 23, 50, tzinfo=UTC)


def larkspur() -> Plan:
    return parse_plan(LARKSPUR.read_text(encoding="utf-8"), LARKSPUR.name)


def chain_plan(
    stations: int = 3,
    *,
    minutes: int = 60,
    timing: str = "",
    inputs: Sequence[str] = (),
    path_ft: float = 100.0,
    longer_ft: Sequence[float] = (),
) -> Plan:
    """A chain `s0`, `s1` … on a print with a cue every ten minutes; `inputs`: motor, lamp, douser, cue of each.

    Paths are of `path_ft`, and the first ones longer by `longer_ft`.
    """
    given = dict(zip(("motor", "lamp", "douser", "cue"), inputs or ["contact"] * 4, strict=True))
    as_toml = ", ".join(f'{key} = "{value}"' for key, value in given.items())
    reels = "".join(
        f'[[print]]\nid = "r{n}"\nkind = "feature"\nduration = "{late - early}:00"\ncue = true\n'
        for n, (early, late) in enumerate(pairwise([*range(0, minutes, 10), minutes]))
    )
    paths_ft = [0.0, *(path_ft + more for more in longer_ft), *[path_ft] * stations]
    houses = "".join(
        f'[[stations]]\nid = "s{k}"\nhouse = "{k}"\nbooth = "North"\npath_ft = {paths_ft[k]}\ninputs = {{{as_toml}}}\n'
        for k in range(stations)
    )
    text = f"""
format = "festoon-plan/1"
title = "A chain"
[timing]
motors_at = {ZERO.isoformat()}
{timing}
[[print]]
id = "leader"
kind = "leader"
feet = 60
{reels}
[[print]]
id = "tail"
kind = "tail"
feet = 150
{houses}"""
    return parse_plan(text, "chain.plan.toml")


class ManualClock:
    """A run's clock that stands until it is moved; `sleep` moves it at once, by real seconds at its rate."""

    def __init__(self, now: datetime = ZERO, rate: float = 1.0) -> None:
        self._now = now
        self.rate = rate
        self.slept_s: list[float] = []

    def now(self) -> datetime:
        return self._now

    def now_us(self, zero: datetime) -> int:
        return (self._now - zero) // timedelta(microseconds=1)

    def seconds_until(self, at_us: int, zero: datetime) -> float:
        return (at_us - self.now_us(zero)) / 1e6 / self.rate

    async def sleep(self, seconds: float) -> None:
        self.slept_s.append(seconds)
        self._now += timedelta(seconds=seconds * self.rate)

    def move(self, now: datetime) -> None:
        self._now = now


class Posts:
    """Takes every event, but refuses the ids in `refuse`; keeps when each came."""

    def __init__(self, clock: ManualClock, refuse: Sequence[str] = ()) -> None:
        self._clock = clock
        self._refuse = refuse
        self.taken: list[tuple[datetime, Event]] = []

    async def __call__(self, event: Event) -> str | None:
        if event.id in self._refuse:
            return "not wanted"
        self.taken.append((self._clock.now(), event))
        return None

    @property
    def ids(self) -> list[str]:
        return [event.id for _, event in self.taken]

    @property
    def told(self) -> list[tuple[str, str | None]]:
        return [(event.kind, event.text) for _, event in self.taken]


async def up() -> None:
    """A feed that is up tells nobody."""
