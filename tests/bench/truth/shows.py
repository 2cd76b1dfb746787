"""Which shows are simulated: three ways of being wired, every scenario of the drill, and motors that run off."""

from collections.abc import Sequence
from itertools import islice
from typing import NamedTuple

from adapters.drill import CATALOGUE, Scenario, scenario_for
from adapters.drill.chance import Chance
from adapters.drill.scenario import RateFault
from server.timeline.plan import Plan, parse_plan

# Motors, lamps, dousers, cues. `hands`: nobody but people tells of anything.
WIRED = {
    "contacts": ("contact", "contact", "contact", "contact"),
    "taps": ("contact", "contact", "tap", "tap"),
    "hands": ("tap", "tap", "tap", "tap"),
}
PATHS_FT = (0, 44, 52, 212, 61, 48.5, 258, 66, 54)
RUNS_OFF = "runs_off"
# In these the motors do as the plan says, give or take its tolerances: what is not known is known to be so.
ORDINARY = (
    "clean",
    "careless",
    "reading",
    "wrong_taps",
    "missing_inputs",
    "stop_and_restart",
    "hard_lamp",
    "no_failsafe",
    "short_tail",
    "long_tail",
    "stop_with_light",
    "foil_missing",
)
# The motors do so too, but the film is not as planned.
PRINT_OFF = "print_off"
# One thing goes wrong.
SINGLE = (
    RUNS_OFF,
    "trip",
    "tight_link",
    "short_reserve",
    "speed_change",
    "mains_change",
    "film_jump",
    "late_motor",
    "stuck_motor",
    "motor_lost",
    "late_strike",
    "early_strike",
    "lamp_out",
    "short_tail",
    "long_tail",
    "stop_with_light",
    "stop_group",
    "slow_crew",
    "foil_missing",
)
# Only there are motors wired to stop together: those of the middle booth.
GROUPED = "stop_group"
# chosen: ten to ninety minutes, from a failing motor to one that is hardly off
_SPENT_IN_S = (600.0, 5400.0)


class Show(NamedTuple):
    """One simulated show: how the chain is wired, what goes wrong, and the seed of all its chance."""

    wired: str
    scenario: str
    seed: int


def plan_of(wired: str, *, grouped: bool = False, paths_ft: Sequence[float] = PATHS_FT) -> Plan:
    """Nine stations; three trailers and two hours in reels of ten minutes, with a cue at the head of each.

    `grouped`: the three motors of the middle booth are wired to stop together.
    """
    motor, lamp, douser, cue = WIRED[wired]
    inputs = f'{{ motor = "{motor}", lamp = "{lamp}", douser = "{douser}", cue = "{cue}" }}'
    trailers = "".join(_segment(f"t{n}", "trailer", length) for n, length in enumerate(("2:20", "1:45", "2:30")))
    reels = "".join(_segment(f"r{n}", "feature", "10:00") for n in range(12))
    stations = "".join(
        f'[[stations]]\nid = "s{k}"\nhouse = "{k + 1}"\nbooth = "{("North", "Centre", "South")[k // 3]}"\n'
        f"path_ft = {path_ft}\ninputs = {inputs}\n"
        for k, path_ft in enumerate(paths_ft)
    )
    text = (
        'format = "festoon-plan/1"\ntitle = "Bench"\n[timing]\nmotors_at = 2026-03-14T18:50:00-05:00\n'
        '[[print]]\nid = "leader"\nkind = "leader"\nfeet = 90\n'
        f'{trailers}{reels}[[print]]\nid = "tail"\nkind = "tail"\nfeet = 300\n{stations}'
        f"{_GROUP if grouped else ''}"
    )
    return parse_plan(text, wired)


_GROUP = '[[stop_groups]]\nstations = ["s3", "s4", "s5"]\n'


def _segment(id_: str, kind: str, duration: str) -> str:
    return f'[[print]]\nid = "{id_}"\nkind = "{kind}"\nduration = "{duration}"\ncue = true\n'


def scenario_of(show: Show, plan: Plan) -> Scenario:
    """What goes wrong in a show."""
    if show.scenario != RUNS_OFF:
        return scenario_for(show.scenario, plan, show.seed)
    rng = Chance(show.seed).stream("scenario", RUNS_OFF)
    station = plan.stations[int(rng.integers(len(plan.stations)))].id
    at_s = float(rng.uniform(0.05, 0.6)) * plan.print_s
    ppm = float(rng.choice((-1.0, 1.0))) * plan.timing.reserve_s / float(rng.uniform(*_SPENT_IN_S)) * 1e6
    return Scenario(RUNS_OFF, "One motor runs off.", (RateFault(station, at_s, ppm),))


def shows_of(number: int, seed: int) -> list[Show]:
    """So many shows: a third clean, a third with a motor that runs off, the rest one of each scenario in turn."""
    others = [name for name in CATALOGUE if name != "clean"]
    found: list[Show] = []
    for n in range(number):
        name = ("clean", RUNS_OFF, others[n // 3 // len(WIRED) % len(others)])[n % 3]
        wired = list(WIRED)[n // 3 % len(WIRED)]
        found.append(Show(wired, name, seed + n))
    return list(islice(found, number))
