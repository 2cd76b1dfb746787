"""The `festoon` command as a process of its own."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from subprocess import STDOUT
from typing import IO

from tests.forked import Forked

ROOT = Path(__file__).parents[2]
PAIR = ROOT / "fixtures" / "plans" / "pair.plan.toml"
PATIENCE_S = 20.0


class Running:
    """A server that has said where it is: `said` is all that it printed so far."""

    def __init__(self, process: Forked) -> None:
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
    with Forked(*arguments, variables=environment, errors=STDOUT) as process:
        try:
            yield Running(process)
        finally:
            process.terminate()
            process.communicate(timeout=PATIENCE_S)
