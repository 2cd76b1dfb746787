"""Wall clocks that are wrong at a restart, and that jump."""

import time
from datetime import UTC, datetime
from pathlib import Path

from tests.bench.faults.stage import Ledger, Outcome, Place, Screen, serving, until

BEHIND_S = 2400.0


def behind(folder: Path) -> Outcome:
    """Started again with the computer's clock forty minutes behind, which is then put right."""
    place, ledger, notes = Place(folder), Ledger(), []
    with serving(place) as server:
        screen, run_id = Screen(server), server.run_id
        screen.report("start", "motor_start", station="a", source="contact:north")
        until(lambda: screen.taken)
        screen.close()
        ledger.add(screen)
        server.kill()
    place.set_clock(-BEHIND_S)
    with serving(place) as server:
        screen = Screen(server)
        said = until(lambda: any("clock is" in text for texts in screen.warnings for text in texts), 5.0)
        first, begun = _now_s(screen), time.monotonic()
        time.sleep(1.0)
        goes_on = (_now_s(screen) - first) / (time.monotonic() - begun)
        true_time = datetime.now(UTC).isoformat()
        screen.report("true", "lamp_lit", station="a", t=true_time)
        taken = until(lambda: "true" in screen.taken, 5.0)
        place.set_clock(0.0)
        cleared = until(lambda: screen.warnings[-1:] == [[]], 5.0)
        screen.report("after", "note", text="x")
        until(lambda: "after" in screen.taken, 5.0)
        screen.close()
        ledger.add(screen)
        steps = screen.kinds.count("clock_step")
    notes.append(f"{goes_on:.1f} s of run in a second, {steps} steps written down")
    unsaid = (said is None) + (not 0.5 < goes_on < 2.0) + (taken is None) + (cleared is None) + (steps == 0)
    lost, doubled = ledger.against(place.stored(run_id)[0])
    return Outcome("restart with the clock 40 min behind", 1, len(ledger.taken), lost, 0, doubled, unsaid, notes[0])


def jumping(folder: Path) -> Outcome:
    """The clock jumps both ways in mid-show."""
    place, ledger, unsaid = Place(folder), Ledger(), 0
    with serving(place) as server:
        screen, run_id = Screen(server), server.run_id
        jumps = (3600.0, -1800.0, -1799.0, 0.0)
        for number, offset_s in enumerate(jumps):
            before = _now_s(screen)
            place.set_clock(offset_s)
            unsaid += until(lambda number=number: screen.kinds.count("clock_step") > number, 5.0) is None  # type: ignore[misc]
            unsaid += not 0.0 <= _now_s(screen) - before < 6.0
            screen.report(f"tap {number}", "note", text="x")
            unsaid += until(lambda number=number: f"tap {number}" in screen.taken, 5.0) is None  # type: ignore[misc]
        screen.close()
        ledger.add(screen)
        server.stop()
    lost, doubled = ledger.against(place.stored(run_id)[0])
    return Outcome("clock jumps in mid-show", len(jumps), len(ledger.taken), lost, 0, doubled, unsaid)


def _now_s(screen: Screen) -> float:
    asked = len(screen.times_s)
    screen.send({"type": "time", "c": 1})
    until(lambda: len(screen.times_s) > asked, 5.0)
    return screen.times_s[-1] if len(screen.times_s) > asked else -1.0
