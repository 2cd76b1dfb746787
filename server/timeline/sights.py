"""What passes and readings of slack say: what fits is learned, what does not is weighed.

A start, a stop and the film's end are `evidence`'s own; it calls these, and they work on it.
"""

import math
from itertools import takewhile
from typing import TYPE_CHECKING

from server.timeline.diagnosis import closed_again, tell
from server.timeline.endings import OUT_SD
from server.timeline.estimate import US_PER_S
from server.timeline.events import Event, sigma_s
from server.timeline.misfits import HELD_SD, WIDER, Stranger, see, shows_running
from server.timeline.naming import house_of, link_of

if TYPE_CHECKING:
    from server.timeline.evidence import Evidence

# chosen: how little is known of the count of a motor that was found running
_FOUND_RUNNING_SIGMA_S = 60.0
# chosen: film that stands was taken through by hand where a reading differs by so many standard deviations
_MOVED_SD = 2.0


def take_pass(evidence: "Evidence", station: int, at: int, event: Event) -> None:
    """Take the pass of a mark at a gate; who tells of it once more is not heard again."""
    state = evidence.stations[station]
    mark = evidence.plan.mark(event.mark or "")
    state.seen |= {mark.id}
    evidence.cues.saw(mark.id)
    if state.passed_by.get(mark.id) == event.source:
        # Film goes by once, and a finger may come down twice.
        if event.source.startswith("contact"):
            closed_again(evidence, station, at, mark.id, mark.title)
        return
    evidence.advance(at)
    error = sigma_s(event, evidence.plan)
    if not state.running and state.started_us is None and evidence.plan.stations[station].inputs.motor != "contact":
        _found_running(evidence, station, at, mark.x_s)
    feed = evidence.feeds.told(event.source, station)
    ahead_s = evidence.estimate.ahead_of_pass_s(station, mark.x_s, feed)
    # It is asked for only where it is weighed against what is in doubt.
    in_doubt = evidence.doubts.has_any(station)
    known_s = math.hypot(error, evidence.estimate.pass_sigma_s(station, mark.x_s)) if in_doubt else error
    now = Stranger(at, event.source, mark.x_s, 0.0, ahead_s, error, feed)
    if mark.x_s >= evidence.plan.print_s and evidence.ends(station, at, event):
        evidence.stations[station].passed_by[mark.id] = event.source
        return
    if evidence.estimate.see_pass(station, mark.x_s, error, feed):
        evidence.doubts.passed(station, at, ahead_s, known_s)
        evidence.estimate.reconsider(station)
    elif evidence.doubts.told_again(station, now):
        return
    elif not _explained(evidence, station, now):
        early = "early" if ahead_s > 0 else "late"
        why = "wrong tap, or the film jumped" if state.running else "its motor is not known to run"
        evidence.misfit(
            station, at, f"{house_of(evidence.plan, station)} saw {mark.title} {abs(ahead_s):.1f} s {early}: {why}"
        )
        return
    for same in evidence.plan.marks:
        if same.x_s == mark.x_s:
            state.passes.setdefault(same.id, at)
    state.latest_x_s = max(state.latest_x_s, mark.x_s)
    state.passed_by[mark.id] = event.source
    tell(evidence, station, at, feed)


def _found_running(evidence: "Evidence", station: int, at: int, x_s: float) -> None:
    """A pass shows that a motor runs, where nobody reported its start and no contact should have."""
    count_s = x_s + evidence.plan.ahead_s[station]
    state = evidence.stations[station]
    state.running = True
    state.started_us = at - round(count_s * US_PER_S)
    evidence.doubts.turned(station, at, running=True)
    evidence.estimate.place(station, count_s, _FOUND_RUNNING_SIGMA_S)


def _explained(evidence: "Evidence", station: int, now: Stranger) -> bool:
    """Whether this misfit agrees with one before; then both are believed and the state opens up to them."""
    state = evidence.stations[station]
    before = evidence.doubts.second(station, now)
    if _doubted(evidence, station, now):
        pass
    elif before is None:
        return False
    elif not state.running and now.x_s is not None and shows_running(before, now):
        _found_running(evidence, station, now.at_us, now.x_s)
        see(evidence.estimate, station, now, 0.0)
    elif not state.running or not evidence.doubts.own(station, before, now, evidence.estimate):
        return False
    evidence.doubts.fitted(station, now.at_us, placed=True)
    state.misfit_us = None
    return True


def _doubted(evidence: "Evidence", station: int, now: Stranger) -> bool:
    """Whether, with this misfit, a change of a motor is believed that explains it; of no more than links hold."""
    if not evidence.stations[station].running:
        return False
    ahead_s, hold_s = abs(now.ahead_s), evidence.doubts.hold_s(station)
    if now.x_s is not None:
        own = ahead_s <= hold_s + HELD_SD * math.hypot(now.error_s, evidence.estimate.pass_sigma_s(station))
        return evidence.estimate.doubt_pass(station, now.x_s, now.error_s, now.slips_per_s, own=own, feed=now.feed)
    return ahead_s <= hold_s and evidence.estimate.doubt_slack(station - 1, now.slack_s, now.error_s, now.slips_per_s)


def take_reading(evidence: "Evidence", station: int, at: int, event: Event) -> None:
    """Take a reading of the link that feeds a station."""
    evidence.advance(at)
    read_s, error = event.seconds or 0.0, sigma_s(event, evidence.plan)
    ahead_s = evidence.estimate.slack_s(station - 1) - read_s
    known_s = math.hypot(error, evidence.estimate.slack_sigma_s(station - 1))
    standing = _standing_below(evidence, station)
    moved = standing and abs(ahead_s) > _MOVED_SD * known_s
    if not moved and evidence.estimate.see_slack(station - 1, read_s, error):
        evidence.doubts.read(station, at, ahead_s, known_s)
        evidence.estimate.reconsider(station)
        evidence.spent.told(station - 1, evidence.estimate)
    elif _has_run_out(evidence, station - 1):
        text = (
            f"{link_of(evidence.plan, station - 1)}: a slack of {read_s:+z.1f} s was read, and no film comes any more"
        )
        evidence.misfit(station, at, text)
    elif standing:
        # Film that stands is taken through by hand: the reading is how it was left.
        _taken_through(evidence, station, standing, abs(ahead_s))
        evidence.estimate.see_slack(station - 1, read_s, error)
        evidence.spent.told(station - 1, evidence.estimate)
        evidence.doubts.fitted(station, at)
    elif not _explained(evidence, station, Stranger(at, event.source, None, read_s, ahead_s, error)):
        expected_s = read_s + ahead_s
        said = f"a slack of {read_s:+z.1f} s was read where {expected_s:+z.1f} s was expected"
        evidence.misfit(station, at, f"{link_of(evidence.plan, station - 1)}: {said}")


def take_relaced(evidence: "Evidence", station: int, at: int, event: Event) -> None:
    """Film that stands was laced anew, and moves no other link; of film that runs it is a reading."""
    standing = _standing_below(evidence, station)
    if not standing:
        take_reading(evidence, station, at, event)
        return
    evidence.advance(at)
    ahead_s = evidence.estimate.slack_s(station - 1) - (event.seconds or 0.0)
    _taken_through(evidence, station, standing, max(abs(ahead_s), evidence.plan.timing.reserve_s))
    evidence.estimate.see_slack(station - 1, event.seconds or 0.0, sigma_s(event, evidence.plan))
    evidence.spent.told(station - 1, evidence.estimate)
    evidence.doubts.fitted(station, at)


def _taken_through(evidence: "Evidence", station: int, standing: list[int], film_s: float) -> None:
    """Film was taken through by hand above a link or below it, nobody knows which; no other link is moved by that.

    What runs above was not: then it was below. At threading the first gate is where the film begins.
    """
    evidence.estimate.open_together(standing, WIDER * film_s)
    above = range(station)
    if all(not evidence.stations[k].running and evidence.stations[k].started_us is not None for k in above):
        evidence.estimate.open_together(above, WIDER * film_s)


def _has_run_out(evidence: "Evidence", station: int) -> bool:
    """Whether all of a station's film is through, by what is known of it."""
    state, out_s = evidence.stations[station], evidence.plan.mark("tail_end").x_s
    sure_s = 0.0 if state.running else OUT_SD * evidence.estimate.pass_sigma_s(station)
    return state.latest_x_s >= out_s or evidence.estimate.ahead_of_pass_s(station, out_s) <= sure_s


def _standing_below(evidence: "Evidence", station: int) -> list[int]:
    """The row of standing motors from this one down; none where it or the one above runs."""
    if evidence.stations[station - 1].running:
        return []
    below = range(station, len(evidence.stations))
    return list(takewhile(lambda k: not evidence.stations[k].running, below))
