"""The roll call: what was seen, what is missing, what moved instead, and how it ends."""

import pytest

from adapters.contacts.board import BEGUN, ENDED, RUNNING, SOURCE, Board
from adapters.contacts.feed import ContactFeed
from adapters.contacts.rollcall import QUIET_US, RollCall
from server.timeline.events import Event
from tests.adapters.contacts.wired import MS, PLAN, WIRES, Facts, S, wiring
from tests.adapters.shows import ManualClock

INPUTS = wiring().inputs


class Crew:
    """A board whose contacts are moved by hand, and what is posted of it."""

    def __init__(self) -> None:
        self.posted: list[Event] = []
        self.facts = Facts()
        self.clock = ManualClock()
        self.board = Board(wiring(), PLAN, self.facts, self.clock, self.post)
        self.feed: ContactFeed = self.board.feeds[0]
        self.feed.bank.begin()
        for number in range(1, len(WIRES) + 1):
            self.put(str(number), -900 * S, closed=False)
        self.facts.events += self.feed.bank.events
        self.feed.bank.events.clear()

    async def post(self, event: Event) -> str | None:
        self.posted.append(event)
        return None

    def put(self, place: str, at_us: int, *, closed: bool) -> None:
        self.feed.read(place, at_us, at_us, closed=closed)
        self.feed.pass_time(at_us + 50 * MS)

    def close_and_open(self, place: str, at_us: int) -> None:
        self.put(place, at_us, closed=True)
        self.put(place, at_us + S, closed=False)

    def events(self) -> list[tuple[str, str | None]]:
        """What the contacts made, as kinds and texts."""
        return [(event.kind, event.text) for event in self.feed.bank.events]

    def row(self, place: str) -> dict[str, object]:
        return next(row for row in self.board.state()["inputs"] if row["id"] == f"north/{place}")


def test_every_contact_is_seen_in_any_order_and_then_it_is_over() -> None:
    """It ends by itself when the last one has closed and opened, and makes no event of any of them."""
    crew = Crew()
    assert crew.board.begin() is None
    for n, place in enumerate("52341"):
        assert crew.board.state()["on"]
        crew.close_and_open(place, -800 * S + n * 3 * S)
    crew.feed.pass_time(-700 * S)
    assert not crew.board.state()["on"]
    assert crew.board.state()["result"] == (
        "Roll call: 5 of 5 inputs seen; missing: none; wrong: none; wired to nothing: none; bounce: none;"
        " flicker: none; sampled: none"
    )
    assert crew.events() == [("note", BEGUN), ("note", ENDED)]


def test_what_is_wired_to_the_wrong_station_is_told() -> None:
    """Asked to close one, another moved: that one counts out of turn, and the one asked for is missing still."""
    crew = Crew()
    crew.board.begin(ask_next=True)
    assert crew.board.state()["asked"] == "north/1"
    crew.close_and_open("2", -800 * S)
    assert crew.row("1")["instead"] == ["lamp of House 0 (north/2)"]
    assert (crew.row("1")["seen"], crew.row("2")["seen"]) == (False, True)
    assert crew.board.state()["asked"] == "north/1"
    assert crew.board.skip() is None
    assert crew.board.state()["asked"] == "north/3"
    crew.board.hear("")
    assert crew.board.state()["asked"] == "north/4"
    crew.board.hear("north/5")
    assert crew.board.state()["asked"] == "north/5"
    assert "wrong: motor of House 0 (north/1): lamp of House 0 (north/2) moved instead" in crew.board.state()["result"]


def test_what_was_only_closed_out_of_turn_is_not_wired_wrong() -> None:
    """The one that was asked for comes as well: somebody had stood at another projector first."""
    crew = Crew()
    crew.board.begin(ask_next=True)
    crew.close_and_open("2", -800 * S)
    crew.close_and_open("1", -790 * S)
    assert crew.row("1")["instead"] == []
    assert crew.board.state()["asked"] == "north/3"
    assert "wrong: none" in crew.board.state()["result"]


def test_there_is_nothing_to_skip_while_no_roll_call_is_on() -> None:
    """The desk says so, and nothing changes."""
    assert Crew().board.skip() == "No roll call is on: begin one."


def test_a_contact_that_flickers_and_a_gateway_that_looks_seldom_are_in_the_result() -> None:
    """A tick shows in the times of the changes: here all come at multiples of half a second."""
    crew = Crew()
    crew.board.begin()
    for n in range(6):
        crew.put("3", -880 * S + n * 300 * MS, closed=n % 2 == 0)
    for n in range(24):
        crew.put(str(n % 2 + 4), -800 * S + n * 1250 * MS + n % 2 * 250 * MS, closed=n // 2 % 2 == 0)
    assert crew.row("3")["flickers"]
    assert not crew.row("1")["flickers"]
    feed = crew.board.state()["feeds"][0]
    assert (feed["sampling_ms"], feed["seen_sampling_ms"]) == (0, 500)
    assert "flicker: douser of House 0 (north/3); sampled: north about every 500 ms" in crew.board.state()["result"]


def test_what_bounces_what_stays_closed_and_what_is_wired_to_nothing_are_told() -> None:
    """The result says all of it in one line."""
    crew = Crew()
    crew.board.begin()
    for n in range(5):
        crew.feed.read("2", -800 * S + n * 9 * MS, -800 * S + n * 9 * MS, closed=n % 2 == 0)
    crew.feed.pass_time(-799 * S)
    crew.put("9", -790 * S, closed=False)
    crew.put("9", -780 * S, closed=True)
    crew.board.hear("end")
    result = crew.board.state()["result"]
    assert "lamp of House 0 (north/2): closed, never opened" in result
    assert "wired to nothing: north/9; bounce: lamp of House 0 (north/2): 5 edges in 36 ms" in result


def test_a_roll_call_is_not_begun_while_a_motor_runs_and_ends_when_one_does() -> None:
    """Contacts are never kept out of a show."""
    crew = Crew()
    crew.facts.running = True
    assert crew.board.begin() == RUNNING
    crew.facts.running = False
    crew.board.begin()
    crew.facts.running = True
    crew.feed.pass_time(-700 * S)
    assert not crew.board.state()["on"]


def test_a_roll_call_that_was_forgotten_ends() -> None:
    """Nothing has moved for ten minutes: contacts count again."""
    crew = Crew()
    crew.board.begin()
    crew.feed.pass_time(QUIET_US - S)
    assert crew.board.state()["on"]
    crew.feed.pass_time(QUIET_US + 2 * S)
    assert not crew.board.state()["on"]


def test_a_contact_that_stays_closed_at_the_end_counts() -> None:
    """A motor that was started in the roll call and left running is a start."""
    crew = Crew()
    crew.board.begin()
    crew.put("1", -800 * S, closed=True)
    assert crew.events() == [("note", BEGUN)]
    crew.board.end()
    assert [kind for kind, _ in crew.events()] == ["note", "note", "motor_start"]


def test_a_roll_call_that_was_forgotten_takes_no_show_with_it() -> None:
    """A motor's contact that stays on ends it; the start and the trip after it are posted at their own times."""
    crew = Crew()
    crew.board.begin()
    crew.put("2", -800 * S, closed=True)
    crew.close_and_open("1", -790 * S)
    crew.feed.pass_time(-500 * S)
    crew.put("1", -400 * S, closed=True)
    crew.put("5", -390 * S, closed=True)
    crew.feed.pass_time(-371 * S)
    assert crew.board.state()["on"]
    crew.feed.pass_time(-370 * S)
    assert not crew.board.state()["on"]
    told = [(event.kind, crew.feed.bank.us(event.t), event.sigma_s) for event in crew.feed.bank.events]
    assert [each for each in told if each[0] != "note"] == [
        ("motor_start", -400 * S, None),
        ("lamp_lit", -800 * S, None),
        ("film_trip", -390 * S, None),
    ]


def test_a_failsafe_that_was_tried_before_the_motor_came_on_is_no_trip() -> None:
    """It stands open for threading: that is noted, as at any start."""
    crew = Crew()
    crew.board.begin()
    crew.put("5", -410 * S, closed=True)
    crew.put("1", -400 * S, closed=True)
    crew.feed.pass_time(-370 * S)
    kinds = [kind for kind, _ in crew.events()]
    assert ("motor_start" in kinds, "film_trip" in kinds) == (True, False)


async def test_the_result_is_kept_as_a_note_of_the_run() -> None:
    """One line that reads the same every time, by whoever led it; without a roll call there is none."""
    crew = Crew()
    assert await crew.board.keep() == "No roll call has been held: begin one."
    crew.board.begin()
    crew.board.end()
    assert await crew.board.keep("Ada") is None
    (event,) = crew.posted
    assert (event.kind, event.source, event.by) == ("note", SOURCE, "Ada")
    assert event.text is not None
    assert event.text.startswith("Roll call: 0 of 5 inputs seen; missing: motor of House 0 (north/1), ")


def test_only_inputs_of_the_file_can_be_asked_for_and_only_in_a_roll_call() -> None:
    """A desk that is out of date asks for nothing that is not there."""
    crew = Crew()
    assert crew.board.ask("north/1") == "No roll call is on: begin one."
    crew.board.begin()
    assert crew.board.ask("north/77") == "found 'north/77'; accepted an input of the wiring file"
    assert crew.board.ask("north/2") is None
    with pytest.raises(KeyError):
        RollCall(INPUTS).ask("north/77")


def test_a_long_result_still_fits_into_a_note() -> None:
    """A hundred missing inputs are cut short, not refused."""
    many = wiring(wires=[(str(n), "s0", "failsafe") for n in range(1, 65)]).inputs
    assert len(RollCall(many).text()) <= 2000
