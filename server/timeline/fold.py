"""One run folded from its events: evidence, phases and alarms, moved along from instant to instant.

Between two events everything that may change does so at instants known beforehand (`edges`); a fold visits each of
them, so it makes no difference how often somebody asks.
"""

from collections.abc import Set as AbstractSet

from server.timeline.alarms import AlarmBoard
from server.timeline.condition import edges_of, without_wait
from server.timeline.conditions import conditions_of
from server.timeline.estimate import US_PER_S
from server.timeline.events import Event, at_us
from server.timeline.evidence import Evidence
from server.timeline.people import CALL, HOUSE_REPORT
from server.timeline.phases import phase_at, phase_steps
from server.timeline.plan import Plan
from server.timeline.steps import ALWAYS_US
from server.timeline.view import Phase, PhaseRecord, Record

# chosen: how far ahead conditions are read at first; twice as far each time nothing has happened by then
_SIGHT_US = 30 * US_PER_S
_NEVER_US = 2**62
# What is told only once something that would explain it has not followed.
_TOLD_LATE = frozenset({"motor_lost", "lamp_lost"})
# What is said about the show, and shows nothing of it: the evidence stands as it was.
_WORDS = frozenset({"ack", "note", "retract", "shelve"})


class Fold:
    """The state of a run at `at_us`; events are taken in order of time."""

    def __init__(self, plan: Plan, at_us: int = ALWAYS_US) -> None:
        self.plan = plan
        self.at_us = at_us
        self.evidence = Evidence(plan, at_us)
        self.board = AlarmBoard()
        self.phases: list[Phase] = ["threaded"] * len(plan.stations)
        self.phase_since_us: list[dict[Phase, int]] = [{} for _ in plan.stations]
        self._read_evidence()

    def copy(self) -> "Fold":
        """Return an independent fold; the evidence is shared until the copy takes an event."""
        twin = object.__new__(Fold)
        twin.__dict__.update(self.__dict__)
        twin.board = self.board.copy()
        twin.phases = self.phases.copy()
        twin.phase_since_us = [since.copy() for since in self.phase_since_us]
        return twin

    @property
    def began(self) -> bool:
        """Whether any event or time has been given yet."""
        return self.at_us > ALWAYS_US

    def next_edge_us(self) -> int | None:
        """The next instant at which something may change if no event comes; None if nothing will."""
        later = [edge for edge in (*self._edges, *self.board.edges()) if edge > self.at_us]
        return min(later, default=None)

    def advance(self, to_us: int) -> list[Record]:
        """Move on to `to_us`, that instant included; an instant already past is no move."""
        records: list[Record] = []
        while (edge := self.next_edge_us()) is not None and edge <= to_us:
            self.at_us = edge
            if edge == self._read_until_us:
                self._read_evidence(2 * self._sight_us)
            records.extend(self._evaluate())
        self.at_us = max(self.at_us, to_us)
        return records

    def conclude(self) -> list[Record]:
        """Tell of a motor that stopped, or a lamp that went out, last of all: nothing can follow where no event can."""
        told = [without_wait(c) if c.kind in _TOLD_LATE else c for c in self._conditions]
        return [*self.board.step(told, self.at_us)]

    def take(self, event: Event, rebuilt: Evidence | None = None, *, void: bool = False) -> list[Record]:
        """Take the next event in order of time; what is due before it happens first.

        `rebuilt` is the evidence without what this event retracts; a `void` event has been retracted before its time.
        """
        at = at_us(event, self.plan)
        records = self.advance(at - 1)
        self.at_us = at
        if not void:
            records.extend(self._take_at_board(event, at))
            reported = self.evidence.people.reported_at()
            self._take_as_evidence(event, rebuilt)
            if event.kind != "retract":
                records.extend(self._seen_to(reported - self.evidence.people.reported_at(), event, at))
        return records + self._evaluate()

    def _seen_to(self, stations: AbstractSet[int], event: Event, at: int) -> list[Record]:
        """Whoever saw to all that a house reported had it."""
        keys = [f"{HOUSE_REPORT}:{self.plan.stations[k].id}" for k in sorted(stations)]
        acked = [self.board.acknowledge(key, event.by, event.id, at) for key in keys if self.board.is_on(key)]
        return [record for records in acked for record in records]

    def _take_as_evidence(self, event: Event, rebuilt: Evidence | None) -> None:
        if rebuilt is not None:
            self.evidence = rebuilt
        elif event.kind in _WORDS and not _hears_a_call(event):
            if self.at_us == self._read_until_us:  # an edge that this event has come upon
                self._read_evidence(2 * self._sight_us)
            return
        else:
            self.evidence = self.evidence.copy()
            self.evidence.apply(event)
        if _hears_a_call(event) and event.alarm in {f"{CALL}:{call.subject}" for call in self.evidence.people.calls}:
            self.board.take_back(event.id)  # it was of an earlier call: this one rings on
        self._read_evidence()

    def _take_at_board(self, event: Event, at: int) -> list[Record]:
        match event.kind:
            case "ack" if self.evidence.people.is_known_by(event, self.plan):
                return [*self.board.acknowledge(event.alarm or "", event.by, event.id, at)]
            case "shelve":
                self.board.shelve(event.alarm or "", at + round((event.seconds or 0.0) * US_PER_S))
            case "retract":
                self.board.take_back(event.retracts or "")
            case _:
                pass
        return []

    def _read_evidence(self, sight_us: int | None = None) -> None:
        """Read phases and conditions off the evidence, these as far as sight goes; with no motor running, for good."""
        self._sight_us = sight_us or _SIGHT_US
        runs = any(state.running for state in self.evidence.stations)
        self._read_until_us = self.at_us + self._sight_us if runs else _NEVER_US
        self._conditions = conditions_of(self.evidence, self._read_until_us, self.board.held_keys())
        self._phase_steps = phase_steps(self.evidence)
        last_us = self._read_until_us
        edges = {at for steps in self._phase_steps for at, _ in steps if at < last_us}
        edges.update(at for at in edges_of(self._conditions) if at < last_us)
        self._edges = (*edges, last_us) if runs else tuple(edges)

    def _evaluate(self) -> list[Record]:
        records: list[Record] = []
        for k, steps in enumerate(self._phase_steps):
            phase = phase_at(steps, self.at_us)
            if phase != self.phases[k]:
                self.phases[k] = phase
                self.phase_since_us[k][phase] = self.at_us
                records.append(PhaseRecord(self.at_us, self.plan.stations[k].id, phase))
        return [*records, *self.board.step(self._conditions, self.at_us)]


def _hears_a_call(event: Event) -> bool:
    """Whether an event acknowledges a call, which is over by that."""
    return event.kind == "ack" and (event.alarm or "").startswith(f"{CALL}:")
