"""A drill as somebody wants it, and how it went."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from adapters.drill.catalogue import CATALOGUE, scenario_for
from adapters.drill.duties import CrewKind, Duties
from adapters.drill.feed import RehearsalFeed
from adapters.drill.rehearsal import Rehearsal, surprise
from adapters.drill.review import review_of
from adapters.drill.review_words import ReviewInWords, Told, json_of, review_in_words
from adapters.drill.scenario import Scenario
from server.plan_runs import PlanFile
from server.review.account import Stored, account_from_log
from server.review.alarm_spans import AlarmSpan
from server.review.walk import Walk
from server.timeline.alarm_kinds import ALARM_KINDS
from server.timeline.estimate import US_PER_S
from server.timeline.plan import Plan

DRILLS = {name: entry.text for name, entry in CATALOGUE.items()}
"""What can go wrong in a drill: a sentence for each name."""


class NoSuchDrill(Exception):
    """A drill that cannot be had, in one sentence."""


class DrillAsked(NamedTuple):
    """A drill as somebody wants it: `plan` None for the demonstration's, `fault` one of DRILLS, None for a surprise.

    Something goes wrong within `within_s` of the show's time; it is more than a minute.
    """

    plan: PlanFile | None
    fault: str | None
    crew: CrewKind
    seed: int
    rate: float
    within_s: float


class Reviewed(NamedTuple):
    """How a drill went: for whoever took part, and as a document."""

    title: str
    account: ReviewInWords
    document: dict[str, object]


def scenario_of(asked: DrillAsked, plan: Plan) -> Scenario:
    """What goes wrong in a drill of a plan. Raises NoSuchDrill."""
    if asked.fault is None:
        scenario = surprise(plan, asked.seed, asked.crew)
    elif asked.fault in CATALOGUE:
        scenario = scenario_for(asked.fault, plan, asked.seed)
    else:
        raise NoSuchDrill(f"--fault: found {asked.fault!r}; accepted {', '.join(CATALOGUE)}")
    if scenario.faults and not Duties(plan, asked.crew).comes_about(scenario):
        raise NoSuchDrill(
            f"--fault {asked.fault}: here the simulated crew errs, and with --crew {asked.crew} its work is yours; "
            "accepted with --crew all"
        )
    return scenario


def reviewed(rehearsal: Rehearsal, feed: RehearsalFeed, plan: Plan, stored: Iterable[Stored], rate: float) -> Reviewed:
    """How a rehearsal went, of the events that its log has."""
    review = review_of(rehearsal, list(feed.reported.values()))
    account = account_from_log(plan, stored, round(review.ended_s * US_PER_S))
    came_us = round(review.start_s * US_PER_S)
    spans = [span for span in Walk(account, "then").spans if span.over_us is None or span.over_us > came_us]
    told = _told(spans)
    return Reviewed(
        f"How it went. The drill was {review.name}: {review.text}",
        review_in_words(review, told, plan, rate),
        json_of(review, told),
    )


def _told(spans: Sequence[AlarmSpan]) -> list[Told]:
    """The alarms that people were told of by themselves; those of a kind of their own call whatever they are under."""
    return [_told_of(span, span.alone_us) for span in spans if span.alone_us is not None]


def _told_of(span: AlarmSpan, alone_us: int) -> Told:
    seen_s, over_s = (None if at_us is None else at_us / US_PER_S for at_us in (span.seen_us, span.over_us))
    own = ALARM_KINDS[span.kind].own
    return Told(span.level, span.text, span.cause, alone_us / US_PER_S, seen_s, over_s, own)
