"""The desks by TLS, with the certificate that Festoon makes."""

import asyncio
import json
import ssl
from datetime import UTC, datetime
from pathlib import Path

import httpx
import pytest
from websockets.exceptions import InvalidStatus

from server.access.certificates import Made, make_certificate
from server.desk.tls import CertificateFault, site_certificate
from server.live.frames import FramedDesk
from tests.desk.service import event, heard, said, serving
from tests.desk.test_visits import elsewhere


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """One certificate for all tests."""
    return make_certificate(tmp_path_factory.mktemp("tls"), ["localhost", "127.0.0.1"], datetime.now(UTC))


async def test_a_device_pairs_and_runs_the_show_by_tls(tmp_path: Path, made: Made) -> None:
    """Page, pairing, a secure cookie, and a websocket that is written to straight, all trusting the issuer alone."""
    trusting = ssl.create_default_context(cafile=made.issuer)
    server = site_certificate(made.certificate, made.key).context
    async with serving(tmp_path, "one", is_here=elsewhere, tls=server) as service:
        at = f"https://{service.host}"
        async with httpx.AsyncClient(verify=trusting, base_url=at, trust_env=False) as device:
            assert (await device.get("/wall")).status_code == 401
            code, _ = service.entrance.doorkeeper.codes.make("Ida", "booth")
            answer = await device.post("/api/pairing", json={"code": code}, headers={"origin": at})
            assert answer.json()["name"] == "Ida"
            (cookie,) = answer.cookies.jar
            assert (cookie.name, cookie.secure, cookie.path) == ("__Host-festoon", True, "/")
            assert (await device.get("/wall")).status_code == 200
        session = f"{cookie.name}={cookie.value}"
        async with service.desk(cookie=session, origin=at, trusting=trusting) as desk:
            snapshot = await heard(desk, "snapshot")
            assert [type(each) for each in service.runs["one"].hub._desks] == [FramedDesk]
            assert (await said(desk, event("e1")))["type"] == "taken"
            assert snapshot["events"] == []
        async with service.desk(cookie=session, trusting=trusting) as desk:
            assert [each["by"] for each in (await heard(desk, "snapshot"))["events"]] == ["Ida"]


async def test_a_snapshot_of_any_size_is_whole(tmp_path: Path, made: Made) -> None:
    """A frame longer than a TLS record, written straight to the connection, arrives as it was."""
    trusting = ssl.create_default_context(cafile=made.issuer)
    async with serving(tmp_path, "one", tls=site_certificate(made.certificate, made.key).context) as service:
        async with service.desk(trusting=trusting) as desk:
            for number in range(40):
                await said(desk, event(f"n{number}", kind="note", text="x" * 1500, station=None))
        async with service.desk(trusting=trusting) as desk:
            raw = await desk.recv()
        assert len(raw) > 1 << 15
        assert len(json.loads(raw)["events"]) == 40


async def test_a_page_without_tls_opens_no_websocket_with_it(tmp_path: Path, made: Made) -> None:
    """Same host and port, but anybody on the network can write that page."""
    trusting = ssl.create_default_context(cafile=made.issuer)
    async with serving(tmp_path, "one", tls=site_certificate(made.certificate, made.key).context) as service:
        with pytest.raises(InvalidStatus) as refused:
            await service.desk(origin=f"http://{service.host}", trusting=trusting)
    assert refused.value.response.status_code == 403


async def test_nothing_is_said_without_tls(tmp_path: Path, made: Made) -> None:
    """Who speaks plainly to that port gets no answer that could be read."""
    async with serving(tmp_path, "one", tls=site_certificate(made.certificate, made.key).context) as service:
        reader, writer = await asyncio.open_connection("127.0.0.1", service.number)
        writer.write(b"GET /api/runs HTTP/1.1\r\nHost: localhost\r\n\r\n")
        assert b"HTTP" not in await reader.read()
        writer.close()


@pytest.mark.parametrize(
    ("certificate", "key", "said_of_it"),
    [
        ("nowhere", "festoon-key.pem", "nowhere: there is no such file"),
        ("festoon.crt", "nowhere", "nowhere: there is no such file"),
        ("festoon.crt", "other/festoon-key.pem", "accepted are a certificate and its own key"),
        ("festoon.crt", "text", "accepted are a certificate and its own key"),
        ("text", "festoon-key.pem", "accepted are a certificate and its own key"),
        ("festoon.crt", "locked", "the key without a password"),
    ],
)
def test_a_certificate_that_cannot_be_used_is_told(tmp_path: Path, certificate: str, key: str, said_of_it: str) -> None:
    """One sentence, and no question at the terminal for a password."""
    from cryptography.hazmat.primitives.serialization import (
        BestAvailableEncryption,
        Encoding,
        PrivateFormat,
        load_pem_private_key,
    )

    for folder in (tmp_path, tmp_path / "other"):
        make_certificate(folder, ["localhost"], datetime.now(UTC))
    (tmp_path / "text").write_text("a text\n")
    own = load_pem_private_key((tmp_path / "festoon-key.pem").read_bytes(), None)
    locked = own.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, BestAvailableEncryption(b"word"))
    (tmp_path / "locked").write_bytes(locked)
    with pytest.raises(CertificateFault) as fault:
        site_certificate(tmp_path / certificate, tmp_path / key)
    assert said_of_it in str(fault.value)
    assert "\n" not in str(fault.value)


def test_old_tls_is_not_spoken(made: Made) -> None:
    """1.2 or later (RFC 8996)."""
    assert site_certificate(made.certificate, made.key).context.minimum_version >= ssl.TLSVersion.TLSv1_2
