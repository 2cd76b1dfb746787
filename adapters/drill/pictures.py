"""The lamps and dousers of a rehearsal, under two pairs of hands: the simulated crew's and the person's."""

from collections import Counter, defaultdict
from collections.abc import Iterator
from math import inf
from typing import Final, Literal, NamedTuple, TypeAlias

from adapters.drill.course import Course
from adapters.drill.crew import FAILSAFE_SHUTS_S, Picture, Span, Work, standing_spans
from adapters.drill.duties import Duties
from adapters.drill.facts import Fact, FactKind
from adapters.drill.scenario import HardLamp, LampOut, NoFireDouser, Scenario

PictureAct: TypeAlias = Literal["lamp_lit", "lamp_out", "douser_open", "douser_shut"]

FAILED_STRIKE_S: Final = 1.5
"""How long a strike that does not catch flickers. Chosen."""

_OFF: Final[dict[str, FactKind]] = {"lamp": "lamp_out", "douser": "douser_shut"}
_ON: Final[dict[str, FactKind]] = {"lamp": "lamp_lit", "douser": "douser_open"}


class _Owned(NamedTuple):
    """One lamp or one douser: the station's number, and `lamp` or `douser`."""

    k: int
    thing: Literal["lamp", "douser"]


class Pictures:
    """Every lamp and douser as it truly is, and was.

    What the person has touched is the person's from then on. Until then the simulated crew sees to what is not left
    to the person.
    """

    def __init__(self, duties: Duties, scenario: Scenario) -> None:
        self._plan = duties.plan
        self._scenario = scenario
        self._persons: set[_Owned] = set()
        self.hand_over(duties)
        self._spans: defaultdict[_Owned, list[Span]] = defaultdict(list)
        self._strikes: Counter[int] = Counter()
        self._gone_out: list[Fact] = []

    def hand_over(self, duties: Duties) -> None:
        """Leave to the person what is theirs; what is lit and open stays so."""
        self._persons |= {owned for owned in self._all() if duties.yours(self._plan.stations[owned.k], owned.thing)}

    def coming(self, work: Work, course: Course, now_s: float) -> list[Fact]:
        """What is to happen after `now_s` if nobody does anything more; what the crew has missed it does at once."""
        facts = [fact for fact in work.facts if fact.kind != "slack_read" and self._owned(fact) not in self._persons]
        facts += [fact for owned in self._persons for fact in self._by_itself(owned, course)]
        late = [fact for owned in self._all() if owned not in self._persons for fact in self._late(owned, work, now_s)]
        return [*late, *(fact for fact in facts if fact.at_s > now_s)]

    def act(self, kind: PictureAct, k: int, at_s: float) -> Fact | None:
        """What the person does; None where it is so already."""
        station = self._plan.stations[k]
        fact = Fact(at_s, kind, station.id)
        owned = self._owned(fact)
        if self._is_on(owned) is (kind in _ON.values()):
            return None
        self._persons.add(owned)
        if kind == "lamp_lit":
            self._strikes[k] += 1
            needed = max(
                (hard.strikes for hard in self._scenario.of(HardLamp) if hard.station == station.id), default=1
            )
            if self._strikes[k] < needed:
                self._gone_out.append(Fact(at_s + FAILED_STRIKE_S, "lamp_out", station.id, surprise=True))
        return fact

    def take(self, fact: Fact) -> bool:
        """Let a fact happen; False where it changes nothing."""
        owned, on = self._owned(fact), fact.kind in _ON.values()
        if self._is_on(owned) is on:
            return False
        if on:
            self._spans[owned].append(Span(fact.at_s, inf))
        else:
            self._spans[owned][-1] = self._spans[owned][-1]._replace(until_s=fact.at_s)
        return True

    def so_far(self) -> tuple[Picture, ...]:
        """The spans lit and open, by station."""
        return tuple(
            Picture(tuple(self._spans[_Owned(k, "lamp")]), tuple(self._spans[_Owned(k, "douser")]))
            for k in range(len(self._plan.stations))
        )

    def _all(self) -> Iterator[_Owned]:
        for k in range(len(self._plan.stations)):
            yield _Owned(k, "lamp")
            yield _Owned(k, "douser")

    def _by_itself(self, owned: _Owned, course: Course) -> Iterator[Fact]:
        """What befalls a lamp or a douser whoever looks after it."""
        station = self._plan.stations[owned.k].id
        if owned.thing == "douser":
            stands = [] if self._scenario.lacks(NoFireDouser, station) else standing_spans(course, owned.k)
            for stand in stands:
                yield Fact(stand.from_s + FAILSAFE_SHUTS_S, "douser_shut", station, surprise=True)
            return
        for fault in self._scenario.of(LampOut):
            if fault.station == station:
                yield Fact(fault.at_s, "lamp_out", station, surprise=True)
        yield from (fact for fact in self._gone_out if fact.station == station)

    def _late(self, owned: _Owned, work: Work, now_s: float) -> Iterator[Fact]:
        """What the crew, as things have turned out, would have done by now."""
        picture = work.pictures[owned.k]
        spans = picture.lit if owned.thing == "lamp" else picture.open
        on = any(span.from_s <= now_s < span.until_s for span in spans)
        if on is not self._is_on(owned):
            yield Fact(now_s, (_ON if on else _OFF)[owned.thing], self._plan.stations[owned.k].id)

    def _is_on(self, owned: _Owned) -> bool:
        spans = self._spans[owned]
        return bool(spans) and spans[-1].until_s == inf

    def _owned(self, fact: Fact) -> _Owned:
        k = self._plan.station_index[fact.station or ""]
        return _Owned(k, "lamp" if fact.kind.startswith("lamp") else "douser")
