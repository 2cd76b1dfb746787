"""What the sheets of one show are made of."""

from typing import NamedTuple

from server.planning.findings import Finding
from server.planning.judge import Judgement
from server.planning.next_show import NextShow
from server.timeline.plan import Plan
from server.timeline.schedule import Schedule


class Show(NamedTuple):
    """One plan and all that follows from it.

    `between` is what was found between the shows of a night; `crew` how many people were asked about, None where
    nobody said.
    """

    plan: Plan
    schedule: Schedule
    judgement: Judgement
    after: NextShow
    between: tuple[Finding, ...] = ()
    crew: int | None = None
