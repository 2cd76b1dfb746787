"""What the plan desk is told of a plan that can be read: the judge's findings, and what must be threaded by when."""

from typing import NamedTuple

from server.planning.findings import Finding, gravest_first
from server.planning.judge import judgement_of
from server.planning.lacing import Lacing
from server.planning.remedies import warning_findings
from server.planning.timeliness import time_findings
from server.timeline.plan import Plan
from server.timeline.schedule import Schedule


class Judged(NamedTuple):
    """The findings, the gravest first; `lacing` is None while a path is missing."""

    findings: tuple[Finding, ...]
    lacing: Lacing | None


def judged(plan: Plan, schedule: Schedule) -> Judged:
    """Judge a plan for the desk, at every key that is pressed.

    While a path is missing, who must be where by when is not asked: with none all houses are due at once, which means
    nothing, and takes seconds to find a crew for (2 s of a processor for thirty houses, measured).
    """
    if all(link.path_m for link in plan.links):
        judgement = judgement_of(plan, None)
        return Judged(judgement.findings, judgement.lacing)
    return Judged(gravest_first([*time_findings(plan, schedule), *warning_findings(plan, schedule)]), None)
