"""A table of a file whose faults say what was meant, where what was found is nearly right."""

from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from typing import Final

from server.planning.meant import meant_key, meant_number, meant_text, meant_whole, meant_word, quoted
from server.timeline.faults import either, found_text
from server.timeline.tables import Table, Word

Meaning = Callable[[object], str | None]

UNKNOWN_KEY: Final = "an unknown key"
"""What `Table.close` says that it found."""


class MeantTable(Table):
    """A `Table` whose faults end with what to write."""

    _meaning: Meaning | None = None

    def fault(self, key: str, found: str, accepted: str) -> None:
        """Note a fault at a key of this table, with what was meant where that can be told."""
        if found == UNKNOWN_KEY:
            meant = meant_key(key, self._known)
        else:
            meant = self._meaning(self.data.get(key)) if self._meaning and key in self.data else None
        super().fault(key, found, f"{accepted}: write {meant}" if meant else accepted)

    def number(self, key: str, default: float, low: float, high: float, *, over: bool = False) -> float:
        """A number from `low` (where `over`: over `low`) to `high`."""
        with self.meant(lambda found: meant_number(key, found, low, high)):
            return super().number(key, default, low, high, over=over)

    def whole(self, key: str, default: int, low: int, high: int) -> int:
        """A whole number from `low` to `high`."""
        with self.meant(lambda found: meant_whole(found, low, high)):
            return super().whole(key, default, low, high)

    def text(self, key: str) -> str | None:
        """An optional text."""
        with self.meant(meant_text):
            return super().text(key)

    def word(self, key: str, accepted: tuple[Word, ...], default: Word) -> Word:
        """One of the accepted words."""
        with self.meant(_meant_of(accepted)):
            return super().word(key, accepted, default)

    def named(self, key: str, accepted: Collection[str], what: str) -> str | None:
        """One of the names that the file gives; `what` says of what. None on a fault."""
        value = self.take(key)
        if isinstance(value, str) and value in accepted:
            return value
        with self.meant(_meant_of(accepted)):
            self.fault(key, found_text(value), f"{what}: {either(accepted)}")
        return None

    def table(self, key: str) -> "MeantTable":
        """A table inside this one; empty where it is absent."""
        inner = super().table(key)
        return MeantTable(inner.data, inner.path, inner.faults)

    def meant_tables(self, key: str, accepted: str) -> list["MeantTable"]:
        """The same as `tables`, and each says what was meant."""
        return [MeantTable(inner.data, inner.path, inner.faults) for inner in self.tables(key, accepted)]

    @contextmanager
    def meant(self, meaning: Meaning) -> Iterator[None]:
        """While this lasts, faults at keys that are there say what was meant by their values."""
        before, self._meaning = self._meaning, meaning
        try:
            yield
        finally:
            self._meaning = before


def _meant_of(accepted: Collection[str]) -> Meaning:
    def meant(found: object) -> str | None:
        word = meant_word(found, accepted)
        return None if word is None else quoted(word)

    return meant
