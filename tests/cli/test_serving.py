"""`festoon serve` and `festoon demo` as whole processes."""

import json
import re
import signal
import socket
import urllib.request
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from websockets.sync.client import ClientConnection, connect

from server.runlog import RunLog
from tests.cli.running import PAIR, PATIENCE_S, Running, running
from tests.commands.logs import said
from tests.runlog.damaging import flip

pytestmark = pytest.mark.slow
Json = dict[str, Any]


def fetched(server: Running, path: str) -> Any:
    with urllib.request.urlopen(f"http://{server.host}{path}", timeout=PATIENCE_S) as answer:
        return json.load(answer)


def desk(server: Running) -> ClientConnection:
    address = f"ws://{server.host}/api/runs/{server.run_ids[0]}/live"
    return connect(address, proxy=None, compression=None, open_timeout=PATIENCE_S)


def answered(screen: ClientConnection) -> Json:
    """The next answer to something that this desk said."""
    while True:
        message: Json = json.loads(screen.recv(timeout=PATIENCE_S))
        if message["type"] in {"taken", "refused"}:
            return message


def reported(screen: ClientConnection, number: int) -> None:
    tap = {"id": f"e{number}", "kind": "slack_read", "station": "b", "seconds": number / 1000, "source": "tap:pad"}
    screen.send(json.dumps({"type": "event", "event": tap}))


def plan_for_now(folder: Path, title: str = "Pair") -> Path:
    """The pair of houses, with its motors started this minute."""
    text = PAIR.read_text(encoding="utf-8").replace("2026-03-14T23:50:00Z", f"{datetime.now(UTC):%Y-%m-%dT%H:%M:00Z}")
    path = folder / f"{title}.plan.toml"
    path.write_text(text.replace('title = "Pair"', f'title = "{title}"'), encoding="utf-8")
    return path


def test_what_was_acknowledged_survives_a_kill(tmp_path: Path) -> None:
    """Killed while taps pour in, the server comes back with every one that it answered, in the same state."""
    arguments = ("serve", plan_for_now(tmp_path), "--data", tmp_path / "data", "--port", "0")
    with running(*arguments) as server, desk(server) as screen:
        for number in range(40):
            reported(screen, number)
        acknowledged = [answered(screen) for _ in range(20)]
        server.kill()
    assert [answer["type"] for answer in acknowledged] == ["taken"] * 20
    with running(*arguments) as again, desk(again) as screen:
        assert again.run_ids == server.run_ids
        first = json.loads(screen.recv(timeout=PATIENCE_S))
        assert [event["id"] for event in first["events"]][:20] == [answer["id"] for answer in acknowledged]
        for number in range(20):
            reported(screen, number)
        assert [answered(screen) for _ in range(20)] == acknowledged
        again.kill()
    with running(*arguments) as third, desk(third) as screen:
        last = json.loads(screen.recv(timeout=PATIENCE_S))
    assert last["events"] == first["events"]
    before, after = ([link["slack_var"][0] for link in one["view"]["links"]] for one in (first, last))
    assert after == pytest.approx(before, rel=1e-3)


def test_a_damaged_log_is_served_and_every_desk_says_what_is_lost(tmp_path: Path) -> None:
    """Whoever starts the server and whoever looks at a desk is told, and the run goes on."""
    arguments = ("serve", plan_for_now(tmp_path), "--data", tmp_path / "data", "--port", "0")
    with running(*arguments) as server, desk(server) as screen:
        for number in range(40):
            reported(screen, number)
        assert all(answered(screen)["type"] == "taken" for _ in range(40))
    file = tmp_path / "data" / "festoon.db"
    flip(file, file.read_bytes().index(b'"slack_read"') // 4096 * 4096, 40, 1)
    with running(*arguments) as again, desk(again) as screen:
        first = json.loads(screen.recv(timeout=PATIENCE_S))
        reported(screen, 99)
        assert answered(screen)["type"] == "taken"
    assert "The log was damaged: event" in again.said
    assert first["warnings"][0].startswith("The log was damaged: event")
    assert any("was damaged" in event.get("text", "") for event in first["events"])
    assert len(first["events"]) > 10


def test_two_plans_are_two_runs(tmp_path: Path) -> None:
    """The lobby sees both at once, under names of their own."""
    plans = [plan_for_now(tmp_path, title) for title in ("Salt Road", "Nobody's Orchard")]
    with running("serve", *plans, "--data", tmp_path / "data", "--port", "0") as server:
        runs = fetched(server, "/api/runs")
    assert [run["title"] for run in runs] == ["Salt Road", "Nobody's Orchard"]
    assert [run["run"] for run in runs] == server.run_ids
    assert [run["run"][:-16] for run in runs] == ["salt-road", "nobodys-orchard"]


def test_a_changed_plan_is_another_run(tmp_path: Path) -> None:
    """What was observed belongs to the plan that it was observed under: the change is said, and the old run kept."""
    plan = plan_for_now(tmp_path)
    arguments = ("serve", plan, "--data", tmp_path / "data", "--port", "0")
    with running(*arguments) as server:
        (name,) = server.run_ids
    before = plan.read_text(encoding="utf-8")
    plan.write_text(before + "# measured again\n", encoding="utf-8")
    with running(*arguments) as server:
        assert server.run_ids == [f"{name}-2"]
        assert f"is not the plan that {name} began with" in server.said
    plan.write_text(before, encoding="utf-8")
    with running(*arguments) as server:
        assert server.run_ids == [name]


def test_a_recording_is_played(tmp_path: Path) -> None:
    """Its events come by the run's clock; a line that is none is told, and the rest stands."""
    head = {"kind": "mark_pass", "station": "a", "mark": "head"}
    lines: list[Json] = [
        {"id": "1", "t": "2026-03-14T23:50:00Z", "source": "recording", "kind": "chain_start"},
        {"id": "2", "t": "2026-03-14T23:50:40Z", "source": "recording", **head},
    ]
    recording = tmp_path / "short.events.jsonl"
    recording.write_text("".join(f"{json.dumps(line)}\n" for line in lines) + "no event\n", encoding="utf-8")
    arguments = ("serve", PAIR, "--data", tmp_path / "data", "--port", "0", "--events", recording, "--speed", "200")
    with running(*arguments) as server, desk(server) as screen:
        events: list[str] = []
        while "2" not in events:
            message = json.loads(screen.recv(timeout=PATIENCE_S))
            events += [event["id"] for event in message.get("events", [])]
        assert [event for event in events if event in {"1", "2"}] == ["1", "2"]
    with running(*arguments) as again:
        assert "goes on" in again.said


def test_the_demonstration_needs_nothing_and_leaves_nothing(tmp_path: Path) -> None:
    """It has its own plan, events and clock, keeps its log in a temporary folder, and takes that away at the end."""
    (tmp_path / "temporary").mkdir()
    with running("demo", "--port", "0", TMPDIR=str(tmp_path / "temporary"), HOME=str(tmp_path)) as server:
        (run,) = fetched(server, "/api/runs")
        snapshot = fetched(server, f"/api/runs/{run['run']}")
        assert run["demo"]
        assert snapshot["info"]["speed"] == 20.0
        assert -200.0 < snapshot["now_s"] < 400.0
        assert list((tmp_path / "temporary").iterdir()) != []
        for _ in range(3):
            server.process.send_signal(signal.SIGTERM)
        server.process.communicate(timeout=PATIENCE_S)
    assert server.process.returncode == 0
    assert list((tmp_path / "temporary").iterdir()) == []
    assert [path.name for path in tmp_path.iterdir()] == ["temporary"]


def test_the_demonstration_takes_another_port() -> None:
    """Where the usual port is in use the demonstration goes elsewhere, and says where."""
    with socket.create_server(("127.0.0.1", 0)) as other:
        number = str(other.getsockname()[1])
        with running("demo", FESTOON_PORT=number) as server:
            assert server.host != f"127.0.0.1:{number}"
            assert f"Port {number} is in use" in server.said


def test_an_interrupt_is_no_error(tmp_path: Path) -> None:
    """Ctrl-C ends the server, its desks included, at once and with status 0."""
    with running("serve", PAIR, "--data", tmp_path, "--port", "0") as server, desk(server) as screen:
        screen.recv(timeout=PATIENCE_S)
        server.process.send_signal(signal.SIGINT)
        server.process.communicate(timeout=PATIENCE_S)
        assert server.process.returncode == 0


def test_a_server_open_to_others_says_how_they_come_in(tmp_path: Path) -> None:
    """Where, and by which command; no code goes where it may be kept. A server for this computer alone says nothing."""
    with running("serve", PAIR, "--data", tmp_path, "--port", "0", "--host", "0.0.0.0") as server:
        assert re.search(r"\n  pair   http://\S+/pair, with a code that festoon pair NAME shows", server.said)
        assert f"\n  paired http://{server.host}/pairings\n" in server.said
        assert "Without a certificate" in server.said
    with running("serve", PAIR, "--data", tmp_path, "--port", "0") as server:
        assert "pair" not in server.said.replace(server.run_ids[0], "")


def test_without_a_plan_the_log_is_there_for_a_debrief(tmp_path: Path) -> None:
    """After the show a server without live runs opens what was written down."""
    with running("serve", plan_for_now(tmp_path), "--data", tmp_path / "data", "--port", "0") as server:
        (run,) = server.run_ids
    with running("serve", "--data", tmp_path / "data", "--port", "0") as server:
        assert server.run_ids == []
        assert f"http://{server.host}/library" in server.said
        assert fetched(server, "/api/runs") == []
        assert [line["run"] for line in fetched(server, "/api/library")["runs"]] == [run]
        assert fetched(server, f"/api/debriefs/{run}")["live"] is False


def test_a_log_is_backed_up_while_a_server_writes_to_it(tmp_path: Path) -> None:
    """A backup made in the middle of a show has every tap that was answered before it, and opens as a log."""
    arguments = ("serve", plan_for_now(tmp_path), "--data", tmp_path / "data", "--port", "0")
    with running(*arguments) as server, desk(server) as screen:
        for number in range(40):
            reported(screen, number)
        acknowledged = [answered(screen)["id"] for _ in range(20)]
        assert said("backup", tmp_path / "b", "--data", tmp_path / "data").status == 0
        for number in range(40, 60):
            reported(screen, number)
        assert [answered(screen)["type"] for _ in range(40)] == ["taken"] * 40
        refusal = said("restore", tmp_path / "b", "--data", tmp_path / "data", "--replace")
        assert (refusal.status, "Another Festoon is using" in refusal.err) == (2, True)
    assert said("restore", tmp_path / "b", "--data", tmp_path / "new").status == 0
    with closing(RunLog.open(tmp_path / "new")) as log:
        kept = [stored.event.id for stored in log.events(server.run_ids[0])]
    assert kept[:20] == acknowledged
    assert kept == [f"e{number}" for number in range(len(kept))]


def test_what_goes_through_runs_ends_with_a_server_that_is_killed(tmp_path: Path) -> None:
    """Nothing of a server is left when it is killed after a debrief was opened."""
    arguments = ("serve", plan_for_now(tmp_path), "--data", tmp_path / "data", "--port", "0")
    with running(*arguments) as server, desk(server) as screen:
        reported(screen, 1)
        assert answered(screen)["type"] == "taken"
        assert fetched(server, f"/api/debriefs/{server.run_ids[0]}/events")["events"]
        server.kill()
        # Its output is held open by whatever of it is left.
        assert server.process.stdout.read() is not None
