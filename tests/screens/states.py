"""Every state in which a desk is looked at: a plan, how far its show has come, and what went wrong in it.

The events until then are those of a rehearsal with a full crew, so that a state is what a show comes to, and no picture
that somebody made up.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final, TypeAlias

from adapters.drill.rehearsal import Rehearsal
from adapters.drill.scenario import (
    ChainStop,
    Crew,
    Fault,
    LampOut,
    LateStrike,
    Nature,
    NoFireDouser,
    RateFault,
    Scenario,
)
from server.timeline.events import Event, event_from_json
from server.timeline.plan import Plan
from tests.screens.plans import LONG_HOUSES, LONG_TITLE, chain, larkspur, moment, numbered, sixty_letters

Text: TypeAlias = Callable[[datetime], str]

MID_SHOW_S: Final = 3000.0
_QUIET = Nature(rate=0.2, line=0.2, walk=0.2, start=0.3, tail=0.2)
_CREW = Crew(missed=0.0, strike_fails=0.0, reads_every_s=600.0)


@dataclass(frozen=True)
class Shelved:
    """An alarm that somebody has set aside for half an hour, a minute ago."""

    key: str


@dataclass(frozen=True)
class Show:
    """One run of a state: `after_s` is how long ago its motors started."""

    after_s: float
    faults: tuple[Fault, ...] = ()
    text: Text = larkspur
    said: tuple[Shelved, ...] = ()


@dataclass(frozen=True)
class State:
    """What is served, none for an empty evening, and whether the server goes once the desks have seen it."""

    shows: tuple[Show, ...]
    gone: bool = False
    title: str = "The Cartographer's Daughter"


def _of(houses: int) -> Text:
    return lambda motors_at: chain(motors_at, numbered(houses))


def _long(motors_at: datetime) -> str:
    return chain(motors_at, LONG_HOUSES, LONG_TITLE)


def _sixty(motors_at: datetime) -> str:
    return chain(motors_at, sixty_letters(30), LONG_TITLE)


def _elsewhere(motors_at: datetime) -> str:
    return chain(motors_at, numbered(4), "Two by Lantern Light", "America/New_York")


_OUT = tuple(LampOut(station, MID_SHOW_S - 60.0) for station in ("h3", "h1", "h2", "h5", "h9"))
_TIGHT = RateFault("h7", 1200.0, 780.0)
_TIGHT_SIXTY = RateFault("s9", 1200.0, 780.0)
_BACK = (RateFault("h7", 1200.0, 780.0, 3000.0), RateFault("h7", 3000.0, -920.0, 6000.0))

STATES: Final[dict[str, State]] = {
    "half_a_day": State((Show(-11.99 * 3600),)),
    "two_minutes": State((Show(-120.0),)),
    "first_trailers": State((Show(140.0),)),
    "mid_show": State((Show(MID_SHOW_S),)),
    "one_act": State((Show(MID_SHOW_S, _OUT[:1]),)),
    "five_acts": State((Show(MID_SHOW_S, (*_OUT, _TIGHT)),)),
    "tight": State((Show(MID_SHOW_S, (_TIGHT,)),)),
    "recovering": State((Show(4000.0, _BACK),)),
    "missed_strike": State((Show(172.0, (LateStrike("h2", 120.0),)),)),
    "shelved": State((Show(MID_SHOW_S, (_TIGHT,), said=(Shelved("slack_tight:h8>h7"),)),)),
    "stopped": State((Show(MID_SHOW_S, (ChainStop(MID_SHOW_S - 90.0),)),)),
    "in_the_light": State((Show(MID_SHOW_S, (ChainStop(MID_SHOW_S - 5.0), NoFireDouser())),)),
    "restarted": State((Show(MID_SHOW_S, (ChainStop(MID_SHOW_S - 400.0, 300.0),)),)),
    "tail": State((Show(7240.0),)),
    "over": State((Show(9000.0),)),
    "server_gone": State((Show(MID_SHOW_S),), gone=True),
    "two_runs": State((Show(MID_SHOW_S), Show(-120.0, text=_of(4)))),
    "none": State(()),
    "houses_2": State((Show(MID_SHOW_S, text=_of(2)),)),
    "houses_9": State((Show(MID_SHOW_S, text=_of(9)),)),
    "houses_16": State((Show(MID_SHOW_S, text=_of(16)),)),
    "houses_30": State((Show(MID_SHOW_S, text=_of(30)),)),
    "thirty_in_trouble": State(
        (Show(MID_SHOW_S, tuple(LampOut(f"s{k}", MID_SHOW_S - 60.0) for k in range(0, 30, 3)), _of(30)),)
    ),
    "long_names": State((Show(MID_SHOW_S, (LampOut("s1", MID_SHOW_S - 60.0),), _long),)),
    "thirty_long": State((Show(MID_SHOW_S, text=_sixty),), title=LONG_TITLE),
    "thirty_long_in_trouble": State(
        (Show(MID_SHOW_S, (*(LampOut(f"s{k}", MID_SHOW_S - 60.0) for k in range(0, 30, 3)), _TIGHT_SIXTY), _sixty),),
        title=LONG_TITLE,
    ),
    "thirty_long_stopped": State((Show(MID_SHOW_S, (ChainStop(MID_SHOW_S - 90.0),), _sixty),), title=LONG_TITLE),
    "thirty_long_before": State((Show(-120.0, text=_sixty),), title=LONG_TITLE),
    "two_clocks": State((Show(MID_SHOW_S), Show(2000.0, text=_elsewhere))),
}
"""Every state, by the name that the command takes."""


def plan_text(show: Show) -> str:
    """The plan of a show, with its motors as long ago as it says."""
    return show.text(moment(show.after_s))


def events_of(show: Show, plan: Plan) -> list[Event]:
    """What was written down of a show until now, by time."""
    scenario = Scenario("screen", "A state to look at.", show.faults, nature=_QUIET, crew=_CREW)
    past = Rehearsal(plan, scenario, 7, "all", show.after_s).past
    return [*(event for event in past if event.kind != "note"), *_said(show, plan)]


def _said(show: Show, plan: Plan) -> Iterator[Event]:
    at = plan.zero + timedelta(seconds=show.after_s - 60.0)
    for number, shelved in enumerate(show.said):
        told = {"id": f"said {number}", "t": at.isoformat(), "kind": "shelve", "source": "tap"}
        yield event_from_json(told | {"alarm": shelved.key, "seconds": 1800.0, "by": "Ines"})
