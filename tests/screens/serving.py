"""A state as a server shows it to desks."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.request import Request, urlopen

from tests.browser.served import Served, served, served_plans
from tests.screens.states import State, events_of, plan_text

ANSWER_S = 20.0


@contextmanager
def shown(state: State) -> Iterator[Served]:
    """Serve the runs of a state, each as far as its show has come, and end that afterwards."""
    with TemporaryDirectory() as folder:
        if not state.shows:
            with served("serve", "--port", "0", "--data", folder) as server:
                yield server
            return
        texts = [plan_text(show) for show in state.shows]
        files = [Path(folder) / f"show{number}.plan.toml" for number in range(len(texts))]
        for file, text in zip(files, texts, strict=True):
            file.write_text(text, encoding="utf-8")
        with served_plans(*files) as server:
            for run, (show, text) in zip(runs_of(server), zip(state.shows, texts, strict=True), strict=True):
                for event in events_of(show, text):
                    _report(server, run, event)
            yield server


def runs_of(server: Served) -> list[str]:
    """The ids of the runs, in the order of their plans."""
    with urlopen(f"{server.base}/api/runs", timeout=ANSWER_S) as answer:
        return [line["run"] for line in json.load(answer)]


def _report(server: Served, run: str, event: dict[str, object]) -> None:
    body = json.dumps(event).encode()
    address = f"{server.base}/api/runs/{run}/events"
    with urlopen(Request(address, body, {"content-type": "application/json"}), timeout=ANSWER_S) as answer:
        answer.read()
