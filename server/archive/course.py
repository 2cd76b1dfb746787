"""What is to be sent next over one connection: the site's log held against what the archive says it has."""

from collections.abc import Callable, Iterable, Mapping
from datetime import date
from typing import Any, Final, NamedTuple

from sqlalchemy import Connection
from sqlalchemy.exc import DataError, IntegrityError

from server.archive.sending import Branch, Sender, Sum, Summed
from server.runlog.raw import RawEvent, RawLog, RawRun, Tops

MOST: Final = 200
"""Events in one transaction: what is held in memory of a log of any length. Chosen."""

WHOLE_S: Final = 60.0
"""Between two looks at all runs, for what no last row tells: brought back, removed, its plan restored. Chosen."""

Json = dict[str, Any]
Note = Callable[[str, str], None]
"""Takes what a note is about and its sentence."""


class _WentApart(Exception):
    """The archive has another event of a number that was to be sent."""


_NOT_TAKEN = (DataError, IntegrityError, UnicodeError)
"""It is what was sent that the archive cannot take: it would not at any other time either."""


class _Sent(NamedTuple):
    branch: Branch
    events: int


class Course:
    """One connection's worth of forwarding. `note` is told what somebody should know; `now_s` are real seconds.

    Raises what SQLAlchemy and the log raise, and ArchiveFault: nothing is lost by that, another course begins anew.
    """

    def __init__(self, connection: Connection, log: RawLog, note: Note, now_s: Callable[[], float]) -> None:
        self._connection = connection
        self._log = log
        self._note = note
        self._now_s = now_s
        with connection.begin():
            self._sender = Sender.begin(connection)
            self._shown = {run: Json() for run in self._sender.shown()}
        self.site = self._sender.site
        self.branches: dict[str, Branch] = {}
        self.there: dict[str, int | None] = {}
        """How far the archive is with each run of the log; None for one that it does not take."""
        self._numbers: dict[str, int] = {}
        self._runs: dict[str, RawRun] = {}
        self._months: dict[str, date] = {}
        self._last: dict[str, int] = {}
        # In the order of the log, as a dict is: what is asked at every turn must not grow with the runs of years.
        self._due: dict[str, None] = {}
        # What grows by another history after a restore shows that only then: matched anew whenever it grows.
        self._behind: set[str] = set()
        self._aside: set[str] = set()
        self._version, self._tops, self._looked_s, self._is_whole = -1, Tops(0, 0, 0, 0), float("-inf"), False
        self.look()

    @property
    def waiting(self) -> int:
        """How many events the archive does not have yet."""
        return sum(max(0, self._last[run] - self._events_of(run)) for run in self._due)

    def look(self) -> None:
        """See what the log has now: what was written since, and now and then all of it."""
        version = self._log.data_version()
        is_time = self._now_s() - self._looked_s >= WHOLE_S
        if version == self._version and (self._is_whole or not is_time):
            return
        tops = self._log.tops()
        self._is_whole = is_time or not self._log.are_there(self._tops)
        if self._is_whole:
            self._look_at_all()
        else:
            # First what grew: every run of it is among those that are read after it.
            touched = self._log.touched(self._tops)
            self._take(self._log.since(self._tops), touched)
        self._tops, self._version = tops, version

    def send(self) -> int:
        """Send what comes next, in one transaction; how many events that were. 0: all is there."""
        self.look()
        wanted = list(self._due)
        try:
            return self._send(wanted)
        except _WentApart as apart:
            self._match_again(str(apart))
            return 1
        except _NOT_TAKEN:
            return sum(self._send_alone(run) for run in wanted)

    def gone_back(self, had: Mapping[str, Branch]) -> int:
        """Of how many runs that the log still has the archive knows less than another course `had` of it, by run."""
        there = {branch.run: branch.events for branch in self.branches.values()}
        return sum(
            there.get(branch.run, 0) < branch.events
            for run, branch in had.items()
            if run in self._runs and self._runs[run].created == branch.created
        )

    def is_there(self) -> None:
        """Ask the archive whether it is there, when there is nothing to be said. Raises what SQLAlchemy raises."""
        with self._connection.begin():
            Sender.begin(self._connection)

    def show(self, pictures: Mapping[str, Json], *, is_heard: bool) -> None:
        """Say how the live runs stand, by what the site calls them; `is_heard` also that the site is there."""
        known = {self.branches[run].run: picture for run, picture in pictures.items() if run in self.branches}
        changed = {run: picture for run, picture in known.items() if self._shown.get(run) != picture}
        gone = [run for run in self._shown if run not in known]
        if not (changed or gone or is_heard):
            return
        with self._connection.begin():
            if changed or gone:
                self._sender.show(changed, gone)
            if is_heard:
                self._sender.hear(self.waiting)
        self._shown = known

    def _look_at_all(self) -> None:
        runs = self._log.runs()
        names = {run.run for run in runs}
        for gone in self._runs.keys() - names:
            for known in (self._runs, self._last, self._due, self._numbers, self.there, self.branches):
                known.pop(gone, None)
        self._behind &= names
        self._aside &= names
        self._take(runs, dict.fromkeys(self._behind, 0))
        self._looked_s = self._now_s()

    def _take(self, runs: Iterable[RawRun], touched: Mapping[str, int]) -> None:
        """Know of these runs as they are now, and of those that have grown how far."""
        new = {run.run for run in runs if run.run not in self._runs or self._runs[run.run].created != run.created}
        grown = touched.keys() & (self._runs.keys() | new)
        self._runs |= {run.run: run for run in runs}
        self._last |= {run: max(touched[run], self._last.get(run, 0)) for run in grown}
        self._last |= {run.run: run.last for run in runs}
        self._match(new | (grown & self._behind))
        self._weigh([*(run.run for run in runs), *grown])

    def _weigh(self, runs: Iterable[str]) -> None:
        """See what the archive lacks of these runs."""
        for run in runs:
            self.there[run] = self._events_of(run) if self._is_wanted(run) else None
            if self._is_due(run):
                self._due[run] = None
            else:
                self._due.pop(run, None)

    def _match(self, runs: Iterable[str]) -> None:
        """Find the branch that each of these goes on, or that it needs a new one."""
        left = {run: list[Branch]() for run in runs}
        if not left:
            return
        with self._connection.begin():
            known = self._sender.branches(left)
            for run in left:
                branches = known.get(run, [])
                self._numbers[run] = len(branches)
                self.branches.pop(run, None)
                left[run] = [one for one in branches if one.created == self._runs[run].created]
            while left:
                left = self._next_candidates(left)

    def _match_again(self, run: str) -> None:
        self._match([run])
        self._weigh([run])

    def _next_candidates(self, left: Mapping[str, list[Branch]]) -> dict[str, list[Branch]]:
        """Try the latest branch of each run; those that are still without one."""
        sums: dict[str, Sum] = {}
        for run, branches in left.items():
            if not branches:
                self._tell_apart(run)
                continue
            event = None if branches[-1].deleted else self._log.last_to(run, branches[-1].events)
            if event is None:
                self._go_on_with(run, branches[-1])
            else:
                sums[run] = Sum(branches[-1].run, event.seq, event.sum)
        same = self._sender.same(list(sums.values())) if sums else set()
        for run, one in sums.items():
            if one.run in same:
                self._go_on_with(run, left[run][-1])
        return {run: left[run][:-1] for run, one in sums.items() if one.run not in same}

    def _go_on_with(self, run: str, branch: Branch) -> None:
        self.branches[run] = branch
        self._behind.discard(run)
        if not branch.deleted and self._last[run] < branch.events:
            self._behind.add(run)
            had = f"{branch.events} {'event' if branch.events == 1 else 'events'} of {run}"
            self._note(run, f"The archive has {had}, this log {self._last[run]}: is it restored?")

    def _tell_apart(self, run: str) -> None:
        self._behind.discard(run)
        if self._numbers[run]:
            name = f"{run}.{self._numbers[run] + 1}"
            self._note(run, f"The archive has another history of {run}: that stays, and this log's is {name} there.")

    def _events_of(self, run: str) -> int:
        return self.branches[run].events if run in self.branches else 0

    def _is_wanted(self, run: str) -> bool:
        return run not in self._aside and not (run in self.branches and self.branches[run].deleted)

    def _is_due(self, run: str) -> bool:
        """Whether the archive lacks anything of a run."""
        branch, there = self.branches.get(run), self._runs[run]
        if branch is None or not self._is_wanted(run):
            return branch is None and run not in self._aside
        return (
            self._last[run] > branch.events
            or (there.has_plan and not branch.has_plan)
            or (there.put_away_at, there.put_away_by) != branch.put_away
            or self._has_new_summary(there, branch)
        )

    @staticmethod
    def _has_new_summary(there: RawRun, branch: Branch) -> bool:
        """Whether there is one that the archive has not, of no more events than it has."""
        return there.summary not in {None, branch.summary} and there.summary.events <= branch.events

    def _send(self, runs: Iterable[str]) -> int:
        sent: dict[str, _Sent] = {}
        room, first = MOST, list(runs)[:MOST]
        self._open_months(first)
        with self._connection.begin():
            for run in first:
                if room > 0:
                    sent[run] = self._sent(run, room)
                    room -= max(1, sent[run].events)
        # The archive has it now, and not a moment before.
        self.branches |= {run: one.branch for run, one in sent.items()}
        self._weigh(sent)
        return sum(max(1, one.events) for one in sent.values())

    def _open_months(self, runs: Iterable[str]) -> None:
        """Open the months of new runs, by itself: whoever waits for that lock waits for no event."""
        for created in (self._runs[run].created for run in runs if run not in self.branches):
            if created[:7] not in self._months:
                with self._connection.begin():
                    self._months[created[:7]] = self._sender.open_month(created)

    def _send_alone(self, run: str) -> int:
        """Send one run; what the archive cannot take is set aside, and holds up no other."""
        try:
            return self._send([run])
        except _WentApart as apart:
            self._match_again(str(apart))
        except _NOT_TAKEN as error:
            self._aside.add(run)
            self._weigh([run])
            found = " ".join(str(getattr(error, "orig", None) or error).split())
            self._note(run, f"The archive does not take {run} ({found}); it stays in this log.")
        return 1

    def _sent(self, run: str, room: int) -> _Sent:
        """Send what comes next of a run; what the archive has of it then."""
        there, sender = self._runs[run], self._sender
        branch = self.branches.get(run)
        if branch is None:
            number, month = self._numbers.get(run, 0) + 1, self._months[there.created[:7]]
            branch = sender.add_run(there, self._log.plan_text(run), number, month)
        if there.has_plan and not branch.has_plan:
            sender.put_plan(branch, there, self._log.plan_text(run))
            branch = branch._replace(has_plan=True)
        rows = self._log.events(run, branch.events, room)
        if not rows and self._last[run] > branch.events:
            # It was removed meanwhile.
            self._looked_s, self._is_whole = float("-inf"), False
        branch = self._sent_events(run, branch, rows)
        if (there.put_away_at, there.put_away_by) != branch.put_away:
            sender.put_away(branch, there.put_away_at, there.put_away_by)
            branch = branch._replace(put_away=(there.put_away_at, there.put_away_by))
        body = self._log.summary(run) if self._has_new_summary(there, branch) else None
        if body is not None and there.summary is not None:
            sender.put_summary(branch, Summed(there.summary.events, there.summary.made_by, body))
            branch = branch._replace(summary=there.summary)
        return _Sent(branch, len(rows))

    def _sent_events(self, run: str, branch: Branch, rows: list[RawEvent]) -> Branch:
        sound = [row for row in rows if row.is_sound]
        if len(sound) < len(rows):
            lost = len(rows) - len(sound)
            told = "1 event of the log is" if lost == 1 else f"{lost} events of the log are"
            self._note(run, f"{run}: {told} damaged, and not sent.")
        if sound and not self._sender.add_events(branch, sound):
            raise _WentApart(run)
        return branch._replace(events=rows[-1].seq) if rows else branch
