"""What the technician's README says of the firmware and of times, and its drawings."""

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from adapters.contacts import modbus, modem
from adapters.contacts.kinds import DEBOUNCE_MS
from adapters.contacts.wiring import read_wiring
from server.contact_boards import CONTACT_KINDS
from server.timeline.plan import parse_plan
from tests.firmware.boxes import BAUD, FIRMWARE, PINS, README, build_commands
from tests.repository.checkout import ROOT

TEXT = README.read_text(encoding="utf-8")
DRAWINGS = sorted((README.parent / "drawings").glob("*.svg"))
SVG = "{http://www.w3.org/2000/svg}"
MM_PER_MS = 0.456
"""35 mm at 24 frames a second: 19.000 mm a frame (SMPTE 102-2002)."""

CUE_DEBOUNCE_MS = 5
"""What fixtures/contacts has for a foil detector."""

ANSWER_MS = 23
"""One unit at 9600 baud, as below."""


def row(first: str) -> list[str]:
    """The cells of the one row of a table whose first cell begins so, or is that; without the first."""
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in TEXT.splitlines() if line[:1] == "|"]
    (found,) = [cells for cells in rows if cells[0] == first] or [cells for cells in rows if cells[0].startswith(first)]
    return found[1:]


def test_links_lead_somewhere() -> None:
    """Every file and every heading that it points at is there."""
    targets = re.findall(r"\]\(([^)]+)\)", TEXT)
    headings = {
        re.sub(r"[^\w -]", "", title.lower()).replace(" ", "-")
        for title in re.findall(r"^## (.+)$", TEXT, re.MULTILINE)
    }
    assert targets
    assert [name for name in targets if not name.startswith("#") and not (README.parent / name).exists()] == []
    assert [name for name in targets if name.startswith("#") and name[1:] not in headings] == []


def test_the_pins_are_those_of_the_firmware() -> None:
    """Whoever wires by the table finds each input where the firmware reads it."""
    pins = [f"P{port}{number}" for port, number in PINS]
    assert row("pin") == pins
    assert re.findall(r"P[CD]\d", re.findall(r"\*   pin .*", (FIRMWARE / "main_avr.c").read_text("utf-8"))[0]) == pins


def test_the_wiring_of_the_box_can_be_copied() -> None:
    """Its feed has the speed for which the firmware is built."""
    (toml,) = re.findall(r"```toml\n(.*?)```", TEXT, re.DOTALL)
    wired = '[[inputs]]\nfeed = "box"\ninput = "12"\nstation = "a"\nwhat = "motor"\n'
    plan = parse_plan((ROOT / "fixtures" / "plans" / "pair.plan.toml").read_text("utf-8"), "pair.plan.toml")
    wiring = read_wiring(f'format = "festoon-contacts/1"\n{toml}{wired}', "box.contacts.toml", plan, CONTACT_KINDS)
    assert [each.id for each in wiring.inputs] == ["box/12"]
    assert f"baud = {BAUD}\n" in toml
    assert f"-DBAUD={BAUD}UL" in build_commands()[0]


def test_a_foil_is_there_for_its_length_at_the_speed_of_film() -> None:
    """Milliseconds are millimetres over 456 mm/s, and a frame is 19 mm."""
    lengths_mm = [int(cell.split()[0]) for cell in row("foil")]
    assert row("time") == [f"{mm / MM_PER_MS:.0f} ms" for mm in lengths_mm]
    assert lengths_mm == [10, 19, 25, 38, 50]


@pytest.mark.parametrize(
    ("first", "looks_ms"),
    [("box (looks", 1), ("status lines, `poll_ms`", modem.POLL_MS[0]), ("modules, `poll_ms`", modbus.POLL_MS[0])],
)
def test_the_shortest_foil_is_what_the_port_can_see(first: str, looks_ms: int) -> None:
    """It lasts for the debounce, and for one look or poll more with its answer."""
    more_ms = looks_ms + (ANSWER_MS if first.startswith("modules") else 0)
    times_ms = [debounce_ms + more_ms for debounce_ms in (DEBOUNCE_MS, CUE_DEBOUNCE_MS)]
    assert row(first) == [f"{ms} ms: {ms * MM_PER_MS:.0f} mm" for ms in times_ms]


def test_the_time_of_an_answer_is_that_of_its_bytes() -> None:
    """10 bits for each of 15 bytes, and two silences of 3.5 characters or 1.75 ms (MODBUS over Serial Line, from
    memory)."""
    bauds = (9600, 19_200, 38_400, 115_200)
    silence_ms = [max(3.5 * 10_000 / baud, 1.75) for baud in bauds]
    times_ms = [15 * 10_000 / baud + 2 * silent for baud, silent in zip(bauds, silence_ms, strict=True)]
    assert row("8 bytes out") == [f"{ms:.0f} ms" for ms in times_ms]


@pytest.mark.parametrize("path", DRAWINGS, ids=lambda path: path.stem)
def test_a_drawing_can_be_read_by_everybody(path: Path) -> None:
    """It has a title and a description, nothing from elsewhere, its own paper in light and dark, and is shown."""
    drawing = ET.parse(path).getroot()
    named = {each.get("id"): "".join(each.itertext()) for each in drawing if each.get("id")}
    assert drawing.get("role") == "img"
    assert [len(named[name]) > 20 for name in (drawing.get("aria-labelledby") or "").split()] == [True, True]
    assert drawing.find(f"{SVG}rect[@class='paper']") is not None
    source = path.read_text(encoding="utf-8")
    assert "prefers-color-scheme: dark" in source
    assert re.findall(r"<script|href|url\(|@import", source) == []
    assert f"](drawings/{path.name})" in TEXT


def test_there_are_five_drawings() -> None:
    """A contact, status lines, RS-485, a serial server and a relay."""
    assert len(DRAWINGS) == 5
