"""`festoon serve` open to others, `festoon pair`, `pairings` and `certificate`, as processes of their own."""

import http.client
import json
import os
import re
import ssl
from pathlib import Path
from typing import Any

import pytest
from websockets.exceptions import ConnectionClosedError
from websockets.sync.client import ClientConnection, connect

from tests.cli.running import PAIR, PATIENCE_S, Running, running
from tests.forked import Forked, ended

pytestmark = pytest.mark.slow
CODE = re.compile(r"\b[0-9A-Z]{4}-[0-9A-Z]{4}\b")
ELSEWHERE = "192.0.2.9"
"""Who asks by this address (RFC 5737) is not at this computer, wherever from."""


class Device:
    """A browser elsewhere: one cookie, and whether it trusts an issuer."""

    def __init__(self, server: Running, issuer: Path | None = None) -> None:
        self.number = int(server.host.rpartition(":")[2])
        self.host = f"{ELSEWHERE}:{self.number}"
        self.trusting = ssl.create_default_context(cafile=issuer) if issuer else None
        self.cookie = ""

    def asks(self, path: str, body: dict[str, str] | None = None) -> tuple[int, Any]:
        """The status and the JSON of an answer."""
        near = ("127.0.0.1", self.number)
        line = (
            http.client.HTTPSConnection(*near, timeout=PATIENCE_S, context=self.trusting)
            if self.trusting
            else http.client.HTTPConnection(*near, timeout=PATIENCE_S)
        )
        headers = {"host": self.host, "cookie": self.cookie, "content-type": "application/json"}
        line.request("GET" if body is None else "POST", path, None if body is None else json.dumps(body), headers)
        answer = line.getresponse()
        self.cookie = (answer.headers["set-cookie"] or self.cookie).partition(";")[0]
        found = json.loads(answer.read() or "null")
        line.close()
        return answer.status, found

    def desk(self, run: str) -> ClientConnection:
        """A websocket to a run."""
        return connect(
            f"{'wss' if self.trusting else 'ws'}://{self.host}/api/runs/{run}/live",
            address=("127.0.0.1", self.number),
            server_hostname="127.0.0.1" if self.trusting else None,
            ssl=self.trusting,
            additional_headers={"cookie": self.cookie},
            proxy=None,
            compression=None,
            open_timeout=PATIENCE_S,
        )


def code_for(name: str, data: Path, *more: str) -> str:
    """What `festoon pair` shows."""
    told = ended("pair", name, "--data", data, *more)
    found = CODE.search(told.stdout)
    assert found, told
    return found[0]


def test_a_device_is_paired_by_command_for_good_until_withdrawn(tmp_path: Path) -> None:
    """Paired, it outlives a kill of the server; withdrawn by command, its open desk goes at once and it stays out."""
    serve = ("serve", PAIR, "--data", tmp_path, "--port", "0", "--host", "0.0.0.0")
    with running(*serve) as server:
        device = Device(server)
        assert device.asks("/api/runs")[0] == 401
        code = code_for("Ida", tmp_path)
        assert device.asks("/api/pairing", {"code": code}) == (200, {"name": "Ida", "role": "booth", "local": False})
        assert device.asks("/api/runs")[0] == 200
        server.kill()
    with running(*serve) as server:
        again = Device(server)
        again.cookie = device.cookie
        assert again.asks("/api/me") == (200, {"name": "Ida", "role": "booth", "local": False})
        with again.desk(server.run_ids[0]) as screen:
            assert json.loads(screen.recv(timeout=PATIENCE_S))["type"] == "snapshot"
            (line,) = [line for line in ended("pairings", "--data", tmp_path).stdout.splitlines() if "Ida" in line]
            assert "connected" in line
            told = ended("pairings", "--data", tmp_path, "--withdraw", line.split()[0])
            assert "No device is paired" in told.stdout
            with pytest.raises(ConnectionClosedError) as closed:
                _read_all(screen)
        assert closed.value.rcvd is not None
        assert closed.value.rcvd.code == 4403
        assert again.asks("/api/me")[0] == 401
        server.kill()
    with running(*serve) as server:
        last = Device(server)
        last.cookie = device.cookie
        assert last.asks("/api/me")[0] == 401


def _read_all(screen: ClientConnection) -> None:
    while True:
        screen.recv(timeout=PATIENCE_S)


def test_no_secret_is_told_where_it_may_be_kept(tmp_path: Path) -> None:
    """Whatever happens, what the server prints has no code and no session, and neither has any file but the key's."""
    with running("serve", PAIR, "--data", tmp_path, "--port", "0", "--host", "0.0.0.0") as server:
        device = Device(server)
        code = code_for("Ida", tmp_path)
        device.asks("/api/pairing", {"code": "0000-0000"})
        device.asks("/api/pairing", {"code": code})
        device.asks("/api/pairing", {"code": code, "name": "x" * 100})
        device.asks("/api/nothing")
        _, secret, mark = device.cookie.partition("=")[2].split(".")
        kept = b"".join(path.read_bytes() for path in tmp_path.iterdir() if path.name != "session.key")
        assert b"Ida" in kept
        assert [each for each in (code, code.replace("-", ""), secret, mark) if each.encode() in kept] == []
        server.process.terminate()
        said = server.said + server.process.communicate(timeout=PATIENCE_S)[0]
    assert [each for each in (code, code.replace("-", ""), secret, mark) if each in said] == []


def test_a_terminal_is_shown_a_code(tmp_path: Path) -> None:
    """Whoever started the server reads it, with its QR code; it pairs one device once it is said whose that is."""
    import pty

    reader, terminal = pty.openpty()
    arguments = ["serve", str(PAIR), "--data", str(tmp_path), "--port", "0", "--host", "0.0.0.0"]
    with Forked(*arguments, output=terminal, errors=terminal) as process:
        os.close(terminal)
        try:
            said = _until_ready(reader)
            (code,) = CODE.findall(said)
            assert said.count("\u2588") > 100
            number = re.search(r":(\d+)/pair", said)
            assert number
            device = Device(_at(number[1]))
            status, answer = device.asks("/api/pairing", {"code": code})
            assert (status, answer["wants_name"]) == (403, True)
            assert device.asks("/api/pairing", {"code": code, "name": "Ida"})[1]["name"] == "Ida"
        finally:
            process.terminate()
    os.close(reader)


def _at(number: str) -> Running:
    found = Running.__new__(Running)
    found.host = f"localhost:{number}"
    return found


def _until_ready(reader: int) -> str:
    said = b""
    while b"Ctrl-C" not in said:
        said += os.read(reader, 65536)
    return said.decode()


def test_a_certificate_is_made_and_used(tmp_path: Path) -> None:
    """Made, served and trusted: pages, pairing and websockets by TLS, and the commands find the server too."""
    data = tmp_path / "data"
    told = ended("certificate", "--folder", tmp_path / "tls")
    assert told.returncode == 0
    assert re.search(r"SHA-256 +([0-9A-F]{2}:){31}[0-9A-F]{2}\n", told.stdout)
    files = ("--certificate", tmp_path / "tls/festoon.crt", "--key", tmp_path / "tls/festoon-key.pem")
    with running("serve", PAIR, "--data", data, "--port", "0", "--host", "0.0.0.0", *files) as server:
        assert "https://localhost:" in server.said
        assert "Without a certificate" not in server.said
        device = Device(server, issuer=tmp_path / "tls/festoon-issuer.crt")
        code = code_for("Wall", data, "--role", "look")
        assert device.asks("/api/pairing", {"code": code})[1] == {"name": "Wall", "role": "look", "local": False}
        assert device.cookie.startswith("__Host-festoon=")
        with device.desk(server.run_ids[0]) as screen:
            kinds = [json.loads(screen.recv(timeout=PATIENCE_S))["type"] for _ in range(2)]
            assert kinds == ["snapshot", "beat"]
            screen.send(json.dumps({"type": "event", "event": {"id": "e1", "kind": "note", "text": "x"}}))
            assert json.loads(screen.recv(timeout=PATIENCE_S))["type"] == "refused"
    assert ended("certificate", "--folder", tmp_path / "tls").returncode == 2


def test_a_device_of_the_houses_is_paired_by_command(tmp_path: Path) -> None:
    """It may report from a house and read what the lobby does, and is listed as what it is."""
    report = {"id": "r1", "kind": "report", "station": "a", "what": "no_sound", "source": "tap"}
    with running("serve", PAIR, "--data", tmp_path, "--port", "0", "--host", "0.0.0.0") as server:
        device = Device(server)
        code = code_for("Otto", tmp_path, "--role", "report")
        assert device.asks("/api/pairing", {"code": code})[1] == {"name": "Otto", "role": "report", "local": False}
        assert device.asks("/api/library")[0] == 403
        assert device.asks(f"/api/runs/{server.run_ids[0]}/events", report)[0] == 200
        (line,) = [line for line in ended("pairings", "--data", tmp_path).stdout.splitlines() if "Otto" in line]
        assert line.split()[1] == "report"
    assert "report" in ended("pair", "--help").stdout


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [
        (["pair", "Ida"], "No Festoon is serving"),
        (["pairings"], "No Festoon is serving"),
        (["certificate", "--names", "two words"], "accepted are names such as"),
        (["serve", str(PAIR), "--port", "0", "--certificate", "x.pem"], "TLS needs both"),
        (["serve", str(PAIR), "--port", "0", "--certificate", "x.pem", "--key", "y.pem"], "there is no such file"),
    ],
)
def test_what_cannot_be_done_is_told(tmp_path: Path, arguments: list[str], reason: str) -> None:
    """One sentence on standard error, status 2."""
    more = ["--data", str(tmp_path)] if arguments[0] != "certificate" else ["--folder", str(tmp_path)]
    told = ended(*arguments, *more)
    assert (told.returncode, told.stdout, told.stderr.count("\n")) == (2, "", 1)
    assert reason in told.stderr


def test_a_server_for_this_computer_alone_pairs_nobody(tmp_path: Path) -> None:
    """Where others cannot come a code would be of no use: that is said, and what to do."""
    with running("serve", PAIR, "--data", tmp_path, "--port", "0"):
        told = ended("pair", "Ida", "--data", tmp_path)
    assert (told.returncode, told.stdout) == (2, "")
    assert "start it with --host" in told.stderr
