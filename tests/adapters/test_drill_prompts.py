"""A drill in which somebody does all that the desk asks, and nothing else: what is graded was asked for."""

from datetime import timedelta
from math import inf

import pytest

from adapters.drill.catalogue import scenario_for
from adapters.drill.duties import Duties, Thing
from adapters.drill.review_words import review_in_words
from adapters.drill.scenario import LampOut, Scenario
from server.timeline.engine import Engine
from server.timeline.event_kinds import EventKind
from server.timeline.events import Event
from server.timeline.plan import Plan, parse_plan
from server.timeline.view import AlarmView, PromptKind, PromptView
from tests.adapters.rehearsing import Somebody
from tests.adapters.shows import ZERO, chain_plan

STEP_S = 0.5
"""How often somebody looks at the desk: less than a pass may be tapped late."""

ANSWERS: dict[PromptKind, EventKind] = {
    "start": "chain_start",
    "strike": "lamp_lit",
    "open_douser": "douser_open",
    "shut_douser": "douser_shut",
    "shut_lamp": "lamp_out",
    "house_clear": "motor_stop",
}
"""By which event somebody says that a prompt is done; another prompt is an error here."""

AGAIN_S = 3.0
"""What did not help is done again after so long: a strike that does not catch is out by then."""

EASY = {"strike", "shut_douser", "shut_lamp"}
"""What is done as soon as it may be; the rest as it is due."""

TRAILERS = f"""
format = "festoon-plan/1"
title = "With trailers"
[timing]
motors_at = {ZERO.isoformat()}
[[print]]
id = "leader"
kind = "leader"
feet = 60
[[print]]
id = "t1"
kind = "trailer"
title = "Trailer: Salt Road"
duration = "2:00"
cue = true
[[print]]
id = "t2"
kind = "trailer"
title = "Trailer: A Winter for Two"
duration = "1:30"
cue = true
[[print]]
id = "r1"
kind = "feature"
duration = "12:00"
cue = true
[[print]]
id = "tail"
kind = "tail"
feet = 150
[[stations]]
id = "s0"
house = "1"
inputs = {{motor = "tap", lamp = "tap", douser = "tap", cue = "tap"}}
[[stations]]
id = "s1"
house = "2"
path_ft = 100
inputs = {{motor = "contact", lamp = "contact", douser = "none", cue = "tap"}}
[[stations]]
id = "s2"
house = "3"
path_ft = 120
inputs = {{motor = "contact", lamp = "none", douser = "none", cue = "contact"}}
"""


class Obedient:
    """Whoever does every prompt of the engine in its time, tells what the lookout calls, and acknowledges alarms."""

    def __init__(self, plan: Plan, scenario: Scenario, seed: int) -> None:
        self.plan = plan
        self.somebody = Somebody(plan, scenario, "none", seed)
        self.engine = Engine(plan)
        self._taken = 0
        self._reported = 0
        self._done: dict[tuple[str, ...], float] = {}
        self.asked: set[PromptKind] = set()

    def see_it_through(self, until_s: float) -> None:
        """Look at the desk again and again, and do what it asks."""
        now_s = self.somebody.rehearsal.at_s
        while self.somebody.rehearsal.end is None and now_s < until_s:
            now_s += STEP_S
            self.somebody.wait(now_s)
            self._repeat()
            self._tell(now_s)
            view = self.engine.view()
            for alarm in view.alarms:
                self._acknowledge(alarm, now_s)
            for prompt in view.prompts:
                self._answer(prompt, now_s)

    def _repeat(self) -> None:
        """A lamp that went out is told where only people tell of it: the lookout has called it."""
        for event in self.somebody.events[self._taken :]:
            for station in self.plan.stations:
                if event.text == f"House {station.house}: the lamp has gone out":
                    self.somebody.tap("lamp_out", station.id)

    def _tell(self, now_s: float) -> None:
        """The engine hears what was written down and what was reported."""
        seen = [*self.somebody.events[self._taken :], *self.somebody.reported[self._reported :]]
        self._taken, self._reported = len(self.somebody.events), len(self.somebody.reported)
        refused = self.engine.take_all(seen, round(now_s * 1e6))
        assert refused == []

    def _answer(self, prompt: PromptView, now_s: float) -> None:
        self.asked.add(prompt.kind)
        at_s = prompt.from_s if prompt.kind in EASY and "after the end" not in prompt.text else self._due_s(prompt)
        key = (prompt.kind, prompt.station, prompt.mark or "")
        if now_s < at_s or now_s - self._done.get(key, -inf) < AGAIN_S:
            return
        if prompt.kind == "confirm_head":
            if f"{self._house(prompt)}: the first picture is at the gate" not in self.somebody.called:
                return
            self._confirm(prompt)
        else:
            self.somebody.tap(ANSWERS[prompt.kind], None if prompt.kind == "start" else prompt.station)
        together = [station.id for station in self.plan.stations] if prompt.kind == "start" else [prompt.station]
        for station in together:
            self._done[prompt.kind, station, prompt.mark or ""] = now_s

    def _due_s(self, prompt: PromptView) -> float:
        """A douser is opened a moment before the head, not after it; lamps and motors are stopped once it is due."""
        return prompt.due_s - 2.0 * STEP_S if prompt.kind == "open_douser" else prompt.due_s

    def _confirm(self, prompt: PromptView) -> None:
        """The picture was seen when the lookout called it, and is told with that time, as a tap that is moved is."""
        text = f"{self._house(prompt)}: the first picture is at the gate"
        called = next(event for event in self.somebody.events if event.text == text)
        tapped = self.somebody.tap("mark_pass", prompt.station, "head")
        lag = timedelta(seconds=self.plan.timing.tap_lag_s)
        self.somebody.reported[-1] = tapped.model_copy(update={"t": called.t + lag})

    def _house(self, prompt: PromptView) -> str:
        return f"House {self.plan.stations[self.plan.station_index[prompt.station]].house}"

    def _acknowledge(self, alarm: AlarmView, now_s: float) -> None:
        key = ("ack", alarm.key)
        if alarm.state == "unacknowledged" and key not in self._done:
            t = self.plan.zero + timedelta(seconds=now_s)
            self.somebody.report(Event(id=f"ack {alarm.key} {now_s}", t=t, kind="ack", source="tap", alarm=alarm.key))
            self._done[key] = now_s


PLANS = {
    "trailers": parse_plan(TRAILERS, "trailers.plan.toml"),
    "taps": chain_plan(3, minutes=10, inputs=("tap", "tap", "tap", "tap")),
    "contacts": chain_plan(3, minutes=10),
}


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("name", ["clean", "hard_lamp", "lamp_out"])
def test_whoever_does_all_that_the_desk_asks_has_full_marks(name: str, seed: int) -> None:
    """With no crew, on three plans: every lamp in time, every tap right, no film lost or in the light, all pictures."""
    for plan in PLANS.values():
        person = Obedient(plan, scenario_for(name, plan, seed), seed)
        person.see_it_through(3600.0)
        review = person.somebody.review
        assert review.end == "out"
        assert [strike for strike in review.strikes if strike.verdict != "in time"] == []
        assert [tap for tap in review.taps if tap.verdict != "right"] == []
        assert review.heat == ()
        assert [link for link in review.links if link.spilled_ft + link.pulled_ft > 0.0] == []
        went_out = {fault.station for fault in person.somebody.rehearsal.scenario.of(LampOut)}
        assert [dark for dark in review.dark if dark.dark_s > 1.0 and dark.station not in went_out] == []
        assert person.asked >= {"start", "strike", "open_douser", "shut_lamp", "house_clear"}
        shares = [
            line for line in review_in_words(review, [], plan).sentences if " of " in line and "houses" not in line
        ]
        assert all(line.split()[-3] == line.split()[-1].rstrip(".") for line in shares), shares


def test_what_no_desk_asks_for_is_left_to_nobody() -> None:
    """A lamp or a douser without an input is the crew's, whatever the crew; of passes only the head is asked for."""
    plan = PLANS["trailers"]
    duties = Duties(plan, "none")
    things: list[Thing] = ["lamp", "douser"]
    owned = {thing: [each.id for each in plan.stations if duties.yours(each, thing)] for thing in things}
    assert owned == {"lamp": ["s0", "s1"], "douser": ["s0"]}
    assert [sorted(duties.passes(station)) for station in plan.stations] == [["head"], ["head"], []]
