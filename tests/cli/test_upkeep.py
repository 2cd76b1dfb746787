"""A server as whoever looks after it sees it: a process of its own, its health, its figures and its log."""

import json
import re
import tempfile
from pathlib import Path

import httpx
from prometheus_client.parser import text_string_to_metric_families

from tests.cli.running import PAIR, PATIENCE_S, Running
from tests.forked import Forked, ended


def test_a_server_in_the_open(tmp_path: Path) -> None:
    """Up, ready, measured, found well by the doctor; its log has a line for each thing, and no code or session."""
    data = tmp_path / "data"
    variables = {"FESTOON_LOG": "json", "FESTOON_DATA": str(data)}
    with tempfile.TemporaryFile("w+", encoding="utf-8") as errors:
        arguments = ("serve", PAIR, "--port", "0", "--host", "0.0.0.0")
        with Forked(*arguments, variables=variables, errors=errors.fileno()) as process:
            server = Running(process)
            run = server.run_ids[0]
            with httpx.Client(base_url=f"http://{server.host}", trust_env=False) as here:
                assert [here.get(path).json() for path in ("/healthz", "/readyz")] == [{"up": True}] * 2
                made = here.post("/api/pairings/codes", json={"name": "Ida", "role": "booth"}).json()
                cookie = here.post("/api/pairing", json={"code": made["code"]}).cookies["festoon"]
                here.post("/api/pairing", json={"code": "0000-0000"})
                motor = {"id": "e1", "kind": "motor_start", "station": "h3", "source": "tap"}
                here.post(f"/api/runs/{run}/events", json=motor)
                figures = here.get("/metrics").text
            doctor = ended("doctor", "--data", data, "--port", "0")
            process.terminate()
            process.communicate(timeout=PATIENCE_S)
        errors.seek(0)
        lines = errors.read().splitlines()
    families = {family.name for family in text_string_to_metric_families(figures)}
    assert {"festoon_desks", "festoon_alarms_on", "festoon_log_write_seconds", "process_open_fds"} <= families
    assert (doctor.returncode, "can write its log" in doctor.stdout) == (0, True)
    said = [json.loads(line) for line in lines]
    texts = [line["text"] for line in said]
    assert {"serving", "device paired", "a code was refused"} <= set(texts)
    (taken,) = [line for line in said if line.get("event") == "e1"]
    assert (taken["run"], taken["kind"]) == (run, "motor_start")
    whole = "\n".join(lines)
    secret = cookie.split(".")[1]
    assert not [word for word in (made["code"], secret, cookie) if word in whole]
    assert not re.search(r"Traceback|BEGIN", whole)
