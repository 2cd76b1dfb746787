"""What the OpenAPI document says of answers that no single route gives: refusals of the middleware, and faults."""

from typing import Any

from fastapi import FastAPI
from starlette.routing import compile_path

from server.desk.messages import Reason

_REASON = {"$ref": f"#/components/schemas/{Reason.__name__}"}

_OF_ANY = {
    401: "The device is not paired.",
    403: "This device may not, or the page is of another origin.",
    421: "The server has another name.",
    422: "What was asked is not what is accepted.",
    500: "The server failed; its log says how.",
    503: "Not now: the same may be asked again later.",
}
_OF_BODIES = {411: "The request does not say how long it is.", 413: "The request is too long."}


def name_answers(api: FastAPI) -> None:
    """Have the document of `api` name every answer that any of its operations can give."""
    as_made = api.openapi

    def openapi() -> dict[str, Any]:
        if api.openapi_schema is None:
            _complete(as_made())
        return as_made()

    api.openapi = openapi  # type: ignore[method-assign]  # FastAPI's own way ("Extending OpenAPI")


def allowed_methods(api: FastAPI, path: str) -> str | None:
    """The methods that a path has, as `Allow` lists them (RFC 9110, 10.2.1); None where the document has no such path.

    The web framework names those of one route, and several may have a path between them.
    """
    known = [item for named, item in api.openapi()["paths"].items() if compile_path(named)[0].fullmatch(path)]
    return ", ".join(sorted({method.upper() for item in known for method in item})) or None


def _complete(document: dict[str, Any]) -> None:
    document["components"]["schemas"].setdefault(Reason.__name__, Reason.model_json_schema())
    for path in document["paths"].values():
        for method, operation in path.items():
            answers = operation["responses"]
            for status, text in (_OF_ANY | ({} if method == "get" else _OF_BODIES)).items():
                _add_reason(answers.setdefault(str(status), {"description": text}))
            for status in [status for status in answers if status >= "400"]:
                _add_reason(answers[status])


def _add_reason(answer: dict[str, Any]) -> None:
    """Have an answer be a `Reason` too, beside what its route says it is."""
    content = answer.setdefault("content", {})
    content.pop("text/html", None)
    schema = content.setdefault("application/json", {}).setdefault("schema", _REASON)
    if schema != _REASON and _REASON not in schema.get("anyOf", ()):
        content["application/json"]["schema"] = {"anyOf": [schema, _REASON]}
