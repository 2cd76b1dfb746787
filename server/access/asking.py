"""A command's way to the server that runs on the same computer: HTTP to its own address, where no pairing is needed."""

import json
import ssl
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any

from server.access.whereabouts import Whereabouts, whereabouts

PATIENCE_S = 5.0
"""Chosen."""


class ServerFault(Exception):
    """The server is not there, or did not do it: one sentence."""


class Server:
    """The server at `place`."""

    def __init__(self, place: Whereabouts, folder: Path) -> None:
        self._place = place
        self._folder = folder
        # Straight to it: a proxy of the environment is for other computers.
        handlers: list[urllib.request.BaseHandler] = [urllib.request.ProxyHandler({})]
        if place.certificate is not None:
            handlers.append(urllib.request.HTTPSHandler(context=_trusting(place.certificate)))
        self._opener = urllib.request.build_opener(*handlers)

    def ask(self, path: str, body: dict[str, str] | None = None) -> Any:  # noqa: ANN401 - JSON of any shape
        """What the server answers, as parsed JSON, None for nothing; with `body` it is posted. Raises ServerFault."""
        data = None if body is None else json.dumps(body).encode()
        headers = {"content-type": "application/json"} if data is not None else {}
        request = urllib.request.Request(f"{self._place.address}{path}", data, headers)  # noqa: S310 - our own address
        try:
            with self._opener.open(request, timeout=PATIENCE_S) as answer:
                text = answer.read()
        except urllib.error.HTTPError as error:
            raise ServerFault(_reason(error)) from error
        except OSError as error:
            raise ServerFault(not_there(self._folder)) from error
        return json.loads(text) if text else None


def server_of(folder: Path) -> Server:
    """The server that keeps its log in a folder. Raises ServerFault."""
    place = whereabouts(folder)
    if place is None:
        raise ServerFault(not_there(folder))
    return Server(place, folder)


def not_there(folder: Path) -> str:
    """The sentence for no server."""
    return f"No Festoon is serving with its log in {folder}: start one (festoon serve PLAN), or name its --data"


def _reason(error: urllib.error.HTTPError) -> str:
    try:
        return str(json.load(error)["reason"])
    except (ValueError, KeyError, TypeError):
        return f"The server answered with {error.code}."


def _trusting(certificate: str) -> ssl.SSLContext:
    """Trusts the very certificate that the server said it would show, whatever names it has."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.check_hostname = False
    context.verify_flags |= ssl.VERIFY_X509_PARTIAL_CHAIN
    context.load_verify_locations(cadata=certificate)
    return context
