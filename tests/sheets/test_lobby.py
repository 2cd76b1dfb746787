"""The card for the lobby: what ushers look up, by house."""

from tests.planning.chains import chain
from tests.sheets.shows import Read, pages_of, plan_named, show_of


def test_houses_stand_as_people_look_for_them() -> None:
    """House 9 before House 10, and names after numbers, whatever way the film goes."""
    rows = Read(pages_of(show_of(plan_named("sixteen")))["lobby"]).rows
    assert [row[0] for row in rows[1:]] == [str(house) for house in range(1, 17)]
    plan = chain((50.0, 6), (50.0, 6))
    named = [
        one.model_copy(update={"house": house}) for one, house in zip(plan.stations, ("Attic", "10", "9"), strict=True)
    ]
    rows = Read(pages_of(show_of(plan.model_copy(update={"stations": tuple(named)})))["lobby"]).rows
    assert [row[0] for row in rows[1:]] == ["9", "10", "Attic"]


def test_times_are_rounded_so_that_nobody_is_late() -> None:
    """Minutes down, the end up: House 1 has its head at 18:53:59, credits at 20:45:34 and end at 20:50:45."""
    rows = Read(pages_of(show_of(plan_named("larkspur")))["lobby"]).rows
    assert rows[0] == ["House", "Advertised", "Picture", "Feature", "Credits", "Lets out"]
    assert rows[1] == ["1", "18:54", "18:53", "19:03", "20:45", "20:51"]


def test_an_intermission_has_both_its_ends() -> None:
    """From when and until when guests are out of the house."""
    rows = Read(pages_of(show_of(plan_named("interval")))["lobby"]).rows
    assert rows[0] == ["House", "Advertised", "Picture", "Feature", "Intermission", "Credits", "Lets out"]
    assert rows[1][4] == "21:44 to 21:50"


def test_past_midnight_a_time_has_its_day_once_in_a_row() -> None:
    """The first time of another day says which; those after it in the row are of that day too."""
    rows = Read(pages_of(show_of(plan_named("sixteen")))["lobby"]).rows
    assert rows[1] == ["1", "00:10", "00:09Sat 18 Jul", "00:14", "02:16", "02:23"]
    assert rows[11] == ["11", "00:00", "23:59", "00:04Sat 18 Jul", "02:05", "02:12"]
