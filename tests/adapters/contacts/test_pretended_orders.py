"""What whoever plays the pretended contacts may say."""

import pytest

from adapters.contacts.pretend.orders import VERBS, Order, OrderFault, order_from_line
from tests.adapters.contacts.wired import wiring

FEEDS = wiring(
    'id = "north"\nkind = "text"\nport = "/dev/ttyUSB0"\n[[feeds]]\nid = "south"\nkind = "modem"\nport = "/dev/ttyS0"',
    [("1", "s0", "motor"), ("2", "s1", "motor"), ("3", "s0", "failsafe"), ("4", "s0", "failsafe")],
).feeds
MOTOR, OTHER, TOP, _ = FEEDS[0].inputs
HOUSES = [MOTOR.house, OTHER.house]


def read(line: str) -> Order | None:
    return order_from_line(line, FEEDS)


def test_an_input_is_named_by_its_id_or_by_what_and_where_it_is() -> None:
    """In small letters or large, with or without the little words."""
    named = ["north/1", f"motor House {HOUSES[0]}", f"motor of house {HOUSES[0]}", f"Motor {HOUSES[0]}"]
    for name in named:
        assert read(f"close {name}") == Order("close", wired=MOTOR)
    assert read(f"  OPEN   motor House {HOUSES[1]} ") == Order("open", wired=OTHER)
    assert read("lose north/3") == Order("lose", wired=TOP)


def test_a_house_is_not_taken_for_seconds() -> None:
    """What is left over after the input's name says for how long."""
    assert read(f"flicker motor House {HOUSES[0]}") == Order("flicker", wired=MOTOR, seconds=10.0)
    for text in ("2.5", "2.5 s", "2.5s"):
        assert read(f"flicker motor House {HOUSES[0]} {text}") == Order("flicker", wired=MOTOR, seconds=2.5)
        assert read(f"flicker north/1 {text}") == Order("flicker", wired=MOTOR, seconds=2.5)


def test_orders_to_a_feed_and_to_a_part_of_it() -> None:
    """Only silence can be had of a part."""
    assert read("unplug north") == Order("unplug", feed="north")
    assert read("silent south/2") == Order("silent", feed="south", part="2")
    assert read("damage north 3") == Order("damage", feed="north", seconds=3.0)
    assert read("damage north") == Order("damage", feed="north", seconds=5.0)


def test_orders_that_stand_alone_and_a_show() -> None:
    """What a show is given is read where it is played; an empty line is nothing."""
    assert [read(verb) for verb in ("list", "rest", "help", "end")] == [
        Order(verb) for verb in ("list", "rest", "help", "end")
    ]
    assert read("show now trip") == Order("show", words=("now", "trip"))
    assert read("  ") is None


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("shut north/1", f"found 'shut'; accepted {', '.join(VERBS)}"),
        ("close", "found nothing after close; accepted an input: north/1 (motor House"),
        ("close north/9", "found 'north/9' after close; accepted an input: north/1 (motor House"),
        ("close motor House 99", "found 'motor House 99' after close; accepted an input: north/1"),
        (f"close failsafe House {HOUSES[0]}", "of which there are several; accepted north/3 (failsafe House"),
        ("close north/1 5", "found '5' after close north/1; accepted nothing more"),
        ("flicker north/1 soon", "found 'soon' after flicker north/1; accepted 0.1 to 3600 seconds"),
        ("flicker north/1 nan", "found 'nan' after flicker north/1; accepted 0.1 to 3600 seconds"),
        ("damage north 99999", "found '99999' after damage north; accepted 0.1 to 3600 seconds"),
        ("unplug east", "found 'east' after unplug; accepted a feed: north, south"),
        ("unplug", "found nothing after unplug; accepted a feed: north, south"),
        ("unplug north/1", "found 'north/1' after unplug; accepted a whole feed: north"),
        ("end now", "found 'now' after end; accepted end alone"),
    ],
)
def test_a_wrong_order_is_one_sentence(line: str, said: str) -> None:
    """What was found, and what is accepted."""
    with pytest.raises(OrderFault) as fault:
        read(line)
    assert said in str(fault.value)
    assert "\n" not in str(fault.value)
