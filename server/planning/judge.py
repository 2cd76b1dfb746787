"""Whether a chain can work: everything that can go wrong with a plan, with its cause and what mends it."""

from collections.abc import Iterator
from typing import NamedTuple

from server.planning.crew import CrewPlan, crew_findings, crew_plan
from server.planning.duties import duties_of
from server.planning.findings import Finding, gravest_first, span_text
from server.planning.lacing import Lacing, lacing_findings, lacing_of
from server.planning.life import Life, drift_of, lives_of
from server.planning.remedies import warning_findings
from server.planning.rolls import deck_findings
from server.planning.routes import route_findings
from server.planning.site_model import Site
from server.planning.timeliness import BestStart, best_start, heads_of, time_findings
from server.timeline.naming import house_of, link_of
from server.timeline.plan import Plan
from server.timeline.schedule import schedule_from_plan

__all__ = ["Finding", "Judgement", "judge", "judgement_of"]

LIKELY = 0.5
"""A reserve that is as likely spent as not before the print is out cannot be planned with. Chosen."""
DOUBTFUL = 0.05
"""One that is spent in one show of twenty is worth looking at. Chosen."""


class Judgement(NamedTuple):
    """What a plan was found to be; `best` is None where nothing is advertised."""

    findings: tuple[Finding, ...]
    best: BestStart | None
    crew: CrewPlan
    lives: tuple[Life, ...]
    lacing: Lacing


def judge(plan: Plan, site: Site | None) -> tuple[Finding, ...]:
    """Return everything that is wrong with a plan or worth knowing of it, the gravest first."""
    return judgement_of(plan, site).findings


def judgement_of(plan: Plan, site: Site | None, crew: int | None = None) -> Judgement:
    """Judge a plan, for a crew of so many people where that is given, with what the findings were read off."""
    schedule = schedule_from_plan(plan)
    people, lives = crew_plan(duties_of(plan, schedule), site, crew), lives_of(plan)
    lacing = lacing_of(plan, site, crew)
    findings = [
        *time_findings(plan, schedule),
        *warning_findings(plan, schedule),
        *deck_findings(plan, site, lacing.chain_ft),
        *_life_findings(plan, lives),
        *route_findings(plan, site),
        *lacing_findings(lacing),
        *crew_findings(plan, people, crew),
        *_same_names(plan),
        *_unknown_houses(plan, site),
    ]
    return Judgement(gravest_first(findings), best_start(heads_of(plan, schedule)), people, lives, lacing)


def _life_findings(plan: Plan, lives: tuple[Life, ...]) -> Iterator[Finding]:
    for life in lives:
        if life.spent_before_out < DOUBTFUL or drift_of(plan, life.link).start_s > life.reserve_s:
            continue  # of a reserve that the planned start alone spends it is said already
        ends = (plan.stations[life.link].id, plan.stations[life.link + 1].id)
        text = (
            f"{link_of(plan, life.link)}: in {life.spent_before_out * 100:.0f} % of shows "
            f"the reserve of {life.reserve_s:g} s is spent before the print is out{_how_soon(life)}."
        )
        yield Finding(
            "reserve_short_lived",
            "fault" if life.spent_before_out >= LIKELY else "warning",
            link_of(plan, life.link),
            ends,
            text,
            _why_spent(plan, life),
            "Match the two motors, start them by one button, or give the link a larger reserve. "
            "Where runs say what these motors do (festoon learn), write that.",
        )


def _how_soon(life: Life) -> str:
    """By when, of the two times that are told, as far as they are within the show."""
    told = [(share, after_s) for share, after_s in (("5 %", life.spent_p05_s), ("half", life.spent_p50_s)) if after_s]
    within = [f"in {share} within {span_text(after_s)}" for share, after_s in told if after_s <= life.runs_s]
    return f": {', '.join(within)}" if within else ""


def _why_spent(plan: Plan, life: Life) -> str:
    timing = plan.timing
    return (
        f"Each motor may differ by {timing.rate_tolerance_ppm:g} ppm and start {timing.start_spread_s:g} s off "
        f"(one standard deviation), and the print runs {span_text(life.runs_s)}."
    )


def _same_names(plan: Plan) -> Iterator[Finding]:
    """Machines that people call by one name."""
    named: dict[str, list[int]] = {}
    for k, station in enumerate(plan.stations):
        named.setdefault(station.house.casefold(), []).append(k)
    for twice in named.values():
        if len(twice) > 1:
            yield Finding(
                "house_twice",
                "warning",
                house_of(plan, twice[0]),
                tuple(plan.stations[k].id for k in twice),
                f"{len(twice)} machines of the chain are called {house_of(plan, twice[0])}.",
                "Sheets, taps and the lobby go by the name: nobody can tell which is meant.",
                "Give each a name of its own.",
            )


def _unknown_houses(plan: Plan, site: Site | None) -> Iterator[Finding]:
    """Houses that the site file does not have: nothing of it holds for them."""
    if site is None:
        return
    for k, station in enumerate(plan.stations):
        if station.house not in site.by_house:
            yield Finding(
                "house_not_in_site",
                "warning",
                house_of(plan, k),
                (station.id,),
                f"{house_of(plan, k)}: the site file has no such house.",
                "Nothing is known of its deck, its paths and its booth but what the plan says.",
                "Correct the house's name in the plan, or add it to the site file.",
            )
