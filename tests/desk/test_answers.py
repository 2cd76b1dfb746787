"""What the server answers over HTTP, held against its own OpenAPI document, by requests that are made up from that."""

import asyncio
import re
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import APIOperation, Case
from schemathesis.checks import not_a_server_error
from schemathesis.core.result import Ok
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from server.desk.answers import allowed_methods
from server.desk.app import create_api
from server.desk.pages import web_folder
from server.runlog import RunLog
from tests.access.fakes import Entrance
from tests.cli.running import PAIR, Running, running
from tests.desk.past import RUN, fill

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
    response_headers_conformance,
]
EXAMPLES = 12
"""Requests that are made up for each operation. Chosen: with 200 nothing more was found."""

SLOW = "/report.pdf"
"""A page of paper takes seconds: one request of it is enough."""

CLASSES = {r"\p{Cc}": r"\x00-\x1f\x7f-\x9f", r"\p{Cf}": r"\xad\u200b-\u200f\ufeff", r"\p{Zl}\p{Zp}": r"\u2028\u2029"}
"""What the document says of characters, as Python's regular expressions can say it."""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A server with a live run and a finished one."""
    data = tmp_path_factory.mktemp("answers")

    async def filled() -> None:
        log = RunLog.open(data)
        await fill(log)
        log.close()

    asyncio.run(filled())
    with running("serve", PAIR, "--port", "0", "--data", data) as served:
        yield served


@pytest.fixture(scope="module")
def document(server: Running) -> dict[str, Any]:
    """Its document, with names of what is there among those that are made up."""
    asked = httpx.get(f"http://{server.host}/api/openapi.json", trust_env=False).text
    for named, said in CLASSES.items():
        asked = asked.replace(named.replace("\\", "\\\\"), said.replace("\\", "\\\\"))
    document: dict[str, Any] = httpx.Response(200, text=asked).json()
    there = {"run_id": [*server.run_ids], "id_": [RUN, *server.run_ids], "table": ["passes", "alarms"]}
    for item in document["paths"].values():
        for operation in item.values():
            for parameter in operation.get("parameters", ()):
                if names := there.get(parameter["name"]):
                    parameter["schema"] = {"anyOf": [{"enum": names}, {"enum": names}, parameter["schema"]]}
    return document


@pytest.mark.slow
def test_every_answer_is_one_that_the_document_names(server: Running, document: dict[str, Any]) -> None:
    """Its status, kind and shape, to whatever is asked of any operation; and none is a failure of the server."""
    schema = schemathesis.openapi.from_dict(document)
    schema.config.update(base_url=f"http://{server.host}")
    results = list(schema.get_all_operations())
    operations = [result.ok() for result in results if isinstance(result, Ok)]
    assert len(operations) == len(results) > 40
    for operation in operations:
        _hold(operation, 1 if operation.path.endswith(SLOW) else EXAMPLES)


def _hold(operation: APIOperation[Any, Any, Any, Any], examples: int) -> None:
    @given(case=operation.as_strategy())
    @settings(
        max_examples=examples,
        deadline=None,
        database=None,
        derandomize=True,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    def hold(case: Case[Any]) -> None:
        case.call_and_validate(checks=CHECKS)

    hold()


def test_the_run_that_was_asked_about_is_there_still(server: Running) -> None:
    """What was made up has reached real runs, and they went on."""
    with httpx.Client(base_url=f"http://{server.host}", trust_env=False) as client:
        assert client.get(f"/api/runs/{server.run_ids[0]}").json()["fault"] is None


@pytest.mark.parametrize(
    ("path", "allowed"),
    [("/api/plans", "GET, POST"), ("/api/plans/kept/x", "GET, POST"), ("/api/me", "GET"), ("/nothing", None)],
)
def test_a_method_that_is_not_there_is_answered_with_those_that_are(path: str, allowed: str | None) -> None:
    """All of the path's, whichever route has them."""
    assert allowed_methods(_api(), path) == allowed


def test_a_body_that_is_no_text_is_told(server: Running) -> None:
    """One sentence, and the status of all that is not accepted."""
    with httpx.Client(base_url=f"http://{server.host}", trust_env=False) as client:
        headers = {"content-type": "application/json"}
        for body in (b"\xff\xfe", b"{", b"[" * 5000):
            answer = client.post("/api/plans/check", content=body, headers=headers)
            assert answer.status_code == 422
            assert re.fullmatch(r"[^\n]+", answer.json()["reason"])


def _api() -> Any:
    from server.desk.plans import PlanDesk
    from server.desk.records import Past
    from server.plans.site_store import SiteStore
    from server.plans.store import PlanStore
    from tests.desk.past import TOMORROW

    folder = Path("/nonexistent")
    log: Any = SimpleNamespace(library=None)
    plans = PlanDesk(PlanStore(folder), "", SiteStore(folder))
    past = Past(log, lambda: TOMORROW, ())
    return create_api({}, web_folder(), Entrance().doorkeeper, lambda: None, past, plans=plans)
