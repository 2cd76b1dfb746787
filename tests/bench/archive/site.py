"""A site whose server is a process of its own, tapped over HTTP."""

import json
import shutil
import urllib.error
import urllib.request
from http.client import HTTPException
from pathlib import Path
from time import perf_counter

from tests.browser.served import written_plan
from tests.cli.running import Running
from tests.forked import Forked

PATIENCE_S = 10.0


class TappedSite:
    """Serves one run of two houses; `url` is its archive, none where it is empty. Its log begins with `past`."""

    def __init__(self, folder: Path, url: str, past: Path | None = None) -> None:
        folder.mkdir()
        self.log = folder / "log"
        if past is not None:
            shutil.copytree(past, self.log)
        self._plan = written_plan(folder)
        self._archive = ["--archive", url] if url else []
        self.start()

    def start(self) -> None:
        """Start it, where it left off."""
        self._server = Running(Forked("serve", self._plan, "--port", "0", "--data", self.log, *self._archive))
        (self.run,) = self._server.run_ids

    def kill(self) -> None:
        """As a power cut would."""
        self._server.kill()
        self._server.process.stdin.close()
        self._server.process.stdout.close()

    def tap(self, name: str) -> float | None:
        """Tell something; how long the answer took, None where it was not taken."""
        said = {"id": name, "kind": "note", "source": "tap:pad", "text": name}
        address = f"http://{self._server.host}/api/runs/{self.run}/events"
        asked = urllib.request.Request(address, json.dumps(said).encode(), {"content-type": "application/json"})
        begun = perf_counter()
        try:
            with urllib.request.urlopen(asked, timeout=PATIENCE_S) as answer:
                answer.read()
        except (urllib.error.URLError, HTTPException, OSError):
            return None
        return perf_counter() - begun
