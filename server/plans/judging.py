"""What the plan desk is told of a plan that can be read: the judge's findings, and what must be threaded by when."""

from typing import NamedTuple

from server.planning.crew import CrewPlan
from server.planning.findings import Finding, gravest_first
from server.planning.judge import judgement_of
from server.planning.lacing import Lacing
from server.planning.remedies import warning_findings
from server.planning.site_model import Site
from server.planning.timeliness import time_findings
from server.plans.wording import for_desk
from server.timeline.plan import Plan
from server.timeline.schedule import Schedule


class Judged(NamedTuple):
    """The findings, the gravest first; `lacing` is None while a path is missing, `crew` also where it was not asked."""

    findings: tuple[Finding, ...]
    lacing: Lacing | None
    crew: CrewPlan | None = None


def judged(plan: Plan, schedule: Schedule, site: Site | None = None, crew: int | None = None) -> Judged:
    """Judge a plan for the desk, at every key that is pressed: by its site and for a crew of so many, if known.

    While a path is missing, who must be where by when is not asked. With none all houses are due at once, which means
    nothing. It takes seconds to find a crew for (2 s of a processor for thirty houses, measured).
    """
    if all(link.path_m for link in plan.links):
        judgement = judgement_of(plan, site, crew)
        people = None if crew is None else judgement.crew
        return Judged(tuple(map(for_desk, judgement.findings)), judgement.lacing, people)
    findings = gravest_first([*time_findings(plan, schedule), *warning_findings(plan, schedule)])
    return Judged(tuple(map(for_desk, findings)), None)
