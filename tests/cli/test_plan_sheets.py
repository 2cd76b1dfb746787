"""`festoon plan` with --sheets, --pdf and --chart: what it writes, what it leaves alone, and what it says."""

import json
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from tests.commands.logs import said

PLANS = Path(__file__).parents[2] / "fixtures" / "plans"
PAIR, INTERVAL = PLANS / "pair.plan.toml", PLANS / "interval.plan.toml"
PAIR_FILES = ["booth.html", "chart.html", "index.html", "lobby.html", "threading.html"]


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_folder_is_made_and_what_was_written_is_said(tmp_path: Path) -> None:
    """One file a line, then what to open; of the plan itself what was found of it, and no more."""
    folder = tmp_path / "new" / "paper"
    done = said("plan", INTERVAL, "--crew", 2, "--sheets", folder)
    assert done.status == 0
    written = [
        "booth-river.html",
        "booth-yard.html",
        "chart.html",
        "crew.html",
        "index.html",
        "lobby.html",
        "threading.html",
    ]
    assert names(folder) == written
    lines = done.out.splitlines()
    assert sorted(line for line in lines if line.startswith(str(folder))) == [str(folder / name) for name in written]
    assert lines[-1].startswith(f"Open {folder / 'index.html'} in a browser")
    assert "Fault. 2 people cannot do this show" in done.out
    assert "Lacing, in this order" not in done.out


def test_the_chart_is_an_svg_file(tmp_path: Path) -> None:
    """It stands by itself, and may be made again."""
    for _ in range(2):
        done = said("plan", PAIR, "--chart", tmp_path / "pair.SVG")
        assert done.status == 0
        assert done.out.splitlines()[-1] == str(tmp_path / "pair.SVG")
    assert ET.parse(tmp_path / "pair.SVG").getroot().tag.endswith("svg")
    assert names(tmp_path) == ["pair.SVG"]


def test_programs_still_get_json_alone(tmp_path: Path) -> None:
    """With --json the files are told on standard error."""
    done = said("plan", PAIR, "--json", "--sheets", tmp_path)
    assert json.loads(done.out)["format"] == "festoon-schedule/1"
    assert str(tmp_path / "index.html") in done.err


def test_sheets_are_made_again_in_their_place(tmp_path: Path) -> None:
    """What is ours is replaced; sheets of another plan stay, and are told; what is nobody's sheet is left alone."""
    (tmp_path / "notes.txt").write_text("mine")
    (tmp_path / "mine.html").write_text("<p>mine</p>")
    said("plan", INTERVAL, "--sheets", tmp_path)
    done = said("plan", PAIR, "--sheets", tmp_path)
    assert done.status == 0
    assert "left as they were: booth-river.html, booth-yard.html. Their times may be of another plan." in done.out
    assert "Pair" in (tmp_path / "index.html").read_text()
    assert (tmp_path / "notes.txt").read_text() == "mine"
    assert "mine.html" not in done.out


@pytest.mark.parametrize(("option", "name"), [("--sheets", "lobby.html"), ("--chart", "show.svg")])
def test_what_is_not_ours_is_not_replaced(tmp_path: Path, option: str, name: str) -> None:
    """Nothing at all is then written, and the sentence names the file."""
    mine = tmp_path / name
    mine.write_text("mine")
    done = said("plan", PAIR, option, tmp_path if option == "--sheets" else mine)
    assert done.status == 2
    assert done.err == f"Nothing was written: Festoon did not make {mine}, and replaces only what it made.\n"
    assert names(tmp_path) == [name]
    assert mine.read_text() == "mine"


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (["--chart", "show.png"], "found show.png; accepted: a name that ends in .svg"),
        (["--chart", "show"], "found show; accepted: a name that ends in .svg"),
        (["--pdf"], "give --sheets DIR with it"),
    ],
)
def test_options_that_cannot_be_followed_are_refused(options: list[str], sentence: str) -> None:
    """One sentence, status 2, and nothing was worked out."""
    done = said("plan", PAIR, *options)
    assert (done.status, done.out) == (2, "")
    assert sentence in " ".join(done.err.split())


def test_places_that_cannot_be_written_are_told(tmp_path: Path) -> None:
    """A file in the folder's place, a folder in the chart's, and a folder that is not there."""
    taken, folder = tmp_path / "taken", tmp_path / "folder.svg"
    taken.write_text("mine")
    folder.mkdir()
    assert (
        said("plan", PAIR, "--sheets", taken).err
        == f"{taken} is a file: --sheets takes a folder, or the name of a new one.\n"
    )
    assert said("plan", PAIR, "--chart", folder).status == 2
    missing = tmp_path / "no" / "chart.svg"
    told = f"Nothing was written: {missing.parent} is no folder, so {missing} has no place.\n"
    assert said("plan", PAIR, "--sheets", tmp_path / "sheets", "--chart", missing).err == told
    assert not (tmp_path / "sheets").exists()
    assert said("plan", PAIR, "--sheets", taken / "deeper").status == 2


def test_a_plan_that_is_no_use_writes_nothing(tmp_path: Path) -> None:
    """Its faults are told as ever, and no folder is made."""
    done = said("plan", tmp_path / "none.plan.toml", "--sheets", tmp_path / "paper")
    assert done.status == 2
    assert not (tmp_path / "paper").exists()


@pytest.mark.slow
def test_each_sheet_is_a_pdf_too(tmp_path: Path) -> None:
    """Where the extra is installed; the overview links them, and they are made again in their place."""
    for _ in range(2):
        assert said("plan", PAIR, "--sheets", tmp_path, "--pdf").status == 0
    assert names(tmp_path) == sorted([*PAIR_FILES, *(name.replace("html", "pdf") for name in PAIR_FILES)])
    assert all(path.read_bytes().startswith(b"%PDF-") for path in tmp_path.glob("*.pdf"))
    assert 'href="booth.pdf"' in (tmp_path / "index.html").read_text()
    (tmp_path / "lobby.pdf").write_bytes(b"%PDF-1.7 of somebody else")
    assert said("plan", PAIR, "--sheets", tmp_path, "--pdf").status == 2


def test_without_the_extra_the_pages_are_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One sentence says what to install, or that a browser prints them; no page links a PDF that is not there."""
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    done = said("plan", PAIR, "--sheets", tmp_path, "--pdf")
    assert done.status == 2
    assert names(tmp_path) == PAIR_FILES
    assert len(done.err.splitlines()) == 1
    assert "festoon[pdf]" in done.err
    assert "browser" in done.err
    assert ".pdf" not in (tmp_path / "index.html").read_text()
