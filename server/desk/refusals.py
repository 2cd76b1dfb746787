"""What goes wrong at a request, as one sentence: `{"reason": …}`."""

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any

from fastapi import FastAPI, Request, WebSocket
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from server.access import PairingFault
from server.desk.answers import allowed_methods
from server.desk.lost_pages import asks_for_page, lost_page
from server.timeline.wrong_values import wrong_value_text

NO_RUN = 4404
BAD_QUESTION = 4400
UNPAIRED = 4401
WITHDRAWN = 4403
"""Close codes from the range for private use (RFC 6455, 7.4.2), after the HTTP statuses of the same meaning."""

NO_JSON = "This request could not be read: accepted is JSON in UTF-8."


def tell_faults(api: FastAPI, pages: Mapping[str, str] = MappingProxyType({})) -> None:
    """Have every error of `api` told so; who opens a page that is not there is led to `pages`, each with its file."""

    @api.exception_handler(HTTPException)
    async def tell_status(request: Request, error: HTTPException) -> Response:
        if error.status_code == 404 and asks_for_page(request):
            return lost_page(request.url.path, pages)
        if error.status_code == 400:  # FastAPI's own, of a body that is no text
            return JSONResponse({"reason": NO_JSON}, 422)
        own = error.detail.endswith(".")
        reason = error.detail if own else f"{request.method} {request.url.path}: {error.detail.lower()}."
        allowed = allowed_methods(api, request.url.path) if error.status_code == 405 else None
        headers = {"allow": allowed} if allowed else error.headers
        return JSONResponse({"reason": reason}, error.status_code, headers)

    @api.exception_handler(RequestValidationError)
    async def tell_validation(_request: Request, error: RequestValidationError) -> JSONResponse:
        return JSONResponse({"reason": "; ".join(map(_fault_text, error.errors()))}, 422)

    @api.exception_handler(PairingFault)
    async def tell_pairing(_request: Request, fault: PairingFault) -> JSONResponse:
        return JSONResponse({"reason": str(fault)}, 503)

    @api.exception_handler(Exception)
    async def tell_failure(_request: Request, _error: Exception) -> JSONResponse:
        return JSONResponse({"reason": "The server failed at this request; its own output says how."}, 500)


def tell_as_unavailable(api: FastAPI, kinds: Iterable[type[Exception]]) -> None:
    """Have errors of these kinds, each one sentence, told with 503: the same may be asked again later."""

    async def tell(_request: Request, error: Exception) -> JSONResponse:
        return JSONResponse({"reason": str(error)}, 503)

    for kind in kinds:
        api.add_exception_handler(kind, tell)


async def turn_away(socket: WebSocket, code: int, reason: str) -> None:
    """Close with a sentence of at most 123 bytes; a page is told the reason only of a websocket that was open."""
    await socket.accept()
    await socket.close(code, reason)


def _fault_text(fault: dict[str, Any]) -> str:
    """One fault of a request: where it is, what was found and what is accepted."""
    where = ".".join(str(part) for part in fault["loc"] if part != "body")
    said = wrong_value_text(fault)
    return f"{where}: {said}" if where else said
