"""What runs teach, and runs side by side, over HTTP."""

from typing import Annotated, Any

from fastapi import APIRouter, HTTPException, Query, Response

from server.desk.debrief_messages import Comparison, LessonList
from server.desk.debriefs import ANSWERS, json_answer, opener, table_json
from server.desk.exports import file_answer
from server.desk.records import Opened, Records
from server.review.comparison import Compared, ComparisonFault, comparison_tables
from server.review.lessons import LessonFault, Lessons, Taught, first_start_us, lessons_from_runs
from server.review.series import series_of
from server.review.tables import seconds
from server.timeline.events import rfc3339
from server.timeline.schedule import house_clock

Runs = Annotated[list[str], Query(alias="run", min_length=1, max_length=8)]
Several = Annotated[list[str], Query(alias="run", min_length=2, max_length=8)]


def lesson_routes(records: Records) -> APIRouter:
    """The routes of both."""
    router = APIRouter(prefix="/api", responses=ANSWERS)
    opened = opener(records)

    @router.get("/lessons", response_model=LessonList)
    def lessons(runs: Runs) -> Response:
        """What runs of one chain say together of its paths and rates, and what would have been different."""
        return json_answer(_lessons_json(_learned([opened(run) for run in runs])))

    @router.get("/lessons/plan", response_class=Response)
    def plan(runs: Runs, name: Annotated[str, Query(max_length=200)] = "next.plan.toml") -> Response:
        """The corrected plan, to be kept by whoever asks; nothing is written here."""
        return file_answer(_learned([opened(run) for run in runs]).text, name, "application/toml")

    @router.get("/comparison", response_model=Comparison)
    def comparison(runs: Several, points: Annotated[int, Query(ge=2, le=2000)] = 400) -> Response:
        """Runs of a chain in one table and on one chart."""
        return json_answer(_comparison_json([opened(run) for run in runs], points))

    return router


def _learned(runs: list[Opened]) -> Lessons:
    taught = [Taught(run.id, run.reading("now"), run.source.plan_name, run.source.plan_text) for run in runs]
    try:
        return lessons_from_runs(taught)
    except LessonFault as fault:
        raise HTTPException(422, str(fault)) from None


def _lessons_json(learned: Lessons) -> dict[str, Any]:
    return {
        "runs": learned.runs,
        "plan_run": learned.plan_run,
        "plan_name": learned.plan_name,
        "paths": [one._asdict() for one in learned.paths],
        "rates": [one._asdict() for one in learned.rates],
        "common": [one._asdict() for one in learned.common],
        "differences": [one._asdict() for one in learned.differences],
        "warnings": {"gone": learned.gone, "new": learned.new},
    }


def _comparison_json(runs: list[Opened], points: int) -> dict[str, Any]:
    compared = [Compared(run.id, run.reading("now")) for run in runs]
    try:
        tables = comparison_tables(compared)
    except ComparisonFault as fault:
        raise HTTPException(422, str(fault)) from None
    return {
        "runs": [_run_json(run) for run in runs],
        "tables": [table_json(one) for one in tables],
        "series": [{"version": run.version, **series_of(run.reading("now"), points)} for run in runs],
    }


def _run_json(run: Opened) -> dict[str, Any]:
    return {
        "id": run.id,
        "title": run.plan.title,
        "zero": rfc3339(run.plan.zero),
        "day": house_clock(run.plan, 0.0).date().isoformat(),
        "first_start_s": seconds(first_start_us(run.reading("now"))),
    }
