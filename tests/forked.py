"""The `festoon` command in a process of its own, forked from one that has read the program already.

A process that starts from nothing spends a second of the processor on reading it, and tests start hundreds.
"""

import multiprocessing
import os
import signal
import sys
import time
from collections.abc import Mapping
from multiprocessing.connection import Connection
from pathlib import Path
from subprocess import STDOUT, CompletedProcess
from tempfile import TemporaryFile
from threading import Timer
from types import TracebackType
from typing import IO, Self

_CONTEXT = multiprocessing.get_context("forkserver")
_CONTEXT.set_forkserver_preload([__name__, "server.assemble", "server.cli"])


class Forked:
    """`festoon` with these arguments; its methods do what those of `subprocess.Popen` do.

    It says what it says in `stdout`, or to the file descriptor `output`; its standard error goes to `errors`, to the
    same place where that is STDOUT, and without it where this process's goes. `variables` are added to its environment.
    """

    def __init__(
        self,
        *arguments: str | Path,
        variables: Mapping[str, str] | None = None,
        output: int | None = None,
        errors: int | None = None,
    ) -> None:
        read_asked, write_asked = os.pipe()
        read_said, write_said = os.pipe()
        said = write_said if output is None else output
        ends = {0: read_asked, 1: said} | ({} if errors is None else {2: said if errors == STDOUT else errors})
        given = {number: Connection(os.dup(end)) for number, end in ends.items()}
        surroundings = {**os.environ, **(variables or {})}
        self._process = _CONTEXT.Process(target=_run, args=([*map(str, arguments)], given, surroundings))
        self._process.start()
        for end in given.values():
            end.close()
        os.close(read_asked)
        os.close(write_said)
        self.stdin: IO[str] = os.fdopen(write_asked, "w", buffering=1, encoding="utf-8")
        self.stdout: IO[str] = os.fdopen(read_said, encoding="utf-8")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.stdin.close()
        self._process.join()
        self.stdout.close()

    @property
    def returncode(self) -> int | None:
        return self._process.exitcode

    def poll(self) -> int | None:
        return self._process.exitcode

    def send_signal(self, number: signal.Signals) -> None:
        if self._process.exitcode is None and self._process.pid is not None:
            os.kill(self._process.pid, number)

    def terminate(self) -> None:
        self.send_signal(signal.SIGTERM)

    def kill(self) -> None:
        self.send_signal(signal.SIGKILL)

    def wait(self, timeout: float | None = None) -> int:
        self._process.join(timeout)
        if self._process.exitcode is None:
            raise TimeoutError(f"festoon did not end within {timeout} s")
        return self._process.exitcode

    def communicate(self, timeout: float) -> tuple[str, None]:
        """What it says from now on; TimeoutError where it goes on for longer than that, which ends it."""
        too_late = Timer(timeout, self.kill)
        too_late.start()
        said = self.stdout.read()
        in_time = too_late.is_alive()
        too_late.cancel()
        self._process.join()
        if not in_time:
            raise TimeoutError(f"festoon did not end within {timeout} s; it said {said!r}")
        return said, None


def ended(*arguments: str | Path, said: str = "", timeout_s: float = 20.0) -> CompletedProcess[str]:
    """`festoon` with these arguments, which ends by itself; `said` is what it reads."""
    with TemporaryFile("w+", encoding="utf-8") as errors, Forked(*arguments, errors=errors.fileno()) as process:
        process.stdin.write(said)
        told, _ = process.communicate(timeout_s)
        errors.seek(0)
        return CompletedProcess(arguments, process.wait(), told, errors.read())


def _run(arguments: list[str], ends: dict[int, Connection], surroundings: dict[str, str]) -> None:
    for number, end in ends.items():
        os.dup2(end.fileno(), number)
        end.close()
    # multiprocessing gave it no input, and what it has written with belongs to another process.
    sys.stdin, sys.stdout, sys.stderr = open(0), open(1, "w"), open(2, "w", buffering=1)  # noqa: SIM115
    os.environ.clear()
    os.environ.update(surroundings)
    time.tzset()
    sys.argv = ["festoon", *arguments]
    from server.cli import main

    main()
