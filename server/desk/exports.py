"""What is handed on of a run: its report, its tables, its recording and its plan, as files."""

import re
from threading import BoundedSemaphore
from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Response

from server.desk.debrief_messages import ClockName
from server.desk.debriefs import ANSWERS, opener
from server.desk.messages import Reason
from server.desk.records import Opened, Records
from server.printing import PrintingFault, pdf_made_elsewhere
from server.review.recordings import text_from_account
from server.review.report import report_html
from server.review.tables import csv_from_table, zip_from_tables


def export_routes(records: Records) -> APIRouter:
    """A route for each of them."""
    router = APIRouter(prefix="/api/debriefs/{id_}", responses=ANSWERS, default_response_class=Response)
    named = Annotated[Opened, Depends(opener(records))]
    printer = BoundedSemaphore(1)

    @router.get("/report.html")
    def report(run: named, clock: ClockName = "now") -> Response:
        """The report as one page that carries all it needs."""
        return file_answer(report_html(run.reading(clock)), f"{run.id}.html", "text/html")

    @router.get("/report.pdf", responses={501: {"model": Reason}, 503: {"model": Reason}})
    def printed(run: named, clock: ClockName = "now") -> Response:
        """The report on paper, one at a time."""
        if not printer.acquire(blocking=False):
            raise HTTPException(503, "A PDF is being made: ask again in a moment.")
        try:
            return file_answer(pdf_made_elsewhere(report_html(run.reading(clock))), f"{run.id}.pdf", "application/pdf")
        except PrintingFault as fault:
            raise HTTPException(501, str(fault)) from None
        finally:
            printer.release()

    @router.get("/tables.zip")
    def tables(run: named, clock: ClockName = "now") -> Response:
        """Every table as CSV."""
        return file_answer(zip_from_tables(run.reading(clock).tables), f"{run.id}-tables.zip", "application/zip")

    @router.get("/tables/{table}.csv")
    def table(run: named, table: str, clock: ClockName = "now") -> Response:
        """One table as CSV."""
        every = {one.id: one for one in run.reading(clock).tables}
        if table not in every:
            raise HTTPException(404, f"There is no table {table!r}: there are {', '.join(every)}.")
        return file_answer(csv_from_table(every[table]), f"{run.id}-{table}.csv", "text/csv")

    @router.get("/recording.events.jsonl")
    def recording(run: named) -> Response:
        """The run as a recording that carries its plan and its times of arrival."""
        text = text_from_account(run.account, run.source.plan_name, run.source.plan_text)
        return file_answer(text, f"{run.id}.events.jsonl", "application/jsonl")

    @router.get("/plan.toml")
    def plan(run: named) -> Response:
        """The plan that the run went by, letter for letter."""
        return file_answer(run.source.plan_text, f"{run.id}.plan.toml", "application/toml")

    return router


def file_answer(content: str | bytes, name: str, media_type: str) -> Response:
    """A file to be kept: a browser shows none of it here."""
    plain = re.sub(r"[^A-Za-z0-9._-]+", "-", name)
    headers = {"content-disposition": f'attachment; filename="{plain}"'}
    return Response(content, media_type=media_type, headers=headers)
