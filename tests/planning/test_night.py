"""The shows of one night against each other."""

from server.planning.findings import Finding
from server.planning.lacing import READY_MIN, lacing_of
from server.planning.next_show import next_show_of
from server.planning.night import TURN_S, judge_night
from server.timeline.plan import Plan
from tests.planning.chains import chain

EARLY = "2026-03-14T18:00:00-05:00"
# The print of the chains runs 40 s, 1:40:00 and 200 s; the last gate is 67 s further.
CLEAR_LAST = "19:45:07"


def evening(motors_at: str, title: str = "Second") -> Plan:
    return chain((100.0, 8), motors_at=motors_at, title=title)


def found(*plans: Plan, crew: int | None = None) -> dict[str, Finding]:
    return {finding.code: finding for finding in judge_night(plans, None, crew)}


def test_shows_far_apart_are_not_told() -> None:
    """A show four hours later in the same houses has no conflict, and one show alone has none."""
    assert found(evening(EARLY, "First"), evening("2026-03-14T22:30:00-05:00")) == {}
    assert found(evening(EARLY)) == {}


def test_a_house_in_use() -> None:
    """A show that starts while the one before runs is a fault, with how much later it had better start."""
    told = found(evening(EARLY, "First"), evening("2026-03-14T19:30:00-05:00"))
    finding = told["house_in_use"]
    assert (finding.level, finding.about, finding.stations) == ("fault", "Houses 11 and 12", ("st0", "st1"))
    assert finding.cause == f"House 12 is to start at 19:30:00, and is clear at {CLEAR_LAST}."
    assert finding.remedy == "Start Second 15 minutes later at least, or in other houses."


def test_the_order_of_the_plans_does_not_matter() -> None:
    """The earlier show is the earlier one, whichever was named first."""
    first, second = evening(EARLY, "First"), evening("2026-03-14T19:30:00-05:00")
    assert judge_night([first, second], None) == judge_night([second, first], None)


def test_a_house_not_clear_in_time() -> None:
    """Less than twenty minutes from the film's end to the next picture is a warning."""
    told = found(evening(EARLY, "First"), evening("2026-03-14T19:50:00-05:00"))
    finding = told["house_not_clear"]
    assert (finding.level, finding.about) == ("warning", "Houses 11 and 12")
    assert "house_in_use" not in told
    assert finding.cause == "House 11 is clear at 19:44:00, and the next head comes at 19:50:40."
    assert TURN_S == 1200.0


def test_no_time_to_lace() -> None:
    """Lacing that has to begin before the machines are free is a fault; kept laced the start is told from when."""
    first, second = evening(EARLY, "First"), evening("2026-03-14T20:00:00-05:00")
    finding = found(first, second)["no_time_to_lace"]
    minutes = lacing_of(second, None).minutes
    assert (minutes + READY_MIN) * 60.0 > 15 * 60, "else there is time"
    assert finding.level == "fault"
    behind = next_show_of(first, None).behind
    assert f"splice {behind.leader_ft:.0f} ft of leader on behind the tail of First" in finding.remedy
    moved = evening("2026-03-14T20:30:00-05:00")
    assert "no_time_to_lace" not in found(first, moved)


def test_only_shared_machines_are_waited_for() -> None:
    """A show in other houses may be laced while the first runs."""
    other = chain((100.0, 8), motors_at="2026-03-14T19:00:00-05:00", title="Other")
    elsewhere = other.model_copy(
        update={"stations": tuple(one.model_copy(update={"house": f"2{one.house}"}) for one in other.stations)}
    )
    assert "no_time_to_lace" not in found(evening(EARLY, "First"), Plan.model_validate(dict(elsewhere)))


def test_a_print_that_is_not_back() -> None:
    """The same print is wanted at the first house before it can have been carried there."""
    told = found(evening(EARLY, "Same"), evening("2026-03-14T19:50:00-05:00", "Same"))
    finding = told["print_not_back"]
    assert finding.level == "fault"
    assert finding.text == "Same: its print is not at House 11 when the motors are to start."
    assert "begin the chain at House 12" in finding.remedy
    later = found(evening(EARLY, "Same"), evening("2026-03-14T22:00:00-05:00", "Same"))
    assert later["print_to_carry"].level == "note"
    assert "print_not_back" not in found(evening(EARLY, "First"), evening("2026-03-14T19:50:00-05:00"))


def backward() -> Plan:
    """The same chain laid the other way, at 22:00."""
    plan = evening("2026-03-14T22:00:00-05:00", "Same")
    first, last = plan.stations
    turned = (first.model_copy(update={"house": last.house}), last.model_copy(update={"house": first.house}))
    return Plan.model_validate(dict(plan.model_copy(update={"stations": turned})))


def test_a_chain_the_other_way_carries_nothing() -> None:
    """Where the next show begins at the house at which the print lies there is nothing to tell."""
    assert found(evening(EARLY, "Same"), backward()) == {}


TAPS = 'inputs = { motor = "tap", lamp = "tap", douser = "tap", cue = "tap" }'


def hands(motors_at: str, first_house: int, title: str) -> Plan:
    """A house of its own, in a booth of its own, started by hand."""
    text = chain(timing='start = "hands"', motors_at=motors_at, title=title, booths="A", stations={0: TAPS})
    (station,) = text.stations
    moved = station.model_copy(update={"house": str(first_house), "booth": f"Booth {first_house}"})
    return Plan.model_validate(dict(text.model_copy(update={"stations": (moved,)})))


def test_shows_that_fall_together_need_more_people() -> None:
    """Two shows in far booths that start within a minute of each other take two people; an hour apart they take one."""
    together = found(hands(EARLY, 11, "One"), hands("2026-03-14T18:00:30-05:00", 12, "Other"))
    finding = together["night_crew"]
    assert (finding.level, finding.about) == ("note", "the crew")
    assert finding.text == "The shows of this night take a crew of 2 together; each alone takes 1 at most."
    assert "House 12" in finding.cause
    alone = found(hands(EARLY, 11, "One"), hands("2026-03-14T18:00:30-05:00", 12, "Other"), crew=1)
    assert alone["night_crew"].level == "fault"
    assert "night_crew" not in found(hands(EARLY, 11, "One"), hands("2026-03-14T19:00:00-05:00", 12, "Other"))
