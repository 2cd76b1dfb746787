"""How fast a recorded show replays: three hours, sixteen stations and thirty, forty marks, every contact wired.

    python tests/bench/replay.py
    python tests/bench/replay.py --against COMMIT

prints the seconds it takes, how many times real time that is, and the cost of one event; or that cost beside what it
is at another commit, timed in turn. The interpreter's start and the reading of the files are not in it.
"""

import argparse
import os
import random
import subprocess
import sys
import tempfile
import time
from datetime import timedelta
from itertools import count
from pathlib import Path
from statistics import median

sys.path.insert(0, os.environ.get("BENCH_CHECKOUT", str(Path(__file__).resolve().parents[2])))

from server.timeline.engine import Engine, replay
from server.timeline.events import Event, event_from_json, order_key
from server.timeline.plan import Plan, parse_plan
from server.timeline.schedule import schedule_from_plan

LATE, LATE_S = 0.05, 120.0
TAKEN_BACK, BACK_S = 62, 1800.0
"""Chosen: a bad night."""

CHECKOUT = "BENCH_CHECKOUT"
"""In the environment: the checkout whose engine is timed, this one where it is not given."""

STATIONS, MOST_STATIONS, MARKS, ROUNDS, PAIRS = 16, 30, 40, 5, 7
CONTACT_SIGMA_S = 0.02


def plan_of_the_show(houses: int = STATIONS) -> Plan:
    """So many stations 100 ft apart; a leader, 38 trailers and a feature that starts the fortieth mark, a tail."""
    return parse_plan(text_of_the_show(houses), "bench")


def text_of_the_show(houses: int = STATIONS) -> str:
    """The text of that plan."""
    trailers = "".join(
        f'[[print]]\nid = "t{i}"\nkind = "trailer"\nduration = "2:20"\ncue = true\n' for i in range(MARKS - 2)
    )
    stations = "".join(
        f'[[stations]]\nid = "h{k}"\nhouse = "{k}"\npath_ft = {100 if k else 0}\nrollers = 8\n'
        'inputs = { motor = "contact", lamp = "contact", douser = "contact", cue = "contact" }\n'
        for k in range(houses)
    )
    text = (
        'format = "festoon-plan/1"\ntitle = "Bench"\n[timing]\nmotors_at = 2026-03-14T18:50:00-05:00\n'
        '[[print]]\nid = "leader"\nkind = "leader"\nfeet = 60\n' + trailers + '[[print]]\nid = "feature"\n'
        'kind = "feature"\nduration = "1:10:00"\ncue = true\n'
        '[[print]]\nid = "tail"\nkind = "tail"\nfeet = 150\ncue = true\n'
    )
    return text + stations


def events_of_the_show(plan: Plan, chance: random.Random) -> list[Event]:
    """Every start, lamp, douser, cue and stop of a show that goes by its schedule, with the errors of contacts."""
    numbers = count()

    def seen(at_s: float, kind: str, station: str, **more: str) -> Event:
        t = plan.zero + timedelta(seconds=at_s + chance.gauss(0.0, CONTACT_SIGMA_S))
        told = {"id": f"e{next(numbers)}", "t": t, "kind": kind, "station": station, "source": "contact"}
        return event_from_json({**told, **more})

    events: list[Event] = []
    for station in schedule_from_plan(plan).stations:
        events += [
            seen(station.start_s, "motor_start", station.id),
            seen(station.passes["head"] - 50.0, "lamp_lit", station.id),
            seen(station.passes["head"] - 10.0, "douser_open", station.id),
            *(seen(station.passes[m.id], "mark_pass", station.id, mark=m.id) for m in plan.marks if m.cue),
            seen(station.passes["end"] + 5.0, "lamp_out", station.id),
            seen(station.clear_s + 5.0, "motor_stop", station.id),
        ]
    return sorted(events, key=lambda event: order_key(event, plan))


def main() -> None:
    """Replay the show a few times at each size and print what it took."""
    command = argparse.ArgumentParser(description="What a replayed show costs.")
    command.add_argument("--against", metavar="COMMIT", help="another commit, timed in turn with this checkout")
    command.add_argument("--pairs", type=int, default=PAIRS, help="how often both are timed (default %(default)s)")
    command.add_argument("--best", type=int, metavar="HOUSES", help=argparse.SUPPRESS)
    asked = command.parse_args()
    if asked.best:
        print(best_ms(plan_of_the_show(asked.best)))
    elif asked.against:
        compare(asked.against, asked.pairs)
    else:
        for houses, rounds in ((STATIONS, ROUNDS), (MOST_STATIONS, 2)):
            measure(plan_of_the_show(houses), rounds)
        take_back(plan_of_the_show(), random.Random(1))


def best_ms(plan: Plan) -> float:
    """Processor time an event, in milliseconds: the least of a few replays, after one that is not counted."""
    events = events_of_the_show(plan, random.Random(1))
    took_s = []
    for _ in range(3):
        since_s = time.process_time()
        replay(plan, events)
        took_s.append(time.process_time() - since_s)
    return min(took_s[1:]) / len(events) * 1e3


def compare(commit: str, pairs: int) -> None:
    """Time this checkout and another commit in turn, and print the ratios pair by pair."""
    here = Path(__file__).resolve().parents[2]
    with tempfile.TemporaryDirectory() as folder:
        there = Path(folder) / "checkout"
        subprocess.run(["git", "-C", here, "worktree", "add", "-q", "--detach", there, commit], check=True)
        try:
            for houses in (STATIONS, MOST_STATIONS):
                both = [(_timed_ms(here, here, houses), _timed_ms(there, here, houses)) for _ in range(pairs)]
                ours, theirs = (median(ms) for ms in zip(*both, strict=True))
                ratios = sorted(our / their for our, their in both)
                print(
                    f"{houses} stations: {ours:.3f} ms of the processor an event, {theirs:.3f} at {commit}; "
                    f"ratio {median(ratios):.2f} ({ratios[0]:.2f} to {ratios[-1]:.2f}, {pairs} pairs)"
                )
        finally:
            subprocess.run(["git", "-C", here, "worktree", "remove", "--force", there], check=True)


def take_back(plan: Plan, chance: random.Random) -> None:
    """Print what a show costs of which much comes late or is taken back: live, and when its log is read again."""
    known = [(event.t, event) for event in events_of_the_show(plan, chance)]
    known = [
        (t + timedelta(seconds=chance.uniform(1.0, LATE_S) if chance.random() < LATE else 0.0), e) for t, e in known
    ]
    for event in chance.sample([event for _, event in known if event.kind == "mark_pass"], TAKEN_BACK):
        t = event.t + timedelta(seconds=chance.uniform(5.0, BACK_S))
        told = {"id": f"r-{event.id}", "kind": "retract", "retracts": event.id, "source": "tap"}
        known.append((t, event_from_json({**told, "t": t})))
    known.sort(key=lambda one: one[0])
    live, took_s = Engine(plan), list[float]()
    for t, event in known:
        since_s = time.process_time()
        live.take(event, (t - plan.zero) // timedelta(microseconds=1))
        took_s.append(time.process_time() - since_s)
    since_s = time.process_time()
    Engine(plan).take_all([event for _, event in known], (known[-1][0] - plan.zero) // timedelta(microseconds=1))
    again_s = time.process_time() - since_s
    wrong = f"{LATE:.0%} up to {LATE_S:.0f} s late, {TAKEN_BACK} taken back within {BACK_S:.0f} s"
    cost = f"{sum(took_s):.2f} s of the processor live, {max(took_s) * 1e3:.0f} ms at most for one"
    print(f"{len(known)} events, {wrong}: {cost}, {again_s:.2f} s to read them again")


def _timed_ms(code: Path, bench: Path, houses: int) -> float:
    """What an event costs by the engine of one checkout, measured by this file."""
    command = [sys.executable, str(bench / "tests" / "bench" / "replay.py"), "--best", str(houses)]
    done = subprocess.run(command, env={**os.environ, CHECKOUT: str(code)}, check=True, capture_output=True, text=True)
    return float(done.stdout)


def measure(plan: Plan, rounds: int) -> None:
    """Replay a plan's show so many times and print what it took."""
    events = events_of_the_show(plan, random.Random(1))
    show_s = schedule_from_plan(plan).stations[-1].clear_s
    marks = sum(mark.cue for mark in plan.marks)
    print(f"{show_s / 3600.0:.2f} h of show, {len(plan.stations)} stations, {marks} marks, {len(events)} events")
    wall_s, processor_s = [], []
    changes = 0
    for _ in range(rounds):
        wall, processor = time.perf_counter(), time.process_time()
        changes = len(replay(plan, events)[0])
        wall_s.append(time.perf_counter() - wall)
        processor_s.append(time.process_time() - processor)
    took_s = median(wall_s)
    print(f"replayed in {took_s:.3f} s (processor {median(processor_s):.3f} s), at best {min(wall_s):.3f} s")
    print(f"{show_s / took_s:,.0f} times real time, {took_s / len(events) * 1e3:.2f} ms an event, {changes} changes")
    print(f"{median(processor_s) / len(events) * 1e3:.2f} ms of the processor an event")


if __name__ == "__main__":
    main()
