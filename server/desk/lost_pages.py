"""What a person sees who asked for a page that is not there: what was asked for, and the desks that are."""

from collections.abc import Collection
from html import escape

from fastapi import Request
from fastapi.responses import HTMLResponse

NAMES = {
    "/": "Live runs",
    "/wall": "Wall",
    "/booth": "Booth",
    "/lobby": "Lobby",
    "/rollcall": "Roll call",
    "/plan": "Plan",
    "/threading": "Threading",
    "/library": "Library",
    "/pairings": "Pairings",
    "/overview": "Every site",
    "/months": "Months",
}
"""Desks that can be begun at, in the order in which they are listed; a debrief is reached from the library."""

OF_PROGRAMS = ("/api/", "/static/", "/v1/")
"""What begins so is asked for by programs, whatever they accept."""


def asks_for_page(request: Request) -> bool:
    """Whether a person is at the other end: a browser that opens a page says that it takes HTML."""
    is_read = request.method in {"GET", "HEAD"}
    return is_read and "text/html" in request.headers.get("accept", "") and not request.url.path.startswith(OF_PROGRAMS)


def lost_page(path: str, served: Collection[str]) -> HTMLResponse:
    """The page, with 404, for `path`; of the pages that are `served` it links to the desks.

    An archive serves its overview at `/` too, which is then told once, by its name.
    """
    there = set(served) - ({"/"} if "/overview" in served else set())
    links = "".join(f'<li><a href="{desk}">{name}</a></li>' for desk, name in NAMES.items() if desk in there)
    return HTMLResponse(_PAGE.format(path=escape(path), links=links), 404, {"cache-control": "no-store"})


_PAGE = """<!doctype html>
<html lang="en">
  <head>
    <meta charset="utf-8" />
    <meta name="viewport" content="width=device-width, initial-scale=1" />
    <meta name="color-scheme" content="dark light" />
    <title>No such page · Festoon</title>
    <link rel="icon" href="/static/css/festoon.svg" type="image/svg+xml" />
    <link rel="stylesheet" href="/static/css/tokens.css" />
    <link rel="stylesheet" href="/static/css/base.css" />
  </head>
  <body>
    <main class="lost-page">
      <h1>No such page</h1>
      <p>There is no page {path} here; these desks are:</p>
      <nav aria-label="Desks"><ul>{links}</ul></nav>
    </main>
  </body>
</html>
"""
