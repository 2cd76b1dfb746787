"""The wiring file: what it says, and all that is wrong with it at once."""

from pathlib import Path

import pytest

from adapters.contacts.kinds import Input
from adapters.contacts.wiring import WiringFaults, read_wiring
from server.timeline.plan import parse_plan
from tests.adapters.contacts.wired import KINDS, PLAN, wiring, wiring_text

FIXTURES = Path(__file__).parents[3] / "fixtures"
GOOD = sorted((FIXTURES / "contacts").glob("*.contacts.toml"))
BAD = sorted((FIXTURES / "contacts/bad").glob("*.contacts.toml"))


def faults(text: str) -> list[str]:
    with pytest.raises(WiringFaults) as found:
        read_wiring(text, "n", PLAN, KINDS)
    return found.value.faults


def test_a_wire_is_one_thing_at_one_station() -> None:
    """What stands in the file is what comes of it, and the rest is the usual."""
    more = 'normally = "closed"\ndebounce_ms = 5'
    (made,) = wiring(wires=[("7", "s1", "lamp")], more=more).inputs
    assert made == Input("north", "7", "s1", "1", "lamp", normally_closed=True, debounce_us=5_000)
    assert (made.source, made.words) == ("contact:north/7", "lamp of House 1 (north/7)")


@pytest.mark.parametrize("path", GOOD, ids=lambda path: path.name.partition(".")[0])
def test_a_good_file_is_read_with_the_plan_of_its_name(path: Path) -> None:
    """Every input of it is wired, to a feed of every kind there is."""
    plan = FIXTURES / "plans" / path.name.replace(".contacts.", ".plan.")
    made = read_wiring(path.read_text("utf-8"), path.name, parse_plan(plan.read_text("utf-8"), plan.name), KINDS)
    assert {feed.kind.name for feed in made.feeds if feed.inputs} == set(KINDS)
    assert len(made.inputs) == path.read_text("utf-8").count("[[inputs]]")


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.name.partition(".")[0])
def test_every_fault_is_told_at_once(path: Path) -> None:
    """One line each, with the file, the key, what was found and what is accepted."""
    with pytest.raises(WiringFaults) as found:
        read_wiring(path.read_text(encoding="utf-8"), path.name, PLAN, KINDS)
    expected = path.with_name(path.name.replace(".contacts.toml", ".faults.txt")).read_text(encoding="utf-8")
    assert found.value.faults == expected.splitlines()


@pytest.mark.parametrize(
    ("feed", "place"),
    [
        ('kind = "text"\nport = "socket://192.0.2.7:4001"', "64"),
        ('kind = "modem"\nport = "rfc2217://gateway:4001"\npoll_ms = 10', "DCD"),
        ('kind = "modbus"\nport = "tcp://192.0.2.8:502"\nframing = "rtu"', "247/coil/65535"),
        ('kind = "modbus"\nport = "/dev/ttyS1"\nbaud = 19200\nparity = "even"', "1/discrete/0"),
        ('kind = "modem"\nport = "COM3"', "CTS"),
    ],
)
def test_every_kind_of_port_and_place_is_accepted(feed: str, place: str) -> None:
    """A device of this computer, or one over the network, as the kind of port allows."""
    made = wiring(f'id = "north"\n{feed}', [(place, "s0", "motor")])
    assert made.feeds[0].make_port([place]) is not None
    assert made.inputs[0].place == place


def test_what_the_plan_has_on_a_contact_and_the_file_has_not_is_a_warning() -> None:
    """A forgotten wire is told before the show, and keeps nothing from running."""
    warnings = wiring(wires=[("1", "s0", "motor"), ("2", "s1", "failsafe")]).warnings
    unwired = "the plan has the motor of House 1 on a contact, and no input is wired to it"
    assert f"north.contacts.toml: {unwired}" in warnings
    assert not any("motor of House 0" in warning or "failsafe" in warning for warning in warnings)


def test_a_projector_may_have_several_failsafes_and_one_of_everything_else() -> None:
    """Two wires for one lamp would be two opinions of it."""
    assert len(wiring(wires=[("1", "s0", "failsafe"), ("2", "s0", "failsafe")]).inputs) == 2
    (fault,) = faults(wiring_text(wires=[("1", "s0", "lamp"), ("2", "s0", "lamp")]))
    assert "'lamp of s0', which inputs[0] has too; accepted one wire for each" in fault


def test_a_feed_of_an_unknown_kind_names_those_there_are() -> None:
    """Whoever writes a new kind has it told here by itself."""
    assert any(
        "kind: found 'morse'; accepted text, modem or modbus" in fault
        for fault in faults(wiring_text('id = "north"\nkind = "morse"\nport = "/dev/ttyS0"'))
    )


def test_a_table_where_tables_belong_is_said_as_that() -> None:
    """`[inputs]` for `[[inputs]]` is one pair of brackets short."""
    text = wiring_text(wires=[("1", "s0", "motor")]).replace("[[inputs]]", "[inputs]")
    assert faults(text) == ["n: line 6: inputs: found [inputs]; accepted at least one [[inputs]]"]


def test_how_seldom_a_gateway_looks_is_part_of_any_feed() -> None:
    """A whole number of milliseconds, up to ten seconds."""
    feed = 'id = "north"\nkind = "modem"\nport = "/dev/ttyS0"\nsampling_ms = '
    assert wiring(f"{feed}250", [("CTS", "s0", "motor")]).feeds[0].sampling_us == 250_000
    (fault,) = faults(wiring_text(f"{feed}20000", [("CTS", "s0", "motor")]))
    assert "sampling_ms: found 20000; accepted a whole number from 0 to 10000" in fault
