"""What a person sees who asked for a page that is not there: what was asked for, and the desks that are."""

from collections.abc import Mapping
from functools import cache
from html import escape

from fastapi import Request
from fastapi.responses import HTMLResponse

from server.desk.pages import web_folder

LED_TO = ("/pair", "/debrief")
"""Pages that nobody begins at: a code leads to the one, the library to the other."""

OF_PROGRAMS = ("/api/", "/static/", "/v1/")
"""What begins so is asked for by programs, whatever they accept."""


def asks_for_page(request: Request) -> bool:
    """Whether a person is at the other end: a browser that opens a page says that it takes HTML."""
    is_read = request.method in {"GET", "HEAD"}
    return is_read and "text/html" in request.headers.get("accept", "") and not request.url.path.startswith(OF_PROGRAMS)


def lost_page(path: str, pages: Mapping[str, str]) -> HTMLResponse:
    """The page, with 404, for `path`; it links to those of `pages`, each with its file, that people begin at."""
    # A desk that is served at two addresses is told once.
    desks = {name: desk for desk, name in pages.items() if desk not in LED_TO}
    links = "".join(f'<li><a href="{desk}">{_title(name)}</a></li>' for name, desk in desks.items())
    return HTMLResponse(_PAGE.format(path=escape(path), links=links), 404, {"cache-control": "no-store"})


@cache
def _title(name: str) -> str:
    """What a page is called by itself, as HTML."""
    return (web_folder() / name).read_text(encoding="utf-8").partition("<title>")[2].partition(" · Festoon</title>")[0]


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
      <p>There is no page {path} here. Go to one of these:</p>
      <nav aria-label="Desks"><ul>{links}</ul></nav>
    </main>
  </body>
</html>
"""
