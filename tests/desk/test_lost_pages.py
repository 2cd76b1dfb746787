"""An address that leads nowhere: a person gets a page with ways on, a program gets JSON."""

import re
from collections.abc import Mapping

import httpx
import pytest
from fastapi import FastAPI

from server.archive.desk import PAGES as ARCHIVE_PAGES
from server.desk.pages import PAGES
from server.desk.refusals import tell_faults

BROWSER = "text/html,application/xhtml+xml,*/*;q=0.8"


async def asked(path: str, accept: str, pages: Mapping[str, str] = PAGES) -> httpx.Response:
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
    """Where the overview and the months are served, the page leads to them too, once each, by their titles."""
    answer = await asked("/nowhere", BROWSER, ARCHIVE_PAGES)
    assert 'href="/"' not in answer.text
    assert '<a href="/overview">Every site</a>' in answer.text
    assert '<a href="/months">Sites and months</a>' in answer.text


@pytest.mark.parametrize("pages", [PAGES, ARCHIVE_PAGES], ids=["site", "archive"])
async def test_every_desk_is_linked_to_by_a_name(pages: Mapping[str, str]) -> None:
    """Each page but the two that nobody begins at; none is called nothing."""
    answer = await asked("/nowhere", BROWSER, pages)
    linked = re.findall(r'<a href="([^"]+)">([^<]+)</a>', answer.text)
    assert {pages[desk] for desk, _ in linked} == set(pages.values()) - {"pair.html", "debrief.html"}
    assert len(linked) == len({name for _, name in linked})


@pytest.mark.parametrize(
    ("path", "accept"),
    [("/wal", "*/*"), ("/wal", "application/json"), ("/api/wal", "text/html"), ("/v1/x", "text/html")],
)
async def test_a_program_gets_json(path: str, accept: str) -> None:
    """Who does not ask for HTML, or asks at an address of programs, gets the reason as before."""
    answer = await asked(path, accept)
    assert (answer.status_code, answer.json()) == (404, {"reason": f"GET {path}: not found."})
