"""The roll call: before the show every input is closed once, to see that it arrives and that it is the right one."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from adapters.contacts.kinds import Input
from adapters.contacts.settling import Change

BOUNCE_MS: Final = 10
"""A contact that bounces for longer is told: past the longest usual 6.2 ms (J. Ganssle, "A guide to debouncing")."""

QUIET_US: Final = 600_000_000
"""A roll call in which nothing moved for so long is over: contacts must not be left out of a show. Chosen."""

TEXT_LENGTH: Final = 1900
"""What a note of the run's log has room for, less its first words."""


@dataclass(slots=True)
class Row:
    """One input as the roll call knows it.

    `closes` counts how often it came on; `on` is its level now, None where that is not known. `instead` are the inputs
    that moved when this one was asked for. `edges` and `bounced_ms` are the worst of one change; `flickers` says that
    it changed more often than what it is wired to can.
    """

    wired: Input
    on: bool | None = None
    closes: int = 0
    opens: int = 0
    edges: int = 0
    bounced_ms: float = 0.0
    flickers: bool = False
    instead: list[str] = field(default_factory=list)

    @property
    def seen(self) -> bool:
        """Whether it came on and went off again."""
        return self.closes > 0 and self.opens > 0

    @property
    def bounces(self) -> bool:
        """Whether it bounced for longer than contacts do."""
        return self.bounced_ms > BOUNCE_MS


class RollCall:
    """The inputs of one run, and what was seen of each while the roll call was `on`.

    Outside it the rows still follow every level, so that a desk can show them.
    """

    def __init__(self, inputs: Sequence[Input]) -> None:
        self.rows = {each.id: Row(each) for each in inputs}
        self.on = False
        self.asked: str | None = None
        self.strays: dict[str, int] = {}
        self._moved_us = 0

    def begin(self, now_us: int, *, ask_next: bool = False) -> None:
        """Start anew; where `ask_next`, the inputs are asked for one after another."""
        for row in self.rows.values():
            row.closes = row.opens = row.edges = 0
            row.bounced_ms, row.flickers = 0.0, False
            row.instead.clear()
        self.strays.clear()
        self.on, self._moved_us = True, now_us
        self.asked = self._first_missing() if ask_next else None
        self._asks_next = ask_next

    def ask(self, input_id: str | None) -> None:
        """Say which input is going to be closed; None where that is left open."""
        if input_id is not None and input_id not in self.rows:
            raise KeyError(input_id)
        self.asked = input_id
        self._asks_next = False

    def skip(self) -> None:
        """Ask for the one after the one that was asked for."""
        missing = [row.wired.id for row in self.rows.values() if not row.seen]
        later = missing[missing.index(self.asked) + 1 :] if self.asked in missing else missing
        self.asked = next(iter(later), None) or next(iter(missing), None)

    def end(self) -> None:
        """Stop: from here on contacts count again."""
        self.on, self.asked = False, None

    def is_over(self, now_us: int) -> bool:
        """Whether every input has been seen, or nothing has moved for `QUIET_US`."""
        return not self.missing() or now_us - self._moved_us > QUIET_US

    def level(self, wired: Input, change: Change) -> None:
        """A level as it was found, with no change seen."""
        self.rows[wired.id].on = change.closed is not wired.normally_closed

    def moved(self, wired: Input, change: Change, now_us: int, *, flickers: bool = False) -> None:
        """A contact went over. One that is closed out of turn counts, and stands with the one that was asked for.

        It is out of turn and no more where the one that was asked for moves as well.
        """
        row = self.rows[wired.id]
        row.on = change.closed is not wired.normally_closed
        if not self.on:
            return
        self._moved_us = now_us
        row.edges = max(row.edges, change.edges)
        row.bounced_ms = max(row.bounced_ms, change.bounced_us / 1000)
        row.flickers = row.flickers or flickers
        if row.on and self.asked == wired.id:
            row.instead.clear()
        elif row.on and self.asked is not None:
            self._instead(self.rows[self.asked], wired)
        if row.on:
            row.closes += 1
        elif row.closes:
            row.opens += 1
        if row.seen and self.asked == wired.id:
            self.asked = self._first_missing() if self._asks_next else None

    def moved_unwired(self, input_id: str, now_us: int) -> None:
        """A contact went over that nothing is said of in the wiring file."""
        if self.on:
            self._moved_us = now_us
            self.strays[input_id] = self.strays.get(input_id, 0) + 1

    def missing(self) -> list[Row]:
        """The inputs that have not been seen yet."""
        return [row for row in self.rows.values() if not row.seen]

    def text(self, ticks: Sequence[str] = ()) -> str:
        """The result, as it is kept with the run: always the same parts, each of which may say "none".

        `ticks` are the feeds whose changes come on a tick, and which it is.
        """
        rows = list(self.rows.values())
        seen = sum(row.seen for row in rows)
        parts = {
            "missing": [row.wired.words + (": closed, never opened" if row.closes else "") for row in self.missing()],
            "wrong": [f"{row.wired.words}: {', '.join(row.instead)} moved instead" for row in rows if row.instead],
            "wired to nothing": list(self.strays),
            "bounce": [
                f"{row.wired.words}: {row.edges} edges in {row.bounced_ms:.0f} ms" for row in rows if row.bounces
            ],
            "flicker": [row.wired.words for row in rows if row.flickers],
            "sampled": list(ticks),
        }
        texts = "; ".join(f"{name}: {', '.join(found) or 'none'}" for name, found in parts.items())
        text = f"Roll call: {seen} of {len(rows)} inputs seen; {texts}"
        return text if len(text) <= TEXT_LENGTH else text[:TEXT_LENGTH] + " …"

    def _first_missing(self) -> str | None:
        return next((row.wired.id for row in self.rows.values() if not row.seen), None)

    def _instead(self, asked: Row, moved: Input) -> None:
        if moved.words not in asked.instead:
            asked.instead.append(moved.words)
