"""`festoon learn --site`: what runs measured goes into the site file, on request only."""

from pathlib import Path

import pytest

from server.planning.site import parse_site
from server.timeline.film import FOOT_M
from tests.commands.logs import Said, filled, said

SITE = """\
# Ours.
format = "festoon-site/1"
site = "Quarry Lane"

[[houses]]
house = "1"

[[houses]]
house = "2"

[[paths]]
from = "2"
to = "1"
path_ft = 101.5   # taped by Ida

# The end.
"""


@pytest.fixture
def data(tmp_path: Path) -> Path:
    return filled(tmp_path / "data", "pair-1", "pair-2")


@pytest.fixture
def site(tmp_path: Path) -> Path:
    path = tmp_path / "quarry.site.toml"
    path.write_text(SITE, encoding="utf-8")
    return path


def learned(data: Path, site: Path, *words: object) -> Said:
    return said("learn", "pair-1", "pair-2", "--data", data, "--site", site, *words)


def test_what_was_measured_is_written_and_told(data: Path, site: Path) -> None:
    """The path of the runs takes the place of the tape's, whichever way about the file has it; all else stays."""
    site.chmod(0o640)
    told = learned(data, site)
    assert told.status == 0
    first, change = told.out.splitlines()[-2:]
    assert first == f"{site}: 1 path is changed."
    assert change.startswith("  House 1 to 2 (in the file from 2 to 1: a path holds both ways): 99.")
    assert change.endswith(" 101.5 ft before.")
    text = site.read_text(encoding="utf-8")
    path = parse_site(text, "x").paths[0]
    assert 99.5 < path.path_m / FOOT_M < 100.0
    assert path.path_tolerance_percent < 0.1
    assert "# taped by Ida; measured 20" in text
    assert " in 2 runs, 101.5 ft before\n" in text
    assert text.startswith(SITE[: SITE.index("path_ft")])
    assert text.endswith("\n\n# The end.\n")
    assert site.stat().st_mode & 0o777 == 0o640


def test_a_second_time_nothing_is_surer(data: Path, site: Path) -> None:
    """The same runs say nothing new; one of them says less."""
    assert learned(data, site).status == 0
    before = site.read_text(encoding="utf-8")
    told = said("learn", "pair-1", "--data", data, "--site", site)
    assert told.out.splitlines()[-2:] == [
        f"{site}: nothing is changed.",
        "  House 1 to 2: left as it is. The runs are no surer of it than the file.",
    ]
    assert site.read_text(encoding="utf-8") == before


def test_a_dry_run_says_it_and_writes_nothing(data: Path, site: Path) -> None:
    """Nor is anything written without --site, and --dry-run is for it alone."""
    told = learned(data, site, "--dry-run")
    assert f"{site}: 1 path would be changed." in told.out
    assert site.read_text(encoding="utf-8") == SITE
    told = said("learn", "pair-1", "--data", data, "--dry-run")
    assert (told.status, "--site" in told.err) == (2, True)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("festoon-site/1", "festoon-plan/1", "line 2: format: found 'festoon-plan/1', a plan; accepted"),
        ("path_ft = 101.5", "path_ft = 0", "line 14: paths[0].path_ft: found 0; accepted a number over 0"),
        ('house = "1"\n', 'house = "1"\nsize = 3\n', "houses[0].size: found an unknown key; accepted house"),
    ],
)
def test_a_file_that_is_no_site_is_told(data: Path, site: Path, old: str, new: str, says: str) -> None:
    """By line, on standard error, with status 2; nothing is written, and nothing printed."""
    site.write_text(SITE.replace(old, new), encoding="utf-8")
    told = learned(data, site)
    assert (told.status, told.out) == (2, "")
    assert told.err.startswith(f"{site}: ")
    assert says in told.err


def test_all_faults_of_a_file_are_told_at_once(data: Path, site: Path) -> None:
    """A line each."""
    site.write_text(SITE.replace("path_ft = 101.5", "path_ft = 0").replace("site =", "sight ="), encoding="utf-8")
    assert len(learned(data, site).err.splitlines()) == 3


def test_a_house_that_the_site_does_not_know_is_told(data: Path, site: Path) -> None:
    """The rest is written; where it knows none of them it is another site."""
    text = SITE.replace('"2"', '"9"')
    site.write_text(text, encoding="utf-8")
    told = learned(data, site)
    assert (told.status, site.read_text(encoding="utf-8")) == (0, text)
    assert "House 1 to 2: not written. The site file has no House 2: add it there first." in told.out
    site.write_text(text.replace('"1"', '"8"'), encoding="utf-8")
    told = learned(data, site)
    assert (told.status, told.out) == (2, "")
    assert told.err == f"{site}: no house of these runs is in this site file: nothing is written.\n"


def test_runs_of_another_site_are_refused(data: Path, site: Path, tmp_path: Path) -> None:
    """House numbers are the same everywhere; the plan of a run may say where it ran."""
    export = tmp_path / "there.events.jsonl"
    assert said("debrief", "pair-1", "--data", data, "--recording", export).status == 0
    recording = export.read_text(encoding="utf-8").replace('title = \\"', 'site = \\"Harbour Row\\"\\ntitle = \\"', 1)
    export.write_text(recording, encoding="utf-8")
    told = said("learn", export, "--site", site)
    assert (told.status, told.out) == (2, "")
    assert told.err == f"there ran at Harbour Row, and {site} is of Quarry Lane: nothing is written.\n"
    assert site.read_text(encoding="utf-8") == SITE


def test_a_link_to_the_file_stays_a_link(data: Path, site: Path, tmp_path: Path) -> None:
    """The file behind it is written."""
    link = tmp_path / "link.site.toml"
    link.symlink_to(site)
    assert learned(data, link).status == 0
    assert link.is_symlink()
    assert "measured" in site.read_text(encoding="utf-8")


def test_a_site_that_is_not_there_or_cannot_be_written_is_told(data: Path, tmp_path: Path) -> None:
    """One sentence."""
    told = learned(data, tmp_path / "none.site.toml")
    assert (told.status, told.out, told.err.count("\n")) == (2, "", 1)
