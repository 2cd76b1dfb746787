"""The reader of `*.site.toml`: what it makes of a file, and what it says of one that is no use."""

from pathlib import Path as FilePath

import pytest

from server.planning.site import Deck, SiteFaults, parse_site

SITES = FilePath(__file__).parents[2] / "fixtures" / "sites"
HEAD = 'format = "festoon-site/1"\nsite = "Example Hall"\n'
HOUSES = '[[houses]]\nhouse = "3"\nbooth = "North"\n[[houses]]\nhouse = "4"\nbooth = "South"\n'
PATH = '[[paths]]\nfrom = "3"\nto = "4"\n'


def faults_of(text: str) -> list[str]:
    """Every fault of a text, without the name of its file."""
    with pytest.raises(SiteFaults) as refused:
        parse_site(text, "hall.site.toml")
    assert all(fault.startswith("hall.site.toml: ") for fault in refused.value.faults)
    return [fault.removeprefix("hall.site.toml: ") for fault in refused.value.faults]


@pytest.mark.parametrize("path", sorted(SITES.glob("*.site.toml")), ids=lambda path: path.stem)
def test_every_site_of_the_fixtures_is_a_site(path: FilePath) -> None:
    """Each can be read, and every path that it has holds both ways."""
    site = parse_site(path.read_text(), path.name)
    assert site.paths
    for each in site.paths:
        one, other = each.houses
        assert site.path(one, other) is site.path(other, one) is each


def test_what_is_given_is_what_is_read() -> None:
    """Feet are tape-measure feet of 304.8 mm; a walk holds both ways; what is not given has its default."""
    deck = "deck_core_mm = 600\ndeck_roll_mm = 900\n"
    text = (
        HEAD + HOUSES + deck + PATH + 'path_ft = 100\nrollers = 8\n[[walks]]\nfrom = "North"\nto = "South"\nwalk_s = 75'
    )
    site = parse_site(text, "hall.site.toml")
    path = site.path("4", "3")
    assert path is not None
    assert path.path_m == pytest.approx(30.48)
    assert (path.rollers, path.doorways, path.height_m) == (8, 0, None)
    assert (site.by_house["4"].deck, site.by_house["3"].deck) == (Deck(core_mm=600, roll_mm=900), None)
    assert (site.walk_s("South", "North"), site.walk_s("North", "North"), site.walk_s("North", "Attic")) == (
        75,
        0,
        None,
    )
    assert (site.timezone, site.film_mm) == ("UTC", 0.14)


def test_a_mark_at_the_beginning_of_the_file_does_no_harm() -> None:
    """Some editors put a byte order mark there."""
    assert parse_site("\ufeff" + HEAD + HOUSES, "x").site == "Example Hall"


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (PATH + 'path_ft = "74 ft"', "paths[0].path_ft: found '74 ft'; accepted"),
        (PATH + 'path_ft = "22.5 m"', "write path_m = 22.5"),
        (PATH + "path_m = 5000", "if it is in mm"),
        (PATH + "path_ft = 74\npath_m = 22", "found path_ft and path_m; accepted exactly one of path_ft or path_m"),
        (PATH, "found no path; accepted exactly one of path_ft or path_m"),
        (PATH + "path_m = 0", "path_m: found 0"),
        (PATH + "path_m = nan", "path_m: found nan"),
        (PATH + "path_m = 20\nroller = 3", "paths[0].roller: found an unknown key"),
        (PATH + "path_m = 20\nroller = 3", "write rollers"),
        (PATH + 'path_m = 20\nrollers = "3"', "write 3"),
        (
            PATH + "path_m = 20\nloop_span_m = 30",
            "loop_span_m: found 30; accepted no more than the path, which is 20",
        ),
        (PATH + "path_m = 20\n" + PATH + "path_m = 21", "3 and 4, which paths[0] has too"),
        ('[[paths]]\nfrom = "4"\nto = "4"\npath_m = 20', "to: found '4'; accepted another than 'from'"),
        ('[[paths]]\nfrom = "House 3"\nto = "4"\npath_m = 20', 'accepted a house of this site: 3 or 4: write "3"'),
        ('[[walks]]\nfrom = "North"\nto = "Suoth"\nwalk_s = 60', 'write "South"'),
        ('[[walks]]\nfrom = "North"\nto = "South"\nwalk_s = "1:15"', "write 75"),
        ('[[walks]]\nfrom = "North"\nto = "South"', "walks[0].walk_s: found nothing"),
        ('[[houses]]\nhouse = "House 5"', 'write "5"'),
        ("[[houses]]\nhouse = 5", 'write "5"'),
        ('[[houses]]\nbooth = "North"', "houses[2].house: found nothing"),
        ('[[houses]]\nhouse = "3"', "which houses[0] has too; accepted the name of one house only"),
        ('[[houses]]\nhouse = "5"\ndeck_core_mm = 600', "deck_core_mm alone; accepted deck_core_mm and deck_roll_mm"),
        ('[[houses]]\nhouse = "5"\ndeck_core_mm = 900\ndeck_roll_mm = 800', "a core smaller than the largest roll"),
    ],
)
def test_what_is_wrong_is_told_with_what_was_meant(more: str, told: str) -> None:
    """One sentence says where, what was found and what is accepted, and what to write where that can be told."""
    faults = faults_of(HEAD + HOUSES + more)
    assert any(told in fault for fault in faults), faults


def test_the_head_of_the_file_is_held_to_the_same() -> None:
    """The zone of a city, the thickness of film in another unit, and a name without quotes."""
    faults = faults_of('format = "festoon-site/1"\nsite = 7\ntimezone = "chicago"\nfilm_mm = 140\n' + HOUSES)
    assert len(faults) == 3
    assert 'write "7"' in faults[0]
    assert any('write "America/Chicago"' in fault for fault in faults)
    assert any("if it is in micrometres" in fault for fault in faults)


def test_all_faults_come_at_once_with_their_lines() -> None:
    """A fault hides no other: five of one file are told together, each with the line that it is in."""
    more = PATH + 'path_ft = "x"\n[[paths]]\nfrom = "9"\nto = "4"\npath_m = -1\n[[walks]]\nfrom = "North"\nto = "South"'
    faults = faults_of(HEAD + "colour = 1\n" + HOUSES + more)
    assert len(faults) == 5
    assert all(fault.startswith("line ") for fault in faults)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('{"format": "festoon-events/1"}', "found a recording; accepted a site"),
        ('format = "festoon-plan/1"\ntitle = "x"', "found 'festoon-plan/1', a plan; accepted 'festoon-site/1'"),
        ('format = "festoon-contacts/1"', "a wiring file"),
        ("site = ", "found a syntax error"),
    ],
)
def test_another_kind_of_file_is_one_fault(text: str, told: str) -> None:
    """Who hands over a plan is told that, and not that all its keys are unknown."""
    faults = faults_of(text)
    assert len(faults) == 1
    assert told in faults[0]


def test_a_site_has_a_house_and_no_more_than_a_hundred() -> None:
    """No house is no site; a hundred and one are a slip."""
    assert any("at least one [[houses]]" in fault for fault in faults_of(HEAD))
    many = "".join(f'[[houses]]\nhouse = "{number}"\n' for number in range(101))
    assert any("found 101; accepted 1 to 100 houses" in fault for fault in faults_of(HEAD + many))
