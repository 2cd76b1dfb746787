"""A box with two inputs on a pseudo-terminal, and the wiring file that puts them at station a."""

import contextlib
import threading
from collections.abc import Iterator
from pathlib import Path

from tests.adapters.contacts.peers import TextBox

WIRING = """\
format = "festoon-contacts/1"
[[feeds]]
id = "north"
kind = "text"
port = "{port}"
[[inputs]]
feed = "north"
input = "1"
station = "a"
what = "motor"
[[inputs]]
feed = "north"
input = "2"
station = "a"
what = "lamp"
"""


class Booth:
    """A box that says all its levels twenty times a second, and the wiring file of it."""

    def __init__(self, folder: Path) -> None:
        self.box = TextBox(folder, 2)
        self.wiring = folder / "booth.contacts.toml"
        self.wiring.write_text(WIRING.format(port=self.box.address), encoding="utf-8")
        self.data = folder / "log"
        self.box.plug()
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._say, daemon=True)

    def _say(self) -> None:
        while not self._over.wait(0.05):
            self.box.all_levels()

    @contextlib.contextmanager
    def speaking(self) -> Iterator["Booth"]:
        self._thread.start()
        yield self
        self.stop()

    def stop(self) -> None:
        """It says nothing more."""
        self._over.set()
        self._thread.join()

    def toggle(self) -> bool:
        """The first contact goes over."""
        self.box.levels[1] = not self.box.levels[1]
        return True
