"""A state as a server shows it to desks."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from server.plan_runs import run_name
from server.timeline.plan import parse_plan
from tests.browser.past import Written, write_runs
from tests.browser.served import Served, served, served_plans
from tests.screens.states import Show, State, events_of, plan_text


@contextmanager
def shown(state: State) -> Iterator[Served]:
    """Serve the runs of a state, each as far as its show has come, and end that afterwards.

    The server goes on with a log that has all that was seen until now: that is gone through once, not event by event.
    """
    with TemporaryDirectory() as folder:
        if not state.shows:
            with served("serve", "--port", "0", "--data", folder) as server:
                yield server
            return
        runs = [_written(show, f"show{number}.plan.toml") for number, show in enumerate(state.shows)]
        files = [Path(folder) / run.plan_name for run in runs]
        for file, run in zip(files, runs, strict=True):
            file.write_text(run.plan_text, encoding="utf-8")
        write_runs(Path(folder) / "log", *runs)
        with served_plans(*files) as server:
            yield server


def _written(show: Show, name: str) -> Written:
    text = plan_text(show)
    plan = parse_plan(text, name)
    return Written(run_name(plan), text, name, [(event.t, event) for event in events_of(show, plan)])
