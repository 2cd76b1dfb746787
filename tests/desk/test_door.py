"""Who is let in over HTTP: this computer, paired devices, and nobody else."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import httpx
import pytest

from server.access import Role
from server.access.pairings import LIFE
from server.desk.pages import PAGES
from server.desk.pairings import HERE_ONLY
from server.desk.visitors import NOT_PAIRED, ONLY_LOOKS, is_this_computer, peer_of
from tests.access.fakes import Entrance
from tests.desk.service import LAN, app_of, event, live_runs

TABLET = "192.0.2.20"
OTHER_TABLET = "192.0.2.21"
HERE = "http://127.0.0.1:8440"


class House:
    """An application with one run, and clients of it from anywhere."""

    def __init__(self, app: object, entrance: Entrance) -> None:
        self.app = app
        self.entrance = entrance

    def device(self, peer: str = TABLET, at: str = LAN) -> httpx.AsyncClient:
        """A browser at an address, with a jar for cookies."""
        transport = httpx.ASGITransport(self.app, client=(peer, 50_000))  # type: ignore[arg-type]
        return httpx.AsyncClient(transport=transport, base_url=at, headers={"origin": at})

    async def paired(self, role: Role = "booth", name: str = "Ida", peer: str = TABLET) -> httpx.AsyncClient:
        """A device that used a code."""
        device = self.device(peer)
        answer = await device.post("/api/pairing", json={"code": self.code(role, name)})
        assert answer.json() == {"name": name, "role": role, "local": False}
        return device

    def code(self, role: Role = "booth", name: str | None = "Ida") -> str:
        return self.entrance.doorkeeper.codes.make(name, role)[0]


@pytest.fixture
async def house(tmp_path: Path) -> AsyncIterator[House]:
    """A server open to others."""
    async with opened(tmp_path, Entrance()) as house:
        yield house


@asynccontextmanager
async def opened(folder: Path, entrance: Entrance) -> AsyncIterator[House]:
    async with live_runs(folder, "one") as (runs, _):
        yield House(app_of(runs, entrance, bound="0.0.0.0"), entrance)


async def reported(device: httpx.AsyncClient, event_id: str = "e1", **keys: str) -> httpx.Response:
    return await device.post("/api/runs/one/events", json=event(event_id, **keys)["event"])


async def shown_by(device: httpx.AsyncClient) -> list[str | None]:
    """By whom each event of the run was reported, as a desk is told it."""
    return [each.get("by") for each in (await device.get("/api/runs/one")).json()["events"]]


async def test_this_computer_just_works(house: House) -> None:
    """Without a pairing it sees and changes everything."""
    here = house.device("127.0.0.1", HERE)
    assert (await here.get("/api/me")).json() == {"name": None, "role": "booth", "local": True}
    assert (await reported(here, by="Somebody")).status_code == 200
    assert await shown_by(here) == ["Somebody"]
    assert (await here.get("/api/pairings")).json() == []


@pytest.mark.parametrize(
    ("peer", "at", "header"),
    [
        (TABLET, HERE, None),
        (TABLET, LAN, None),
        ("127.0.0.1", LAN, None),
        ("127.0.0.1", HERE, "X-Forwarded-For"),
        ("127.0.0.1", HERE, "Forwarded"),
        ("127.0.0.1", HERE, "Via"),
        ("::ffff:192.0.2.20", HERE, None),
    ],
)
async def test_nothing_else_is_this_computer(house: House, peer: str, at: str, header: str | None) -> None:
    """Neither a loopback name nor a loopback peer alone: one can be written by anybody, one is a proxy's as well."""
    device = house.device(peer, at)
    answer = await device.get("/api/me", headers={header: TABLET} if header else None)
    assert answer.status_code == 401


def test_who_is_this_computer_is_said_by_peer_and_name() -> None:
    """The rule by itself; without a peer nobody is."""

    def asks(peer: str | None, host: str) -> bool:
        scope = {"type": "http", "headers": [(b"host", host.encode())], "client": (peer, 1) if peer else None}
        return is_this_computer(scope)

    assert asks("127.0.0.1", "localhost:8440")
    assert asks("127.0.0.9", "127.0.0.1")
    assert asks("::1", "[::1]:8440")
    assert not asks(None, "localhost")
    assert not asks("127.0.0.1", "")
    assert not asks("192.0.2.20", "localhost")
    assert not asks("localhost.hostile.example", "localhost")


@pytest.mark.parametrize(("path"), ["/api/me", "/api/runs", "/api/runs/one", "/api/pairings", "/api/openapi.json"])
async def test_an_unpaired_device_reads_nothing(house: House, path: str) -> None:
    """401 and a sentence that says what to do; neither what is there nor what is not, by whatever way."""
    for asked in (path, "/api/nothing", "/API/runs", "//api/runs", f"/pair/%2e%2e{path}", f"/static/%2e%2e{path}"):
        answer = await house.device().get(asked)
        assert answer.status_code == (404 if asked.startswith("/static/") else 401)
        assert '"one"' not in answer.text
    assert (await house.device().get(path)).json() == {"reason": NOT_PAIRED}


@pytest.mark.parametrize("path", [*(path for path in PAGES if path != "/pair"), "/nothing"])
async def test_an_unpaired_device_gets_the_page_that_pairs(house: House, path: str) -> None:
    """In place of every page, and not to be kept by the browser; what that page loads is there."""
    answer = await house.device().get(path)
    assert answer.status_code == 401
    assert "<pair-device>" in answer.text
    assert answer.headers["cache-control"] == "no-store"
    assert "content-security-policy" in answer.headers
    assert (await house.device().get("/static/js/main/pair.js")).status_code == 200


async def test_an_unpaired_device_changes_nothing(house: House) -> None:
    """No event, no code and no withdrawal, by whatever method."""
    device = house.device()
    paired = await house.paired(peer=OTHER_TABLET)
    (line,) = (await paired.get("/api/pairings")).json()
    answers = [
        await reported(device),
        await device.post("/api/pairings/codes", json={"name": "Eve", "role": "booth"}),
        await device.post(f"/api/pairings/{line['id']}/withdrawal"),
        await device.put("/static/js/main/pair.js", content=b"x"),
        await device.delete("/wall", headers={"content-length": "0"}),
    ]
    assert [answer.status_code for answer in answers] == [401] * 5
    assert await shown_by(paired) == []


async def test_a_paired_device_reports_by_its_person(house: House) -> None:
    """Who did what is what the pairing says, whatever the event says."""
    device = await house.paired(name="Ida")
    for event_id, keys in (("e1", {}), ("e2", {"by": "Somebody"}), ("e3", {"by": "Ida"})):
        answer = await reported(device, event_id, station="b", **keys)
        assert answer.status_code == 200
    assert await shown_by(device) == ["Ida"] * 3


async def test_a_device_that_looks_changes_nothing(house: House) -> None:
    """It sees the runs, and is refused every change with the reason; neither does it see whose the others are."""
    device = await house.paired("look", "Lobby")
    assert (await device.get("/api/me")).json() == {"name": "Lobby", "role": "look", "local": False}
    assert (await device.get("/wall")).status_code == 200
    answers = [
        await reported(device),
        await device.post("/api/pairings/codes", json={"name": "Eve", "role": "booth"}),
        await device.post("/api/pairings/x/withdrawal"),
        await device.post("/api/whatever/comes/later"),
        await device.get("/api/pairings"),
    ]
    assert [(answer.status_code, answer.json()["reason"]) for answer in answers] == [(403, ONLY_LOOKS)] * 5
    assert await shown_by(device) == []


async def test_the_session_is_a_strict_cookie(house: House) -> None:
    """Out of reach of scripts and of other sites' pages, for this host alone, and no longer than the pairing."""
    answer = await house.device().post("/api/pairing", json={"code": house.code()})
    name, *attributes = answer.headers["set-cookie"].split("; ")
    assert name.startswith("festoon=")
    assert set(attributes) == {"HttpOnly", "SameSite=strict", "Path=/", f"Max-Age={int(LIFE.total_seconds())}"}
    assert answer.headers["cache-control"] == "no-store"


async def test_with_tls_the_cookie_is_secure(house: House) -> None:
    """It is never sent without TLS, and none that came without it is believed."""
    at = LAN.replace("http:", "https:")
    device = house.device(at=at)
    answer = await device.post("/api/pairing", json={"code": house.code()})
    assert answer.headers["set-cookie"].startswith("__Host-festoon=")
    assert "Secure" in answer.headers["set-cookie"].split("; ")
    token = answer.cookies["__Host-festoon"]
    plain = await house.device(at=at).get("/api/me", headers={"cookie": f"festoon={token}"})
    assert (plain.status_code, (await device.get("/api/me")).status_code) == (401, 200)


async def test_a_page_without_tls_does_not_speak_to_a_server_with_it(house: House) -> None:
    """Somebody on the network can write that page, and it has the same host and port."""
    device = house.device(at=LAN.replace("http:", "https:"))
    answer = await device.post("/api/pairing", json={"code": house.code()}, headers={"origin": LAN})
    assert answer.status_code == 403


async def test_a_forged_or_altered_session_is_none(house: House) -> None:
    """Any of its parts changed, another device's parts, another key: all of it is no pairing."""
    one, other = await house.paired(), await house.paired(name="Otto", peer=OTHER_TABLET)
    token, others = one.cookies["festoon"].split("."), other.cookies["festoon"].split(".")
    _, elsewhere = await Entrance(key=bytes(32)).pairings.add("Ida", "booth")
    forged = [
        ".".join([token[0], token[1], others[2]]),
        ".".join([others[0], *token[1:]]),
        ".".join([token[0], others[1], token[2]]),
        ".".join([token[0], token[1], token[2][:-1] + ("0" if token[2][-1] != "0" else "1")]),
        ".".join(token[:2]),
        elsewhere,
        "",
        "%00",
    ]
    for each in forged:
        answer = await house.device().get("/api/me", headers={"cookie": f"festoon={each}"})
        assert answer.status_code == 401
    whole = await house.device().get("/api/me", headers={"cookie": f"festoon={'.'.join(token)}"})
    assert whole.status_code == 200


async def test_a_new_key_ends_every_session(tmp_path: Path) -> None:
    """The key's file taken away and the server started again: every device is asked to pair."""
    entrance = Entrance()
    async with opened(tmp_path, entrance) as house:
        device = await house.paired()
        assert (await device.get("/api/me")).status_code == 200
    async with opened(tmp_path, entrance.again()) as house:
        assert (await house.device().get("/api/me", headers=_cookie(device))).status_code == 200
    async with opened(tmp_path, entrance.again(key=bytes(32))) as house:
        assert (await house.device().get("/api/me", headers=_cookie(device))).status_code == 401


def _cookie(device: httpx.AsyncClient) -> dict[str, str]:
    return {"cookie": f"festoon={device.cookies['festoon']}"}


async def test_a_code_is_refused_when_it_is_used_or_old(house: House) -> None:
    """Played again, or after its time: 403 and why; and no cookie."""
    code = house.code()
    assert (await house.device().post("/api/pairing", json={"code": code})).status_code == 200
    old = house.code()
    house.entrance.time.passes(minutes=10)
    for each in (code, old, "0000-0000"):
        answer = await house.device(OTHER_TABLET).post("/api/pairing", json={"code": each})
        assert (answer.status_code, answer.json()["wants_name"]) == (403, False)
        assert "ask for a new one" in answer.json()["reason"]
        assert "set-cookie" not in answer.headers


async def test_guessing_is_slowed(house: House) -> None:
    """After a few wrong codes even the right one waits: 429, with when to come again."""
    device, code = house.device(), house.code()
    for _ in range(6):
        assert (await device.post("/api/pairing", json={"code": "0000-0000"})).status_code == 403
    answer = await device.post("/api/pairing", json={"code": code})
    assert (answer.status_code, answer.headers["retry-after"]) == (429, "20")
    house.entrance.time.passes(seconds=20)
    assert (await device.post("/api/pairing", json={"code": code})).status_code == 200


async def test_a_hostile_page_can_pair_nothing_and_nobody(house: House) -> None:
    """Its origin is not ours, whoever's browser it is in."""
    hostile = {"origin": "http://hostile.example"}
    here, device = house.device("127.0.0.1", HERE), await house.paired()
    wish = {"name": "Eve", "role": "booth"}
    answers = [
        await here.post("/api/pairings/codes", json=wish, headers=hostile),
        await device.post("/api/pairings/codes", json=wish, headers=hostile),
        await house.device().post("/api/pairing", json={"code": house.code()}, headers=hostile),
    ]
    assert [answer.status_code for answer in answers] == [403] * 3


async def test_a_booth_desk_makes_a_code(house: House) -> None:
    """For a named person and a role, with the address of the page and a QR code, and it pairs."""
    booth = await house.paired()
    made = (await booth.post("/api/pairings/codes", json={"name": " Otto ", "role": "look"})).json()
    assert (made["name"], made["role"], made["address"]) == ("Otto", "look", f"{LAN}/pair")
    assert made["until"] == "2026-03-14T12:10:00Z"
    assert made["size"] > 20
    assert made["path"].startswith("M4 4.5h7")
    other = await house.device(OTHER_TABLET).post("/api/pairing", json={"code": made["code"]})
    assert other.json() == {"name": "Otto", "role": "look", "local": False}


async def test_a_code_made_here_leads_others_to_where_they_can_come(house: House, tmp_path: Path) -> None:
    """Not to a loopback name; and where nobody can come, that is said."""
    wish = {"name": "Otto", "role": "booth"}
    made = await house.device("127.0.0.1", HERE).post("/api/pairings/codes", json=wish)
    assert made.json()["address"] == f"{LAN}/pair"
    async with live_runs(tmp_path / "closed", "one") as (runs, _):
        closed = House(app_of(runs, others=None), Entrance())
        answer = await closed.device("127.0.0.1", HERE).post("/api/pairings/codes", json=wish)
    assert (answer.status_code, answer.json()["reason"]) == (409, HERE_ONLY)


@pytest.mark.parametrize("name", ["", " ", "x" * 61, "two\nlines", "\u202egnitirw", None, 7])
async def test_a_person_has_a_name_that_can_be_shown(house: House, name: object) -> None:
    """One line, of a length that a desk shows, and none that changes how the rest is read."""
    booth = await house.paired()
    answer = await booth.post("/api/pairings/codes", json={"name": name, "role": "look"})
    assert answer.status_code == 422
    assert "name" in answer.json()["reason"]


async def test_a_role_is_one_of_two(house: House) -> None:
    """Nothing else is taken for either."""
    answer = await (await house.paired()).post("/api/pairings/codes", json={"name": "Otto", "role": "owner"})
    assert answer.status_code == 422


async def test_pairings_are_listed_and_withdrawn(house: House) -> None:
    """Whose they are, until when, and which is mine; withdrawn, a device is asked to pair like any other."""
    ida, otto = await house.paired(), await house.paired("look", "Otto", OTHER_TABLET)
    lines = (await ida.get("/api/pairings")).json()
    assert [(line["name"], line["role"], line["mine"]) for line in lines] == [
        ("Ida", "booth", True),
        ("Otto", "look", False),
    ]
    assert {line["created"] for line in lines} == {"2026-03-14T12:00:00Z"}
    assert {line["until"] for line in lines} == {"2026-04-13T12:00:00Z"}
    assert (await otto.get("/api/runs")).status_code == 200
    address = f"/api/pairings/{lines[1]['id']}/withdrawal"
    assert [(await ida.post(address)).status_code for _ in range(2)] == [204, 404]
    assert (await otto.get("/api/runs")).status_code == 401
    assert [line["name"] for line in (await ida.get("/api/pairings")).json()] == ["Ida"]


async def test_no_answer_tells_a_secret(house: House) -> None:
    """Neither a session nor what is kept of it is in the list; a code is told to whoever made it alone."""
    ida = await house.paired()
    code = (await ida.post("/api/pairings/codes", json={"name": "Otto", "role": "look"})).json()["code"]
    token = ida.cookies["festoon"]
    (row,) = house.entrance.store.rows.values()
    told = "".join([(await ida.get(path)).text for path in ("/api/me", "/api/pairings", "/api/runs/one")])
    assert [secret for secret in (*token.split(".")[1:], row.secret_hash, code) if secret in told] == []


async def test_what_cannot_be_kept_is_told(house: House) -> None:
    """A full disk: 503 and the sentence, and nobody is paired who would not be after a restart; the code holds."""
    code = house.code()
    house.entrance.store.fault = "The disk that holds the log is full."
    answer = await house.device().post("/api/pairing", json={"code": code})
    assert (answer.status_code, answer.json()["reason"]) == (503, "The disk that holds the log is full.")
    assert "set-cookie" not in answer.headers
    house.entrance.store.fault = None
    assert (await house.device().post("/api/pairing", json={"code": code})).status_code == 200


async def test_events_come_no_faster_than_a_person_reports(house: House) -> None:
    """A device that pours them in is told to send later what is too much, and can."""
    device = await house.paired()
    bucket = house.entrance.doorkeeper
    (pairing,) = house.entrance.pairings.all()
    while bucket.wait_for_event_s(pairing.id) == 0.0:
        pass
    answer = await reported(device)
    assert (answer.status_code, answer.json()["again"]) == (503, True)
    house.entrance.time.passes(seconds=1.0)
    assert (await reported(device)).status_code == 200


@pytest.mark.parametrize(
    ("address", "counted"),
    [
        ("192.0.2.20", "192.0.2.20"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("2001:db8:1:2::9", "2001:db8:1:2::/64"),
        ("a name", "a name"),
    ],
)
def test_tries_are_counted_by_what_one_person_has(address: str, counted: str) -> None:
    """Whoever has an IPv6 network has all its addresses."""
    assert peer_of({"client": (address, 1)}) == counted
