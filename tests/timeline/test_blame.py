"""Which motor an alarm of slack names."""

from server.timeline.events import Event
from server.timeline.plan import Plan
from tests.timeline.story import HEAD_S, alarm, event, live, plan_of, starts

HOUSES = 4
SLOW = 0.002
EVERY_S = 100.0
UNTIL_S = 900.0
TIMING = "reserve_s = 2.0\nrate_tolerance_ppm = 3000.0"


def a_chain() -> Plan:
    return plan_of(HOUSES, lamp="none", timing=TIMING)


def read(plan: Plan, rates: tuple[float, ...], jump_s: float = 0.0) -> list[Event]:
    """Every link read again and again, as motors of these rates make it; `jump_s` came off the first link at once."""
    found = starts(plan)
    for n in range(1, int(UNTIL_S / EVERY_S) + 1):
        for i in range(HOUSES - 1):
            at_s = n * EVERY_S + i
            slack_s = at_s * (rates[i] - rates[i + 1]) + (jump_s if i == 0 else 0.0)
            below = plan.stations[i + 1].id
            found.append(event(plan, at_s, "slack_read", below, seconds=round(slack_s, 3), sigma_s=0.02))
    return found


def told(rates: tuple[float, ...], key: str, jump_s: float = 0.0) -> str:
    plan = a_chain()
    return alarm(live(plan, read(plan, rates, jump_s), UNTIL_S + HEAD_S), key).text


def test_the_motor_that_is_off_is_named() -> None:
    """House 3 alone is slow: the link before it runs loose, the one behind it tight."""
    rates = (0.0, 0.0, -SLOW, 0.0)
    assert told(rates, "slack_loose:b>c") == "House 2 to 3: the film is running loose (House 3's motor runs slow)"
    assert told(rates, "slack_tight:c>d") == "House 3 to 4: the film is running tight (House 3's motor runs slow)"


def test_one_that_runs_fast_is_named_so() -> None:
    """The other way about."""
    rates = (0.0, SLOW, 0.0, 0.0)
    assert told(rates, "slack_tight:a>b") == "House 1 to 2: the film is running tight (House 2's motor runs fast)"


def test_no_motor_is_named_where_two_are_off() -> None:
    """Both make what the link between them holds: neither alone is to be looked at."""
    rates = (0.0, SLOW / 2, -SLOW / 2, 0.0)
    assert told(rates, "slack_loose:b>c") == "House 2 to 3: the film is running loose"


def test_no_motor_is_named_where_film_is_loose_and_motors_run_alike() -> None:
    """Film that jumped, or a start that was late, makes slack too."""
    assert told((0.0,) * HOUSES, "slack_loose:a>b", jump_s=1.2) == "House 1 to 2: the film is running loose"
