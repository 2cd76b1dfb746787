"""Plans of many stations in the middle of their shows, and what brings them contacts."""

import json
import threading
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from adapters.contacts.pretend.box import TextBox
from server.timeline.plan import Plan, parse_plan
from tests.bench.fanout import INTO_THE_SHOW
from tests.bench.faults.plug import LEVELS_S, Plug


def plan_text(stations: int, title: str) -> str:
    """So many stations 100 ft apart, twenty-five minutes into a show of two hours; lamps and dousers on contacts."""
    moment = (datetime.now(UTC) - INTO_THE_SHOW).replace(microsecond=0)
    trailers = "".join(f'[[print]]\nid = "t{k}"\nkind = "trailer"\nduration = "2:20"\ncue = true\n' for k in range(6))
    chain = "".join(
        f'[[stations]]\nid = "s{k}"\nhouse = "{k + 1}"\npath_ft = {100 if k else 0}\n'
        'inputs = { motor = "tap", lamp = "contact", douser = "contact" }\n'
        for k in range(stations)
    )
    return (
        f'format = "festoon-plan/1"\ntitle = "{title}"\n[timing]\nmotors_at = {moment.isoformat()}\n'
        f'[[print]]\nid = "leader"\nkind = "leader"\nfeet = 60\n{trailers}'
        f'[[print]]\nid = "feature"\nkind = "feature"\nduration = "1:40:00"\ncue = true\n'
        f'[[print]]\nid = "tail"\nkind = "tail"\nfeet = 150\n{chain}'
    )


def written(folder: Path, stations: int, title: str) -> tuple[Path, Plan]:
    """Such a plan as a file."""
    text = plan_text(stations, title)
    file = folder / f"{title.lower().replace(' ', '-')}.plan.toml"
    file.write_text(text, encoding="utf-8")
    return file, parse_plan(text, file.name)


def run_of(address: str) -> str:
    """The one run of a server."""
    with urllib.request.urlopen(f"http://{address}/api/runs") as answer:
        return str(json.load(answer)[0]["run"])


def wiring_text(stations: int, port: str) -> str:
    """The lamps of all stations on the first inputs of one box, the dousers on the next."""
    wires = [(k, "lamp") for k in range(stations)] + [(k, "douser") for k in range(stations)]
    return f'format = "festoon-contacts/1"\n[[feeds]]\nid = "north"\nkind = "text"\nport = "{port}"\n' + "".join(
        f'[[inputs]]\nfeed = "north"\ninput = "{number}"\nstation = "s{k}"\nwhat = "{what}"\n'
        for number, (k, what) in enumerate(wires, 1)
    )


class MovingBox:
    """A box of which one input after another goes over when it is told so, and back the next time round."""

    def __init__(self, inputs: int) -> None:
        self.plug = Plug()
        self.moved = 0
        self._inputs = inputs
        self._box = TextBox(self.plug, inputs)
        self._lock = threading.Lock()
        self.over = threading.Event()

    def move(self) -> None:
        """The next input goes over."""
        number, turn = self.moved % self._inputs + 1, self.moved // self._inputs
        self.moved += 1
        with self._lock:
            self._box.change(number, turn % 2 == 0)

    def say(self) -> None:
        """Say all levels again and again, to whoever connects, until it is `over`."""
        while not self.over.wait(LEVELS_S):
            self.plug.take()
            with self._lock:
                self._box.all_levels()


@contextmanager
def boxed(inputs: int) -> Iterator[MovingBox]:
    """Such a box, switched on."""
    box = MovingBox(inputs)
    saying = threading.Thread(target=box.say, daemon=True)
    saying.start()
    try:
        yield box
    finally:
        box.over.set()
        saying.join()
        box.plug.die()
