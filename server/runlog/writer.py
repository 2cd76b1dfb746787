"""The one thread that writes: whatever has been asked for by the time it looks goes to disk in one commit."""

import queue
import threading
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import suppress
from typing import NamedTuple

from sqlalchemy import Connection, Engine

from server.runlog.faults import NotTaken, RunLogFault, fault_from_error, is_of_the_database, is_passing

Write = Callable[[Connection], int]

MOST_IN_A_COMMIT = 500
"""Writes in one commit: chosen so that none waits long for the others."""

COMMITS_A_CHECKPOINT = 200
"""A checkpoint takes 2 to 9 ms: after this many commits (some 800 pages) the next pause is used for it. Chosen."""

PAUSE_S = 0.05
"""A gap this long is a pause: longer than any burst of contacts. Chosen."""


class _Asked(NamedTuple):
    write: Write
    result: Future[int]


class Writer:
    """Runs writes one after another in a thread of its own; each result is set once it is on disk.

    A write that raises takes the others of its commit with it. Each is then tried by itself, unless it is the database
    that fails, which fails them all. In the thread `before` is called before every commit, which raises where there may
    be none. `undone` whenever a commit came to nothing, and `checkpoint` in pauses. `place` is what messages call the
    database.
    """

    def __init__(
        self,
        engine: Engine,
        place: str,
        undone: Callable[[], None],
        checkpoint: Callable[[Connection], None],
        before: Callable[[], None],
    ) -> None:
        # One connection for good: taking it from the pool for every commit costs as much as the insert.
        self._connection = engine.connect()
        self._engine = engine
        self._before = before
        self._place = place
        self._undone = undone
        self._checkpoint = checkpoint
        self._commits = 0
        self._queue: queue.SimpleQueue[_Asked | None] = queue.SimpleQueue()
        self._closed = False
        self._thread = threading.Thread(target=self._run, name="festoon-log", daemon=True)
        self._thread.start()

    def ask(self, write: Write) -> Future[int]:
        """Have `write` called inside a transaction; the result is what it gives, or a RunLogFault."""
        result: Future[int] = Future()
        if self._closed:
            result.set_exception(RunLogFault(f"The log in {self._place} is closed: start Festoon again."))
        else:
            self._queue.put(_Asked(write, result))
        return result

    def close(self) -> None:
        """Write what has been asked for, end the thread, and let go of its connection."""
        self._closed = True
        self._queue.put(None)
        self._thread.join()
        self._connection.close()

    def _run(self) -> None:
        while (first := self._next()) is not None:
            asked = [first, *self._waiting()]
            self._commit([each for each in asked if each.result.set_running_or_notify_cancel()])

    def _next(self) -> _Asked | None:
        """The next write, waited for; None when there will be no more."""
        if self._commits >= COMMITS_A_CHECKPOINT:
            try:
                return self._queue.get(timeout=PAUSE_S)
            except queue.Empty:
                self._commits = 0
                if not self._connection.closed:
                    self._checkpoint(self._connection)
        return self._queue.get()

    def _waiting(self) -> list[_Asked]:
        """What else has been asked for by now; an end among it is put back, for it is the last."""
        waiting: list[_Asked] = []
        while len(waiting) < MOST_IN_A_COMMIT - 1:
            try:
                asked = self._queue.get_nowait()
            except queue.Empty:
                break
            if asked is None:
                self._queue.put(None)
                break
            waiting.append(asked)
        return waiting

    def _commit(self, asked: list[_Asked]) -> None:
        try:
            self._before()
            if self._connection.closed:
                self._connection = self._engine.connect()
            with self._connection.begin():
                results = [each.write(self._connection) for each in asked]
        except Exception as error:  # noqa: BLE001 - the thread must outlive it; whoever asked is told
            self._failed(asked, error)
            return
        self._commits += 1
        for each, result in zip(asked, results, strict=True):
            each.result.set_result(result)

    def _failed(self, asked: list[_Asked], error: Exception) -> None:
        self._undone()
        if is_of_the_database(error):
            self._let_go(error)
        fault = fault_from_error(error, self._place)
        if is_of_the_database(error):
            for each in asked:
                each.result.set_exception(fault)
        elif len(asked) == 1:
            asked[0].result.set_exception(NotTaken(str(fault)))
        else:
            for each in asked:
                self._commit([each])

    def _let_go(self, error: Exception) -> None:
        """Take a new connection next time, unless this one goes on once there is room or the lock is gone."""
        if not is_passing(error):
            with suppress(Exception):
                self._connection.invalidate()
            self._connection.close()
