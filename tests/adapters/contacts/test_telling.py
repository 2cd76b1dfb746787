"""What a feed has to complain of is told in few notes, however often it happens."""

from adapters.contacts.telling import MOST, Complaints
from tests.adapters.contacts.wired import MS, Box, S

CHECK = "found a line whose check does not fit"
LOST = "lines were lost on the way"


def complaining() -> tuple[Box, Complaints]:
    box = Box()
    return box, Complaints(box.bank)


def test_a_flood_of_damage_is_a_few_notes_a_minute_and_all_of_it_is_counted() -> None:
    """Ten thousand damaged lines in a hundred seconds."""
    box, complaints = complaining()
    for n in range(10_000):
        complaints.tell(CHECK, n * 10 * MS)
        if n % 100 == 99:
            complaints.look(n * 10 * MS)
    for now_s in range(100, 300):
        complaints.look(now_s * S)
    notes = box.notes()
    assert notes[0] == f"north: {CHECK}."
    assert sum(int(note.split(", ")[1].split()[0]) for note in notes[1:]) == 9_999
    assert len(notes) <= 1 + 2 * MOST


def test_a_second_line_that_is_lost_is_told_within_five_seconds() -> None:
    """Not at the end of the minute in which the first was."""
    box, complaints = complaining()
    complaints.tell(LOST, 0)
    complaints.tell(LOST, 2 * S, 3)
    for now_s in range(3, 6):
        complaints.look(now_s * S)
    assert box.notes() == [f"north: {LOST}.", f"north: {LOST}, 3 times more."]


def test_another_kind_of_trouble_does_not_wait_for_the_first() -> None:
    """What is told the first time is told at once, whatever else floods."""
    box, complaints = complaining()
    for n in range(600):
        complaints.tell(CHECK, n * 100 * MS)
        complaints.look(n * 100 * MS)
    box.notes()
    complaints.tell(LOST, 60 * S, 2)
    assert box.notes() == [f"north: {LOST}, 2 times."]


def test_what_has_been_well_for_a_minute_is_told_anew() -> None:
    """A complaint of an hour ago is not counted on."""
    box, complaints = complaining()
    complaints.tell(LOST, 0)
    complaints.look(61 * S)
    complaints.tell(LOST, 100 * S)
    assert box.notes() == 2 * [f"north: {LOST}."]
