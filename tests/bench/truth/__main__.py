"""Simulated shows, and what the engine made of them beside the truth and beside the best.

    python -m tests.bench.truth [--shows 2160] [--seed 1] [--plots FOLDER] [--worst]

prints a table of every measure with its target. Each show is given again by its line in `--worst`: how the chain is
wired, the scenario and the seed. `--plots` writes pictures as SVG. Two processes share the work.
"""

import argparse
import time
from collections.abc import Iterator, Sequence
from multiprocessing import Pool
from pathlib import Path

from rich.console import Console
from rich.progress import track
from rich.table import Table

from adapters.drill import CATALOGUE
from tests.bench.truth.endings import IN_TIME_S
from tests.bench.truth.measures import Result, measure
from tests.bench.truth.plots import plots
from tests.bench.truth.shows import ORDINARY, PRINT_OFF, RUNS_OFF, WIRED, Show, shows_of
from tests.bench.truth.summary import Line, summary
from tests.bench.truth.tellings import OWN, at_once, kind_of

_PROCESSES = 2


def main() -> None:
    """Run the shows and print what came of them."""
    asked = _asked()
    shows = [show for show in shows_of(asked.shows, asked.seed) if asked.only in {None, show.scenario}]
    console = Console()
    began_s = time.perf_counter()
    with Pool(_PROCESSES) as pool:
        done = pool.imap_unordered(measure, shows, chunksize=2)
        results = list(track(done, f"{len(shows)} shows", total=len(shows), console=console))
    results.sort(key=lambda result: result.show.seed)
    console.print(_table(summary(results)))
    last = asked.seed + asked.shows - 1
    console.print(f"seeds {asked.seed} to {last}, {time.perf_counter() - began_s:.0f} s")
    if asked.worst:
        for line in _worst(results):
            console.print(line, soft_wrap=True)
    if asked.plots is not None:
        for path in plots(results, asked.plots):
            console.print(f"wrote {path}")


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.truth", description=__doc__.split("\n")[0])
    parser.add_argument("--shows", type=int, default=2160, help="how many")
    parser.add_argument("--seed", type=int, default=1, help="of the first; each next has the next")
    parser.add_argument("--only", choices=[RUNS_OFF, *CATALOGUE], help="of these, only the shows of one scenario")
    parser.add_argument("--plots", type=Path, metavar="FOLDER", help="write pictures there")
    parser.add_argument("--worst", action="store_true", help="name the shows that miss a target, with what was told")
    return parser.parse_args()


def _table(lines: Sequence[Line]) -> Table:
    table = Table("wired", "measure", "value", "of", "target", "")
    for line in lines:
        verdict = "" if not line.target else "met" if line.met else "[bold]missed[/bold]"
        table.add_row(line.wired, line.what, line.told, str(line.number), line.target, verdict)
    return table


def _worst(results: Sequence[Result]) -> list[str]:
    lines = []
    for result in results:
        what = _named(result.show)
        if result.found is not None and result.found.best_s is not None and result.found.told_s is None:
            lines.append(
                f"{what}: not found; spent after {result.found.gone_s:.0f} s, best {result.found.best_s:.0f} s"
            )
        if result.show.scenario in (*ORDINARY, PRINT_OFF):
            lines += [f"{what}: false {t.level} {t.key} at {t.at_s:.0f} s" for t in result.told if not t.true]
        lines += [f"{what}: {miss}" for miss in _missed(result)]
        if len(result.first_outs) > 1:
            told = ", ".join(f"{t.key} {t.at_s:.0f} s" for t in result.first_outs)
            lines.append(f"{what}: {len(at_once(result.first_outs))} first-outs at a time of {told}")
    return lines


def _missed(result: Result) -> Iterator[str]:
    """What was made of the film's end, of light and of spent reserves, where that misses its target."""
    for end in result.run_outs:
        if end.at_act:
            yield f"the film's end at {end.station} told as an act, its tail {end.longer_s:+.1f} s longer than planned"
    for light in result.lights:
        if light.late_s > IN_TIME_S:
            yield f"light on standing film at {light.station} told {light.late_s:.1f} s late"
    for spent in result.to_come:
        if spent.past:
            yield f"{spent.told.level} {spent.told.key} at {spent.told.at_s:.0f} s, though the reserve was spent"
    for telling in result.told:
        if kind_of(telling) in OWN and not telling.true and result.show.scenario not in ORDINARY:
            yield f"false {telling.level} {telling.key} at {telling.at_s:.0f} s"


def _named(show: Show) -> str:
    return f"{show.wired} {show.scenario} {show.seed} ({', '.join(WIRED[show.wired])})"


if __name__ == "__main__":
    main()
