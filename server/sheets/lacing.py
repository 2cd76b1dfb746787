"""The threading sheet: leader, stretches, the order to lace in with boxes to tick, and what to check."""

from collections.abc import Iterator
from typing import Final

from server.planning.cautions import FILM_CAUTIONS, SITE_RULES
from server.planning.lacing import HANDS, Lacing, LacingStep
from server.planning.leader import Pull, cut_ft
from server.sheets.markup import Column, Html, box, clock, element, joined, listed, row, section, table
from server.sheets.page import heading
from server.sheets.show import Show
from server.sheets.times import clock_min, clock_s, day_of, length_text
from server.timeline.film import FOOT_M
from server.timeline.naming import house_of
from server.timeline.plan import Mark, Plan

TITLE: Final = "Threading"

_STEPS: Final = (
    Column("Done", 7, "tick"),
    Column("No.", 6, "n"),
    Column("Where", 18),
    Column("What", 47),
    Column("People", 8, "n"),
    Column("Min.", 6, "n"),
    Column("From", 8, "n"),
)
_STRETCHES: Final = (
    Column("From house", 14),
    Column("to house", 14),
    Column("Path", 18, "n"),
    Column("On the way", 26),
    Column("Pull at the free end", 28),
)
_CUES: Final = (
    Column("Seen", 8, "tick"),
    Column("Foil cue at", 52),
    Column("Counter ft from the print's first frame", 24, "n"),
    Column("Running time", 16, "n"),
)
_HOUSES: Final = (
    Column("House", 20),
    Column("Loop at rest", 13, "tick"),
    Column("Failsafe armed", 14, "tick"),
    Column("Rollers all turn", 15, "tick"),
    Column("Douser shut, lamp out", 17, "tick"),
    Column("Noted by pen", 21),
)


def lacing_body(show: Show) -> Html:
    """Return the body of the threading sheet."""
    lacing = show.judgement.lacing
    return joined(
        [
            heading(show, TITLE),
            _figures(show),
            element("p", f"Nobody starts a motor while hands are in a machine or on a roller. {SITE_RULES}"),
            section("In this order", table(_STEPS, _steps(show), style="steps")),
            _stretches(show),
            section(f"Leader: {_leader(lacing)} in all", listed(_parts(show))),
            _checks(show),
            section("Moving film", listed(FILM_CAUTIONS), style="cautions"),
            section("Taken for these figures", listed(lacing.assumed), style="small"),
        ]
    )


def _leader(lacing: Lacing) -> str:
    return _feet(cut_ft(lacing.leader_ft))


def _feet(feet: float) -> str:
    return f"{feet:.0f} ft ({feet * FOOT_M:.0f} m)"


def _figures(show: Show) -> Html:
    plan, lacing = show.plan, show.judgement.lacing
    people = "1 person" if lacing.crew == 1 else f"{lacing.crew} people"
    figures = (
        (clock(clock_min(plan, lacing.begin_s)), "begin"),
        (clock(clock_min(plan, lacing.ready_s)), "ready: laced and checked"),
        (f"{lacing.whole_minutes} min", "of lacing"),
        (people, "to lace"),
        (_leader(lacing), "of leader"),
    )
    return element("div", *(element("div", element("b", figure), said) for figure, said in figures), style="big")


def _parts(show: Show) -> Iterator[Html]:
    for part in show.judgement.lacing.parts:
        yield joined([element("b", f"{part.feet:.0f} ft"), f": {part.what}"])


def _steps(show: Show) -> Iterator[Html]:
    said = None
    for step in show.judgement.lacing.steps:
        # A caution stands where it begins to hold, and is not said again for the same work next door.
        yield _step(show, step, None if step.caution == said else step.caution)
        said = step.caution


def _step(show: Show, step: LacingStep, caution: str | None) -> Html:
    begins_s = show.judgement.lacing.begin_s + step.begins_min * 60.0
    at = clock_s(show.plan, round(begins_s), day_of(show.plan, show.judgement.lacing.begin_s))[:5]
    where = f"{step.where[:1].upper()}{step.where[1:]}"
    what = joined([step.what, element("p", caution, style="caution")]) if caution else step.what
    cells = (box(), str(step.number), element("b", where), what, str(step.people), f"{step.minutes:.1f}", at)
    return row(_STEPS, cells, header=2)


def _stretches(show: Show) -> Html:
    pulls = show.judgement.lacing.stretches
    if not pulls:
        return Html()
    joints = ", ".join(f"House {pull.from_house}" for pull in pulls[1:])
    spliced = f"Spliced where they meet, at {joints}." if joints else "One stretch: nothing is spliced on the way."
    rows = (row(_STRETCHES, tuple(_stretch(pull))) for pull in pulls)
    return section("Stretches, in film order", element("p", spliced), table(_STRETCHES, rows))


def _stretch(pull: Pull) -> Iterator[str]:
    yield from (pull.from_house, pull.to_house, _feet(pull.path_ft), _on_the_way(pull))
    effort = f"{pull.effort[:1].upper()}{pull.effort[1:]}"
    yield joined([element("b", effort), f": {_hands(pull)} ({pull.pull_n:.0f} N)"])


def _on_the_way(pull: Pull) -> str:
    """Rollers, and what the site file has of doorways, fixed guides and heights."""
    parts = [f"{pull.rollers} rollers"]
    parts += [f"{pull.doorways} doorway{'s' if pull.doorways > 1 else ''}"] if pull.doorways else []
    parts += [f"{pull.turns_deg:.0f}° over fixed guides"] if pull.turns_deg else []
    parts += [f"up to {pull.height_m:g} m high"] if pull.height_m is not None else []
    return ", ".join(parts)


def _hands(pull: Pull) -> str:
    """Who pulls, in plain words."""
    return {1: "one pulls", 2: "one pulls, one feeds", 3: "one pulls, one helps half way, one feeds"}[
        HANDS[pull.effort]
    ]


def _checks(show: Show) -> Html:
    """Splices and tape marks, then every machine, then the foil cues of the print."""
    plan, pulls = show.plan, show.judgement.lacing.stretches
    first, last = house_of(plan, 0), house_of(plan, len(plan.stations) - 1)
    marks = [
        f"{first}: splice of the print's head leader to the chain's, both sides taped.",
        f"{first}: tape mark on the film in the gate. Every time counts from there.",
        *(
            f"House {pull.from_house}: splice of the two stretches, both sides taped, tried by a pull."
            for pull in pulls[1:]
        ),
        f"{last}: the leader's end is held on the take-up's core.",
    ]
    boxes = listed((joined([box(), mark]) for mark in marks), style="boxes")
    houses = (row(_HOUSES, (station.house, box(), box(), box(), box(), ""), header=0) for station in plan.stations)
    return joined(
        [
            section("Splices and tape marks to check", boxes),
            section("Every machine, once more", table(_HOUSES, houses), style="keep"),
            _cues(show),
        ]
    )


def _cues(show: Show) -> Html:
    """The foil cues that the plan counts on, to be seen as the print is made up."""
    plan = show.plan
    marks = [mark for mark in plan.marks if mark.cue]
    rows = (
        row(
            _CUES,
            (box(), _cue_place(plan, mark), f"{plan.film.counter_ft_from_s(mark.x_s):.1f}", length_text(mark.x_s)),
        )
        for mark in marks
    )
    if not marks:
        return Html()
    return section("Foil cues on the print", table(_CUES, rows), style="keep")


def _cue_place(plan: Plan, mark: Mark) -> str:
    segment = any(segment.id == mark.id for segment in plan.print)
    return f"the first frame of {mark.title}" if segment else f"the mark {mark.title}"
