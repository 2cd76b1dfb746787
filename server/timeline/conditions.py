"""Which alarms the evidence calls for, as levels over the time to come. The table in MODEL.md says it in words."""

import math
from collections.abc import Collection, Iterator

from server.timeline.alarm_kinds import WHOLE_CHAIN
from server.timeline.blame import clear_us, same_motor
from server.timeline.condition import RANK, Condition, steady, us_from_s
from server.timeline.estimate import US_PER_S
from server.timeline.evidence import Evidence
from server.timeline.naming import house_of
from server.timeline.outlook import variance_at
from server.timeline.people import TROUBLE_LEVELS, Report
from server.timeline.plan import Plan
from server.timeline.slack_conditions import TIGHT_HOLD, slack_conditions, stop_known_us
from server.timeline.starts import starts_due, stopped_with_chain, unseen_starts
from server.timeline.steps import ALWAYS_US, Steps, until
from server.timeline.stops import film_heat, is_clear, stands_us, stop_todo, stopped_us
from server.timeline.view import Level
from server.timeline.wording import silent_text, text_of

OVERDUE_S, OVERDUE_SD = 5.0, 3.0
DARK_SD = 2.0
NOTE_S = 60.0
CLOCK_STEP_S = 0.2
# chosen deadbands: an estimate that moves by less than this does not put an alarm out that it raised
_ESTIMATE_BAND_S = 5.0
# chosen: contacts of one fault may close in any order, and somebody notices a stop seconds late
_TOLD_LATE_S = 5.0
# chosen: after a stop that nobody wanted the crew has stopped the rest of the chain within this
_ANSWERED_S = 60.0
# chosen: a xenon lamp that went out does not light again by itself, so what is back within this was its contact
_LAMP_BACK_S = 2.0
# chosen: a contact that flickers is off in every second look at it; one in 32 flickers is off in so many on end
_LOOKS_OFF = 5
_LOOKS_OFF_AT_MOST_S = 5.0
# 95 % are under this many standard deviations (normal tables)
_MAY_BE_SD = 1.645


def conditions_of(evidence: Evidence, until_us: int, held: Collection[str]) -> tuple[Condition, ...]:
    """Read the conditions off the evidence, those that others follow from first.

    They are valid until the next event, or `until_us` if that comes first: what cannot come on before then is left out
    where it is not `held`, the keys of the alarms that are on.
    """
    due_us = starts_due(evidence)
    return (
        *_trips(evidence),
        *_starts_missing(evidence, due_us),
        *_motors_lost(evidence),
        *film_heat(evidence),
        *_lamps(evidence, until_us),
        *_marks_overdue(evidence, until_us),
        *slack_conditions(evidence, due_us, until_us, held),
        *_misfits(evidence),
        *_sources(evidence),
        *_clock(evidence),
        *_house_reports(evidence),
        *_calls(evidence),
    )


def _same(kind: str, subject: str, steps: Steps, text: str, since_us: int | None = None) -> Condition:
    return Condition(kind, subject, steps, steps, text, since_us=since_us, anew=since_us is not None)


def _trips(evidence: Evidence) -> Iterator[Condition]:
    for k, state in enumerate(evidence.stations):
        if state.trip_us is not None:
            steps = steady(state.trip_us, "act")
            beside = _slack_beside(evidence, k, state.trip_us, tripped=True)
            causes = (*_stops_beside(evidence, k, state.trip_us), *beside)
            yield _stop("film_trip", evidence, k, (steps, steps), causes)


def _stop(
    kind: str,
    evidence: Evidence,
    k: int,
    steps: tuple[Steps, Steps],
    causes: tuple[str, ...],
    since_us: int | None = None,
) -> Condition:
    """A motor that stands where it should not; `steps` are when the alarm comes on, and while it stays."""
    text, todo = text_of(kind, house_of(evidence.plan, k)), stop_todo(evidence, kind, (k,))
    early = evidence.endings.early(k)
    if early is not None:
        text += f"; or the tail is {-early.longer_s:.0f} s shorter than planned"
    return Condition(kind, evidence.plan.stations[k].id, *steps, text, causes, since_us=since_us, todo=todo)


def _stops_beside(evidence: Evidence, k: int, at_us: int) -> tuple[str, ...]:
    """What stopped a neighbour so shortly before that this stop may follow from it.

    A link beside a motor that stands fills or empties at a second a second, so from one end of its reserve to the
    other it lasts for twice the reserve. A neighbour that nobody but people tell of may have stopped in between.
    """
    causes = tuple(_group_stops(evidence, k, at_us))
    for step in (-1, 1):
        lasts_us, j = us_from_s(_TOLD_LATE_S), k + step
        while 0 <= j < len(evidence.stations):
            lasts_us += us_from_s(2.0 * evidence.plan.links[min(j, j - step)].reserve_s)
            state, station = evidence.stations[j], evidence.plan.stations[j]
            if not state.running or state.trip_us is not None:
                since_us = stopped_us(state)
                if since_us is None or -us_from_s(_TOLD_LATE_S) <= at_us - since_us <= lasts_us:
                    causes += (f"film_trip:{station.id}", f"motor_lost:{station.id}", f"start_missing:{station.id}")
            if station.inputs.motor == "contact":
                break
            j += step
    return causes


def _group_stops(evidence: Evidence, k: int, at_us: int) -> Iterator[str]:
    """The stops of motors that are wired to stop with this one: the first of them explains the others at once."""
    for j in evidence.plan.stopped_with[k]:
        since_us = stopped_us(evidence.stations[j])
        if since_us is not None and abs(at_us - since_us) <= us_from_s(_TOLD_LATE_S):
            yield from (f"{kind}:{evidence.plan.stations[j].id}" for kind in ("film_trip", "motor_lost"))


def _answered_stops(evidence: Evidence, k: int, at_us: int) -> tuple[str, ...]:
    """Stops that this one may be the crew's answer to: who sees one projector stop stops the others.

    That it is done shows where, since then, at least as many others have stopped as still run.
    """
    causes: tuple[str, ...] = ()
    running = sum(state.running for state in evidence.stations)
    for j, (station, state) in enumerate(zip(evidence.plan.stations, evidence.stations, strict=True)):
        since_us = stopped_us(state)
        if j == k or since_us is None or not 0 <= at_us - since_us <= us_from_s(_ANSWERED_S):
            continue
        stopped = [other.stopped_us for other in evidence.stations if other is not state and not other.running]
        if sum(us is not None and us >= since_us for us in stopped) >= running:
            causes += (f"film_trip:{station.id}", f"motor_lost:{station.id}")
    return causes


def _slack_beside(evidence: Evidence, k: int, at_us: int, *, tripped: bool) -> tuple[str, ...]:
    """What is told of the film on either side of a station that a stop may follow from.

    What was forecast; and slack, where the reserve may well have been gone by then, or where it is the failsafe that
    says so, whatever reserve was planned: then also on the other side of the motor that is to blame. Further along,
    past stations that nobody but people tell of, a stop may not have been told yet: there it is both only where the
    reserve may be gone.
    """
    causes: tuple[str, ...] = ()
    for i, beside in _links_in_reach(evidence.plan, k):
        link, other = evidence.plan.links[i], same_motor(evidence, i) if tripped and beside else None
        if (tripped and beside) or _may_be_gone(evidence, i, at_us):
            causes += _of_slack(link.id)
        elif beside:
            causes += (f"reserve_spent:{link.id}", f"slack_forecast:{link.id}")
        if other is not None:
            causes += _of_slack(evidence.plan.links[other].id)
    return causes


def _of_slack(link: str) -> tuple[str, ...]:
    return (f"reserve_spent:{link}", f"slack_tight:{link}", f"slack_loose:{link}", f"slack_forecast:{link}")


def _links_in_reach(plan: Plan, k: int) -> Iterator[tuple[int, bool]]:
    """The links on either side of a station, and on from there past stations without a contact of their motor.

    With each goes whether it is one of the first.
    """
    for step in (-1, 1):
        j = k
        while 0 <= (link := min(j, j + step)) < len(plan.links):
            yield link, j == k
            j += step
            if plan.stations[j].inputs.motor == "contact":
                break


def _may_be_gone(evidence: Evidence, i: int, at_us: int) -> bool:
    """Whether a link's reserve may well have been gone at an instant, by what is known or by what is supposed."""
    after_s = (at_us - evidence.outlook.at_us) / US_PER_S
    supposed = evidence.prospect.supposed.get(i)
    for link in (evidence.outlook.of_link(i), *((supposed.link,) if supposed is not None else ())):
        most_s = abs(link.slack + link.drift * after_s) + _MAY_BE_SD * math.sqrt(variance_at(link.slack_var, after_s))
        if most_s >= TIGHT_HOLD[1][0] * evidence.plan.links[i].reserve_s:
            return True
    return False


def _starts_missing(evidence: Evidence, due_us: dict[int, int]) -> Iterator[Condition]:
    """Motors that should have started; where their feed was known to be silent by then, nobody can tell."""
    grace_us, unseen = us_from_s(evidence.plan.timing.start_grace_s), unseen_starts(evidence, due_us)
    for k, due in due_us.items():
        level: Level = "watch" if k in unseen else "act"
        causes = (f"feed_silent:{unseen[k]}",) if k in unseen else ()
        missing = _stop("start_missing", evidence, k, (steady(due + grace_us, level), steady(due, level)), causes)
        text = text_of("start_missing_unseen", house_of(evidence.plan, k))
        yield missing._replace(text=text) if k in unseen else missing


def _motors_lost(evidence: Evidence) -> Iterator[Condition]:
    for k, (station, state) in enumerate(zip(evidence.plan.stations, evidence.stations, strict=True)):
        if state.running or state.stopped_us is None or evidence.is_out(k, "tail_end"):
            continue
        if not stopped_with_chain(evidence, k):
            # Told only once the grace is over: until then it may turn out to be a stop of the chain.
            steps = steady(stop_known_us(evidence, k), "act")
            stops = (*_stops_beside(evidence, k, state.stopped_us), *_answered_stops(evidence, k, state.stopped_us))
            beside = _slack_beside(evidence, k, state.stopped_us, tripped=False)
            causes = (f"film_trip:{station.id}", *stops, *beside)
            yield _stop("motor_lost", evidence, k, (steps, steps), causes, state.stopped_us)


def _lamps(evidence: Evidence, until_us: int) -> Iterator[Condition]:
    for k, (station, state) in enumerate(zip(evidence.plan.stations, evidence.stations, strict=True)):
        burns_on_screen = state.lit and state.douser == "open"
        if station.inputs.lamp != "none" and not burns_on_screen:
            yield from _strikes(evidence, k, until_us)
            yield from _lamp_lost(evidence, k)
            yield from _douser_heat(evidence, k)


def _strikes(evidence: Evidence, k: int, until_us: int) -> Iterator[Condition]:
    """A missed strike and the dark gate that follows from it; neither while the motor stands.

    The picture comes with the head, and again after an intermission.

    Where the lamp's contact was known to be silent in good time before it should have been lit, nobody can tell.
    """
    station, state = evidence.plan.stations[k], evidence.stations[k]
    if state.lit or state.lamp_lost or not state.running:
        return
    mark = evidence.plan.mark(evidence.picture_mark(k, evidence.told_us(k)))
    head_us = evidence.reached_us(k, mark.id)
    if head_us is None:
        return
    # It comes on until the picture ends, and is over once the film is out.
    ends_us = (evidence.reached_us(k, "end"), clear_us(evidence, k))
    closes_us = max(head_us - us_from_s(station.lamp.latest_s), _surely_out_us(evidence, k))
    surely_us = closes_us - us_from_s(_ESTIMATE_BAND_S)
    if surely_us > until_us:
        return
    silent = evidence.silence(k, "lamp")
    by_contact = station.inputs.lamp == "contact" and (silent is None or silent.since_us > surely_us)
    missed = "strike_missed" if by_contact else "strike_unconfirmed"
    level: Level = "act" if by_contact else "watch"
    if state.lamp_us is None or state.lamp_us <= head_us:
        text = text_of(missed, house_of(evidence.plan, k))
        yield _by_estimate(missed, station.id, closes_us, ends_us, level, text, ())
    dark_us = max(head_us, _surely_out_us(evidence, k))
    if mark.id not in state.passes and state.latest_x_s < mark.x_s:
        eta = evidence.prospect.eta_us(k, mark.x_s)
        dark_us += us_from_s(DARK_SD * eta[1]) if eta is not None else 0
    causes = (f"{missed}:{station.id}",)
    text = text_of("dark_gate", house_of(evidence.plan, k))
    yield _by_estimate("dark_gate", station.id, dark_us, ends_us, level, text, causes)


def _by_estimate(
    kind: str,
    subject: str,
    on_us: int,
    ends_us: tuple[int | None, int | None],
    level: Level,
    text: str,
    causes: tuple[str, ...],
) -> Condition:
    """What comes on from an instant by the estimate to the first of two, and stays on to the second."""
    on, stay = steady(on_us, level), steady(on_us - us_from_s(_ESTIMATE_BAND_S), level)
    return Condition(kind, subject, until(on, ends_us[0]), until(stay, ends_us[1]), text, causes)


def _lamp_lost(evidence: Evidence, k: int) -> Iterator[Condition]:
    station, state = evidence.plan.stations[k], evidence.stations[k]
    if state.lamp_lost and state.lamp_us is not None:
        over_us, text = clear_us(evidence, k), text_of("lamp_lost", house_of(evidence.plan, k))
        on = until(steady(_surely_out_us(evidence, k), "act"), over_us)
        stay = until(steady(state.lamp_us, "act"), over_us)
        yield Condition("lamp_lost", station.id, on, stay, text, since_us=state.lamp_us, anew=True)


def _surely_out_us(evidence: Evidence, k: int) -> int:
    """From when on a lamp that is not lit has surely gone out, if it was lit before."""
    state = evidence.stations[k]
    if state.lamp_us is None:
        return ALWAYS_US
    if evidence.plan.stations[k].inputs.lamp != "contact":
        return state.lamp_us
    # A change that comes between two looks is uniform: the time from look to look is the root of twelve of its errors,
    # and it was seen to be out at the end of that.
    look_s = math.sqrt(12.0) * state.lamp_sigma_s
    off_s = max(_LAMP_BACK_S, min(_LOOKS_OFF * look_s, _LOOKS_OFF_AT_MOST_S))
    return state.lamp_us + us_from_s(0.5 * look_s + off_s)


def _douser_heat(evidence: Evidence, k: int) -> Iterator[Condition]:
    station, state = evidence.plan.stations[k], evidence.stations[k]
    if not state.lit or state.douser == "open" or state.lamp_us is None or is_clear(evidence, k):
        return
    stood_in_picture = not state.running and state.started_us is not None and evidence.is_out(k, "head")
    if stood_in_picture and state.douser != "shut":
        return  # its light is on the film
    shut_us = max(state.lamp_us, state.douser_us if state.douser_us is not None else state.lamp_us)
    steps = steady(shut_us + us_from_s(station.lamp.douser_limit_s), "act")
    over_us = None if stood_in_picture else evidence.reached_us(k, evidence.picture_mark(k, evidence.told_us(k)))
    steps, text = until(steps, over_us), text_of("douser_heat", house_of(evidence.plan, k))
    todo = "" if stands_us(evidence, k) is None else "Put the lamp out: film stands behind its douser."
    yield Condition("douser_heat", station.id, steps, steps, text, todo=todo)


def _marks_overdue(evidence: Evidence, until_us: int) -> Iterator[Condition]:
    """Cues that are late; what is late at one gate and then at the next is one foil that is off the print.

    Once a later mark has gone by a gate without it, nobody waits for that foil any more.
    """
    above: dict[str, tuple[str, ...]] = {}
    awaited = evidence.cues.awaited(evidence.stations)
    if not any(awaited):
        return
    dues_us = evidence.prospect.passes_us([0.0 if mark is None else mark.x_s for mark in awaited])
    for k, (mark, due_us) in enumerate(zip(awaited, dues_us, strict=True)):
        if mark is None or due_us is None or due_us > until_us:
            continue
        station = evidence.plan.stations[k]
        eta = evidence.prospect.eta_us(k, mark.x_s)
        late_us = due_us + us_from_s(OVERDUE_S + OVERDUE_SD * (eta[1] if eta is not None else 0.0))
        silent = evidence.silence(k, "mark")
        is_off = mark.id in above and evidence.cues.is_unseen(mark)
        said = "mark_overdue_again" if silent is None and is_off else "mark_overdue"
        text = text_of(said, house_of(evidence.plan, k), mark.title)
        causes = (() if silent is None else (f"feed_silent:{silent.source}",)) + above.get(mark.id, ())
        above[mark.id] = (*above.get(mark.id, ()), f"mark_overdue:{station.id}")
        yield Condition("mark_overdue", station.id, steady(late_us, "watch"), steady(due_us, "watch"), text, causes)


def _misfits(evidence: Evidence) -> Iterator[Condition]:
    for station, state in zip(evidence.plan.stations, evidence.stations, strict=True):
        if state.misfit_us is not None:
            steps: Steps = ((state.misfit_us, "note"), (state.misfit_us + us_from_s(NOTE_S), None))
            text, todo = state.misfit_text, state.misfit_todo
            yield Condition("misfit", station.id, steps, steps, text, since_us=state.misfit_us, todo=todo, anew=True)


def _sources(evidence: Evidence) -> Iterator[Condition]:
    for source, state in sorted(evidence.sources.items()):
        if not state.up:
            yield _same("feed_silent", source, steady(state.since_us, "watch"), silent_text(source, state.text))


def _clock(evidence: Evidence) -> Iterator[Condition]:
    if evidence.clock_step is not None and math.fabs(evidence.clock_step[1]) > CLOCK_STEP_S:
        at_us, step_s = evidence.clock_step
        steps: Steps = ((at_us, "note"), (at_us + us_from_s(NOTE_S), None))
        yield _same("clock_step", "chain", steps, text_of("clock_step", f"{step_s:+z.1f} s"), since_us=at_us)


def _house_reports(evidence: Evidence) -> Iterator[Condition]:
    """What somebody in a house says is wrong there, the worst and the latest first; it calls again when more is."""
    if not evidence.people.reports:
        return
    for k, station in enumerate(evidence.plan.stations):
        reports = sorted(evidence.people.open_at(k), key=lambda one: (RANK[_level_of(one)], one.since_us), reverse=True)
        if not reports:
            continue
        first, latest_us = reports[0], max(one.since_us for one in reports)
        said = ", ".join(one.in_words for one in reports)
        by = f"by {first.by}" if first.by else "by somebody in the house"
        text = text_of("house_report", house_of(evidence.plan, k), f"{said}, reported {by}")
        if all(one.asks_to_hold for one in reports):
            text = text_of("house_report", "Lobby", f"{said} ({first.by or 'no name given'})")
        steps = steady(latest_us, _level_of(first))
        yield Condition("house_report", station.id, steps, steps, text, since_us=latest_us, todo=first.todo, anew=True)


def _level_of(report: Report) -> Level:
    return TROUBLE_LEVELS.get(report.what, "watch")


def _calls(evidence: Evidence) -> Iterator[Condition]:
    """Words to a booth that nobody there has acknowledged; a later one calls again."""
    subjects = dict.fromkeys(call.subject for call in evidence.people.calls)
    for subject in subjects:
        calls = [call for call in evidence.people.calls if call.subject == subject]
        latest = calls[-1]
        whom = "every booth" if subject == WHOLE_CHAIN else f"booth {subject}"
        said = "; ".join(call.text for call in reversed(calls))
        text = text_of("call", whom, f"{said} ({latest.by or 'no name given'})")
        steps = steady(latest.at_us, "watch")
        yield Condition("call", subject, steps, steps, text, since_us=latest.at_us, anew=True)
