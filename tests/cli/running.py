"""The `festoon` command as a process of its own."""

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

COMMAND = [sys.executable, "-c", "from server.cli import main; main()"]
ROOT = Path(__file__).parents[2]
PAIR = ROOT / "fixtures" / "plans" / "pair.plan.toml"
PATIENCE_S = 20.0


class Running:
    """A server that has said where it is: `said` is all that it printed so far."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout is not None
        self.process = process
        self.said = "".join(_until(process.stdout, "Ctrl-C"))
        found = re.search(r"https?://([^/\s]+)/", self.said)
        assert found, self.said
        self.host = found[1]
        self.run_ids = re.findall(r"^(\S+)\n  wall ", self.said, re.MULTILINE)

    def kill(self) -> None:
        """As a power cut would."""
        self.process.kill()
        self.process.wait(PATIENCE_S)


def _until(lines: IO[str], word: str) -> Iterator[str]:
    for line in lines:
        yield line
        if word in line:
            return


@contextmanager
def running(*arguments: str | Path, **environment: str) -> Iterator[Running]:
    """`festoon` with these arguments, until the block ends."""
    surroundings = {**os.environ, "PYTHONUNBUFFERED": "1", "PYTHONPATH": str(ROOT), **environment}
    process = subprocess.Popen(
        [*COMMAND, *map(str, arguments)], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=surroundings
    )
    with process:
        try:
            yield Running(process)
        finally:
            process.terminate()
            process.communicate(timeout=PATIENCE_S)
