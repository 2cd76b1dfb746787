"""The port of a rehearsal: it goes by a run's clock, and what is heard has its effect."""

from datetime import timedelta

from adapters.drill.feed import RehearsalFeed
from adapters.drill.rehearsal import Rehearsal
from adapters.drill.scenario import MotorStop
from adapters.drill.sights import TAKEN_UP
from server.timeline.events import Event
from server.timeline.plan import Plan
from tests.adapters.rehearsing import START_S, exact
from tests.adapters.shows import ManualClock, chain_plan, up


class Booth:
    """A run that takes every event but those refused, tells the feed of each, and lets somebody answer some."""

    def __init__(self, plan: Plan, *faults: object, refuse: str = "") -> None:
        self.posted: list[Event] = []
        self.told: list[str] = []
        self.ended = 0
        self.answers: dict[str, Event] = {}
        self._refuse = refuse
        self._clock = ManualClock(plan.zero + timedelta(seconds=START_S))
        self.rehearsal = Rehearsal(plan, exact(*faults), 1, "contacts", START_S)
        self.feed = RehearsalFeed(self.rehearsal, plan, self.told.append, self._end, self._clock.sleep)

    def _end(self) -> str:
        self.ended += 1
        return "The review."

    async def post(self, event: Event) -> str | None:
        if event.kind == self._refuse:
            return "not wanted"
        self.posted.append(event)
        self.feed.hear(event)
        answer = self.answers.get(event.text or event.kind)
        if answer is not None:
            self.feed.hear(answer)
        return None

    async def run(self) -> list[str]:
        """The kinds of what was posted."""
        await self.feed.open()
        await self.feed.run(self.post, self._clock, up)
        await self.feed.close()
        return [event.kind for event in self.posted]


def tap(plan: Plan, kind: str) -> Event:
    return Event.model_validate({"id": f"tap {kind}", "t": plan.zero, "kind": kind, "source": "tap"})


async def test_a_show_goes_by_and_ends_with_its_mark() -> None:
    """Every event in order of time, and last of all the review as a note, once."""
    booth = Booth(chain_plan(2, minutes=10))
    kinds = await booth.run()
    times = [event.t for event in booth.posted]
    assert times == sorted(times)
    assert kinds.count("motor_start") == 2
    assert (booth.posted[-1].kind, booth.posted[-1].text, booth.ended) == ("note", "The review.", 1)
    assert booth.rehearsal.end == "out"


async def test_what_somebody_reports_has_its_effect() -> None:
    """The stop that answers the failsafe, and the start that answers the helpers: the show goes on to its end."""
    plan = chain_plan(3, minutes=60)
    booth = Booth(plan, MotorStop("s1", 600.0))
    booth.answers["film_trip"] = tap(plan, "chain_stop")
    booth.answers[TAKEN_UP] = tap(plan, "chain_start")
    await booth.run()
    assert set(booth.feed.reported) == {"tap chain_stop", "tap chain_start"}
    assert [done.event.kind for done in booth.rehearsal.done] == ["chain_stop", "chain_start"]
    assert len(booth.rehearsal.truth.course.chain_stops) == 1
    assert booth.rehearsal.end == "out"


async def test_film_that_nobody_stopped_is_stopped_once_the_drill_is_over() -> None:
    """After the review, so that it is nobody's merit, and the desks do not show film that runs on."""
    booth = Booth(chain_plan(2), MotorStop("s1", 600.0))
    kinds = await booth.run()
    assert kinds[-2:] == ["note", "motor_stop"]
    assert [event.station for event in booth.posted[-2:]] == [None, "s0"]
    assert (booth.rehearsal.end, booth.rehearsal.done) == ("spilled", [])


async def test_its_own_events_are_nobodys_report() -> None:
    """What it posted comes back to it, and is not taken for something that a person did."""
    booth = Booth(chain_plan(2, minutes=10))
    await booth.run()
    assert booth.feed.reported == {}
    assert booth.rehearsal.done == []


async def test_a_refusal_is_told_and_the_show_goes_on() -> None:
    """One event that the run does not take is no end of a drill."""
    booth = Booth(chain_plan(2, minutes=10), refuse="motor_start")
    await booth.run()
    assert [line.partition(" was refused: ")[2] for line in booth.told if "refused" in line] == ["not wanted"] * 2
    assert booth.ended == 1


async def test_the_lookout_is_heard_in_the_terminal_too() -> None:
    """With the time on the house's clock."""
    booth = Booth(chain_plan(2, minutes=10, inputs=("contact", "contact", "contact", "tap")))
    await booth.run()
    assert booth.told[0] == "23:50:40  House 0: the first picture is at the gate"
