"""Lacing a chain: its leader and stretches, the steps in the order they are done, how long and from when.

Stretches are laced from the last house back, then the machines from the last to the first. So leader is pulled toward
where it is wanted, and nobody laces a machine twice.
"""

from collections.abc import Iterator
from math import ceil
from typing import Final, NamedTuple

from server.planning.findings import Finding
from server.planning.leader import Part, Pull, leader_parts, past_first_gate_ft, pulls_of
from server.planning.loops import sag_from_length
from server.planning.pull import ASSUMED, MOST_N, Effort
from server.planning.site_model import Site
from server.planning.workers import Work, begun
from server.timeline.naming import house_of
from server.timeline.plan import Plan, ThreadingRules

CREW: Final = 2  # chosen: who threads, where nobody says how many
READY_MIN: Final = 15.0  # chosen: for the roll call, lamps and a last look, before the motors start

# Minutes of one person at the usual pace; the plan's minutes_per_station over its default is this crew's pace. All
# chosen, so that the sixteen houses that common practice tells of (45 minutes, no source) come out with two people.
FOOT_MIN: Final = 0.012  # leader walked along its path
ROLLER_MIN: Final = 0.10  # film onto a roller
DOORWAY_MIN: Final = 0.5  # film over a doorway
SPLICE_MIN: Final = 1.5
TAKE_UP_MIN: Final = 1.0
MACHINE_MIN: Final = 2.0
CHECK_FOOT_MIN: Final = 0.006  # the whole chain looked at once more, per foot

HANDS: Final[dict[Effort, int]] = {"easy": 1, "hard": 2, "too hard for one pair of hands": 3}
"""How many people a pull takes: one more feeds where it is hard, and one more half way where it is too hard. Chosen."""

PLATFORM: Final = "Rollers at height only from a proper platform, never by leaning out."
WAY_OUT: Final = "Film must not cross or narrow a way out: ask the local fire authority."
NO_MOTOR: Final = "Nobody starts a motor while hands are in a machine or on a roller."
_REACH_M: Final = 2.0  # chosen: over it a roller is out of reach


class LacingStep(NamedTuple):
    """One step, to be ticked off: how long it takes, and of whom, by whom it is done and when it begins.

    `begins_min` counts from the beginning of the lacing; `people` are how many do it. `caution` is None where the step
    has none of its own.
    """

    number: int
    what: str
    where: str
    minutes: float
    caution: str | None
    people: int
    begins_min: float


class Lacing(NamedTuple):
    """What it takes to lace a chain; times are seconds after `motors_at`, feet are tape-measure feet.

    `leader_ft` is all of `parts`; `chain_ft` what lies past the first gate. `begin_s` is when a crew of `crew` begins,
    so as to be ready at `ready_s`. `stretches` are in film order.
    """

    leader_ft: float
    chain_ft: float
    parts: tuple[Part, ...]
    stretches: tuple[Pull, ...]
    crew: int
    minutes: float
    begin_s: float
    ready_s: float
    steps: tuple[LacingStep, ...]
    assumed: tuple[str, ...]

    @property
    def whole_minutes(self) -> int:
        """The minutes as they are told to people: rounded up, as the desk rounds them."""
        return ceil(self.minutes)


def lacing_of(plan: Plan, site: Site | None, crew: int | None = None) -> Lacing:
    """Work out the lacing of a chain by so many people, or by two where nobody says how many.

    Where the plan's `[threading]` is all the format's defaults, the site's holds.
    """
    people = crew or CREW
    if site is not None and plan.threading == ThreadingRules():
        plan = plan.model_copy(update={"threading": site.threading})
    parts, stretches = leader_parts(plan, site), pulls_of(plan, site)
    steps = _steps(plan, site, stretches, people)
    minutes = max(step.begins_min + step.minutes for step in steps)
    ready_s = -READY_MIN * 60.0
    return Lacing(
        leader_ft=sum(part.feet for part in parts),
        chain_ft=past_first_gate_ft(plan, site),
        parts=parts,
        stretches=stretches,
        crew=people,
        minutes=minutes,
        begin_s=ready_s - minutes * 60.0,
        ready_s=ready_s,
        steps=steps,
        assumed=(*ASSUMED, _pace_said(plan)),
    )


def _pace(plan: Plan) -> float:
    return plan.threading.minutes_per_station / ThreadingRules().minutes_per_station


def _pace_said(plan: Plan) -> str:
    return (
        f"Minutes: {FOOT_MIN * 60:.1f} s a foot, {ROLLER_MIN * 60:.0f} s a roller, {MACHINE_MIN:g} minutes a machine "
        f"for one person (chosen), times {_pace(plan):.2f}, the plan's own pace."
    )


def _steps(plan: Plan, site: Site | None, stretches: tuple[Pull, ...], crew: int) -> tuple[LacingStep, ...]:
    phases = [
        list(_stretch_work(stretches, crew)),
        list(_machine_work(plan, site, stretches)),
        list(_last_work(plan, crew)),
    ]
    steps: list[LacingStep] = []
    from_min = 0.0
    for phase in phases:
        pace = _pace(plan)
        works = [work._replace(minutes=work.minutes * pace) for work in phase]
        for work, at_min in zip(works, begun(works, crew, from_min), strict=True):
            minutes = work.minutes / work.people
            steps.append(LacingStep(len(steps) + 1, work.what, work.where, minutes, work.caution, work.people, at_min))
        from_min = max((step.begins_min + step.minutes for step in steps), default=0.0)
    return tuple(steps)


def _stretch_work(stretches: tuple[Pull, ...], crew: int) -> Iterator[Work]:
    """The stretches, from the last house back, each by a pair where there is one."""
    for pull in reversed(stretches):
        people = min(crew, max(2, HANDS[pull.effort]))
        minutes = FOOT_MIN * pull.path_ft + ROLLER_MIN * pull.rollers + DOORWAY_MIN * pull.doorways
        what = f"Lace {pull.path_ft:.0f} ft of leader over {pull.rollers} rollers ({pull.effort}: {pull.pull_n:.0f} N)"
        yield Work(what, f"House {pull.from_house} to {pull.to_house}", minutes, people, _stretch_caution(pull, people))


def _stretch_caution(pull: Pull, people: int) -> str | None:
    parts = []
    if HANDS[pull.effort] > people:
        parts.append(f"Too few hands: it takes {HANDS[pull.effort]}. Never pull it through by a motor.")
    elif pull.effort == "too hard for one pair of hands":
        parts.append("One pulls, one helps it half way, one feeds. Never pull it through by a motor.")
    if pull.height_m is None or pull.height_m > _REACH_M:
        parts.append(PLATFORM)
    if pull.doorways:
        parts.append(WAY_OUT)
    return " ".join(parts) or None


def _machine_work(plan: Plan, site: Site | None, stretches: tuple[Pull, ...]) -> Iterator[Work]:
    """The take-up, the splices between stretches, then the machines, all from the last house back."""
    last = len(plan.stations) - 1
    yield Work("Wind the leader's end onto the take-up's core", house_of(plan, last), TAKE_UP_MIN, 1, None)
    for pull in reversed(stretches[1:]):
        what = "Splice the two stretches, both sides taped, and pull at it to try it"
        yield Work(what, f"House {pull.from_house}", SPLICE_MIN, 1, None)
    for k in range(last, -1, -1):
        yield Work(_machine(plan, site, k), house_of(plan, k), MACHINE_MIN, 1, NO_MOTOR)


def _machine(plan: Plan, site: Site | None, k: int) -> str:
    """What is to be done at a machine, with how far the loop that feeds it hangs, where it was measured."""
    path = None if site is None or not k else site.path(plan.stations[k - 1].house, plan.stations[k].house)
    if path is None or path.loop_span_m is None:
        return "Lace the machine and arm its failsafe"
    reserve_m = plan.film.m_from_s(plan.stations[k].reserve_s)
    sag_m = sag_from_length(path.loop_span_m, path.loop_span_m + reserve_m)
    return f"Lace the machine, let the loop before it hang {sag_m:.2f} m at rest, and arm its failsafe"


def _last_work(plan: Plan, crew: int) -> Iterator[Work]:
    first = house_of(plan, 0)
    yield Work(
        "Splice the print's head leader to the chain's, and put its first frame in the gate", first, SPLICE_MIN, 1, None
    )
    yield Work("Tape mark on the film in the gate: every time counts from there", first, SPLICE_MIN / 3.0, 1, None)
    path_ft = sum(link.path_m for link in plan.links) / 0.3048
    yield Work(
        "Walk the whole chain: every splice, every roller, loops at rest, tape marks seen",
        "the chain",
        CHECK_FOOT_MIN * path_ft,
        crew,
        WAY_OUT,
    )


def lacing_findings(lacing: Lacing) -> Iterator[Finding]:
    """Say which single path nobody pulls leader through alone."""
    for pull in lacing.stretches:
        if pull.pull_n <= MOST_N:
            continue
        yield Finding(
            "pull_too_hard",
            "warning",
            f"House {pull.from_house} to {pull.to_house}",
            (pull.first, pull.last),
            f"House {pull.from_house} to {pull.to_house}: leader pulls with {pull.pull_n:.0f} N at its free end, "
            f"too hard for one pair of hands.",
            f"{pull.rollers} rollers and {pull.turns_deg:.0f} degrees over fixed guides each add to the pull.",
            "Put rollers in place of fixed guides, or lace it in two pieces with a helper half way.",
        )
