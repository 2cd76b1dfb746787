"""The contacts of a run over HTTP, and the orders of a roll call."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Any

import httpx
import pytest

from server.access import Role
from server.desk.access import Hosts
from server.desk.app import create_app
from server.desk.contacts import NO_SUCH_CONTACTS
from server.desk.pages import web_folder
from tests.access.fakes import Entrance

STATE: dict[str, Any] = {
    "on": False,
    "asked": None,
    "result": None,
    "strays": [],
    "feeds": [
        {
            "id": "north",
            "kind": "text",
            "port": "/dev/ttyUSB0",
            "fault": None,
            "sampling_ms": 0,
            "seen_sampling_ms": None,
        }
    ],
    "inputs": [],
}


class Board:
    """Contacts that keep what they are told, and refuse what they are made to."""

    def __init__(self) -> None:
        self.told: list[tuple[str, object]] = []
        self.refusing: str | None = None

    def state(self) -> dict[str, Any]:
        return STATE

    def begin(self, *, ask_next: bool = False) -> str | None:
        return self._hear("begin", ask_next)

    def ask(self, input_id: str | None) -> str | None:
        return self._hear("ask", input_id)

    def skip(self) -> str | None:
        return self._hear("skip", None)

    def end(self) -> None:
        self._hear("end", None)

    async def keep(self, by: str | None = None) -> str | None:
        return self._hear("keep", by)

    def _hear(self, what: str, given: object) -> str | None:
        self.told.append((what, given))
        return self.refusing


@pytest.fixture
def board() -> Board:
    return Board()


@asynccontextmanager
async def asking(board: Board, role: Role | None = None) -> AsyncIterator[httpx.AsyncClient]:
    """A client on this computer, or on a device that is paired for Ida in that role."""
    entrance = Entrance()
    app = create_app(
        {},
        Hosts("127.0.0.1"),
        web_folder(),
        entrance.doorkeeper,
        lambda: None,
        lambda _scope: role is None,
        contacts={"one": board},
    )
    cookies = {}
    if role is not None:
        _, token = await entrance.pairings.add("Ida", role)
        cookies = {"festoon": token}
    transport = httpx.ASGITransport(app)
    async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1", cookies=cookies) as client:
        yield client


@pytest.fixture
async def client(board: Board) -> AsyncIterator[httpx.AsyncClient]:
    async with asking(board) as client:
        yield client


async def test_a_desk_is_told_how_the_contacts_stand(client: httpx.AsyncClient) -> None:
    """What the board says is what the desk gets."""
    answer = await client.get("/api/runs/one/contacts")
    assert (answer.status_code, answer.json()) == (200, STATE)


async def test_a_run_without_contacts_says_how_to_give_it_some(client: httpx.AsyncClient) -> None:
    """Most runs have none: that is no failure, and it is said in a sentence."""
    for answer in (
        await client.get("/api/runs/two/contacts"),
        await client.post("/api/runs/two/contacts/rollcall", json={"do": "begin"}),
    ):
        assert (answer.status_code, answer.json()) == (404, {"reason": NO_SUCH_CONTACTS})


async def test_every_order_reaches_the_board(client: httpx.AsyncClient, board: Board) -> None:
    """Begin in either way, ask for one, skip, end, keep: each with what it needs."""
    orders: list[dict[str, Any]] = [
        {"do": "begin"},
        {"do": "begin_in_order"},
        {"do": "ask", "input": "north/1"},
        {"do": "ask", "input": None},
        {"do": "skip"},
        {"do": "end"},
        {"do": "keep", "by": "Ada"},
    ]
    for order in orders:
        assert (await client.post("/api/runs/one/contacts/rollcall", json=order)).json() == STATE
    assert board.told == [
        ("begin", False),
        ("begin", True),
        ("ask", "north/1"),
        ("ask", None),
        ("skip", None),
        ("end", None),
        ("keep", "Ada"),
    ]


async def test_what_is_refused_says_why(client: httpx.AsyncClient, board: Board) -> None:
    """409 with the board's own sentence; an order that is none is 422."""
    board.refusing = "A motor runs."
    answer = await client.post("/api/runs/one/contacts/rollcall", json={"do": "begin"})
    assert (answer.status_code, answer.json()) == (409, {"reason": "A motor runs."})
    assert (await client.post("/api/runs/one/contacts/rollcall", json={"do": "sing"})).status_code == 422
    two_lines = {"do": "keep", "by": "Ada\nLovelace"}
    assert (await client.post("/api/runs/one/contacts/rollcall", json=two_lines)).status_code == 422


async def test_only_the_booth_leads_and_keeps_and_by_its_own_name(board: Board) -> None:
    """A wall that looks on sees the contacts and gives no order; a tablet keeps by whom it was paired for."""
    keep = {"do": "keep", "by": "Somebody"}
    async with asking(board, "look") as wall:
        assert (await wall.get("/api/runs/one/contacts")).json() == STATE
        assert (await wall.post("/api/runs/one/contacts/rollcall", json=keep)).status_code == 403
    assert board.told == []
    async with asking(board, "booth") as tablet:
        assert (await tablet.post("/api/runs/one/contacts/rollcall", json=keep)).status_code == 200
    assert board.told == [("keep", "Ida")]
