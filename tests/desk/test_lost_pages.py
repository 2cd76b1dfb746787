"""An address that leads nowhere: a person gets a page with ways on, a program gets JSON."""

from collections.abc import Collection

import httpx
import pytest
from fastapi import FastAPI

from server.archive.desk import PAGES as ARCHIVE_PAGES
from server.desk.pages import PAGES
from server.desk.refusals import tell_faults

BROWSER = "text/html,application/xhtml+xml,*/*;q=0.8"


async def asked(path: str, accept: str, pages: Collection[str] = PAGES) -> httpx.Response:
    """What a server of `pages` answers."""
    api = FastAPI()
    tell_faults(api, pages)
    async with httpx.AsyncClient(transport=httpx.ASGITransport(api), base_url="http://desk") as client:
        return await client.get(path, headers={"accept": accept})


async def test_a_person_is_told_what_was_asked_for_and_where_the_desks_are() -> None:
    """A browser gets a page that names the address and links to the desks; what is typed is never markup."""
    answer = await asked("/wal<b>l", BROWSER)
    assert answer.status_code == 404
    assert answer.headers["content-type"].startswith("text/html")
    assert "There is no page /wal&lt;b&gt;l here" in answer.text
    assert all(f'href="{desk}"' in answer.text for desk in ("/", "/wall", "/booth", "/lobby", "/plan", "/library"))
    assert 'href="/overview"' not in answer.text


async def test_only_desks_that_are_served_are_linked_to() -> None:
    """Where the overview and the months are served, the page leads to them too."""
    answer = await asked("/nowhere", BROWSER, ARCHIVE_PAGES)
    assert 'href="/"' not in answer.text
    assert 'href="/overview"' in answer.text
    assert 'href="/months"' in answer.text


@pytest.mark.parametrize(
    ("path", "accept"),
    [("/wal", "*/*"), ("/wal", "application/json"), ("/api/wal", "text/html"), ("/v1/x", "text/html")],
)
async def test_a_program_gets_json(path: str, accept: str) -> None:
    """Who does not ask for HTML, or asks at an address of programs, gets the reason as before."""
    answer = await asked(path, accept)
    assert (answer.status_code, answer.json()) == (404, {"reason": f"GET {path}: not found."})
