"""What runs measured, written into a site file."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.planning.site import parse_site
from server.plans.site_lessons import Measured, SiteLessons, learned_into_site
from server.timeline.film import FOOT_M
from tests.plans.sites import SITE

DAY = date(2026, 11, 29)


def measured(one: str, other: str, path_ft: float, sd_ft: float = 0.05, *, enough: bool = True) -> Measured:
    return Measured((one, other), path_ft * FOOT_M, sd_ft * FOOT_M, enough, "ft", 6)


def learned(*of: Measured, text: str = SITE, runs: int = 2) -> SiteLessons:
    return learned_into_site(text, of, runs, DAY)


def changed_lines(after: str, before: str = SITE) -> tuple[list[str], list[str]]:
    """The lines that went, and those that came."""
    old, new = before.splitlines(), after.splitlines()
    return [line for line in old if line not in new], [line for line in new if line not in old]


def test_a_measured_path_takes_the_place_of_the_taped_one_and_nothing_else_changes() -> None:
    """In the file's own unit, with how sure it is, and a note of when and by how many runs; comments stay."""
    found = learned(measured("1", "2", 99.8))
    assert changed_lines(found.text) == (
        ["path_ft = 101.5   # taped by Ida"],
        [
            "path_ft = 99.8  # taped by Ida; measured 2026-11-29 in 2 runs, 101.5 ft before",
            "path_tolerance_percent = 0.0501",
        ],
    )
    assert found.changes == (
        "House 1 to 2 (in the file from 2 to 1: a path holds both ways): 99.8 ft ± 0.05, 101.5 ft before.",
    )
    path = parse_site(found.text, "x").path("1", "2")
    assert path is not None
    assert path.path_m == pytest.approx(99.8 * FOOT_M)
    assert path.path_tolerance_percent == pytest.approx(0.05 / 99.8 * 100.0, rel=1e-2)
    assert path.rollers == 8


def test_metres_stay_metres() -> None:
    """Whatever the plan of the run has."""
    found = learned(measured("2", "3", 40.0), runs=1)
    assert "path_m = 12.192  # measured 2026-11-29 in one run, 12.25 m before\n" in found.text
    assert found.changes == ("House 2 to 3: 12.192 m ± 0.015, 12.25 m before.",)


def test_what_was_measured_again_has_one_note() -> None:
    """The last one: notes do not pile up behind a key."""
    first = learned(measured("1", "2", 99.8))
    again = learned(measured("1", "2", 99.9, 0.03), text=first.text, runs=5)
    assert "# taped by Ida; measured 2026-11-29 in 5 runs, 99.8 ft before\n" in again.text
    assert again.text.count("measured 2026") == 1


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (measured("1", "2", 99.8, 1.1), "The runs are no surer of it than the file."),
        (measured("1", "2", 101.54, 0.05), "The runs measured the same, to within 0.05 ft."),
        (measured("1", "2", 99.8, 0.05, enough=False), "The runs say too little of it."),
        (measured("1", "3", 99.8, 0.05, enough=False), "The runs say too little of it."),
    ],
)
def test_a_path_that_the_runs_know_no_better_is_left(one: Measured, said: str) -> None:
    """The file stays letter for letter, and it is said why."""
    name = f"House {one.houses[0]} to {one.houses[1]}"
    assert learned(one) == SiteLessons(SITE, (), (f"{name}: left as it is. {said}",))


def test_what_was_measured_surely_is_not_written_over_by_a_run_that_is_less_sure() -> None:
    """The file says how sure it is: a tape's one percent is only what holds where it does not."""
    sure = learned(measured("1", "2", 99.8, 0.02)).text
    assert learned(measured("1", "2", 99.5, 0.05), text=sure).left == (
        "House 1 to 2: left as it is. The runs are no surer of it than the file.",
    )


def test_a_path_that_the_file_does_not_have_is_added() -> None:
    """Behind the others, with the rollers of the plan."""
    found = learned(measured("3", "1", 60.0))
    assert found.changes == ("House 3 to 1: added, 60 ft ± 0.05. The file had no path here.",)
    at = found.text.index('from = "3"')
    assert found.text[at - 10 :].startswith(
        '[[paths]]\nfrom = "3"\nto = "1"\npath_ft = 60.0  # measured 2026-11-29 in 2 runs\n'
        "path_tolerance_percent = 0.0833\nrollers = 6\n"
    )
    assert found.text.endswith(SITE[SITE.index("# Where the stairs are.") :])
    lone = SITE[: SITE.index("# Up the stairs.")]
    assert parse_site(learned(measured("3", "1", 60.0), text=lone).text, "x").path("1", "3") is not None


def test_a_house_that_the_site_does_not_know_is_told() -> None:
    """Its paths are not written: the reader of the file would refuse them."""
    found = learned(measured("2", "9", 60.0), measured("9", "8", 60.0))
    assert (found.text, found.left) == (
        SITE,
        (
            "House 2 to 9: not written. The site file has no House 9: add it there first.",
            "House 9 to 8: not written. The site file has no House 9 and no House 8: add it there first.",
        ),
    )


def test_what_people_write_behind_a_note_stays() -> None:
    """A later measurement takes the place of the note alone."""
    text = SITE.replace("# taped by Ida", "# taped by Ida; measured 2026-10-01 in one run, 102 ft before. LOW BEAM")
    assert (
        "# taped by Ida. LOW BEAM; measured 2026-11-29 in 2 runs" in learned(measured("1", "2", 99.8), text=text).text
    )


IN_BRACKETS = """\
format = "festoon-site/1"
site = "Quarry Lane"
houses = [{ house = "1" }, { house = "2" }, { house = "3" }]
paths = [
  { from = "2", to = "1", path_ft = 101.5 },  # taped by Ida
]
"""


def test_paths_in_brackets_have_their_notes_above() -> None:
    """A comment cannot stand in them; one of the same path before gives way."""
    found = learned(measured("1", "2", 99.8), measured("2", "3", 40.0), text=IN_BRACKETS)
    again = learned(measured("1", "2", 99.9, 0.03), text=found.text)
    assert again.text.count("# House 1 to 2: measured 2026-11-29 in 2 runs, 99.8 ft before\n") == 1
    assert again.text.count("# House 2 to 3: measured 2026-11-29 in 2 runs\n") == 1
    assert again.text.count(": measured ") == 2
    assert "},  # taped by Ida\n" in again.text
    site = parse_site(again.text, "x")
    assert [round(path.path_m / FOOT_M, 3) for path in site.paths] == [99.9, 40.0]


def test_lines_end_as_the_file_has_them() -> None:
    """A file of another system stays one."""
    found = learned(measured("1", "2", 99.8), measured("3", "1", 60.0), text=SITE.replace("\n", "\r\n"))
    assert found.text.count("\n") == found.text.count("\r\n")


@given(st.floats(0.5, 1500.0), st.floats(0.001, 30.0), st.floats(0.5, 1500.0))
def test_whatever_was_measured_the_file_can_be_read_and_knows_it_no_less_surely(
    there_ft: float, sd_ft: float, path_ft: float
) -> None:
    """After learning a path is as sure as the surer of the two, and it is changed only by more than its own error."""
    text = SITE.replace("path_ft = 101.5", f"path_ft = {there_ft}")
    before = parse_site(text, "x").path("1", "2")
    after = parse_site(learned(measured("1", "2", path_ft, sd_ft), text=text).text, "x").path("1", "2")
    assert before is not None
    assert after is not None
    if after != before:
        assert sd_ft < there_ft / 100.0
        assert abs(path_ft - there_ft) > sd_ft
        assert after.path_m == pytest.approx(path_ft * FOOT_M, abs=0.0005)
