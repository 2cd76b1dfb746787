"""What whoever plays the pretended contacts may say: one order a line, read against the wiring; pure."""

from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

from adapters.contacts.kinds import FeedWiring, Input

SECONDS: Final = (0.1, 3600.0)
"""How long a flicker or a damage may last. Chosen."""

MOST_SHOWN: Final = 4
"""So many inputs are named where one of them is accepted. Chosen."""


class Verb(NamedTuple):
    """One order: what it is given, for how many seconds if nothing else is said (None: it takes no time), and a word
    on what it does.
    """

    given: str
    usual_s: float | None
    does: str


INPUT: Final = "INPUT"
FEED: Final = "FEED"
NOTHING: Final = ""

VERBS: Final[Mapping[str, Verb]] = {
    "close": Verb(INPUT, None, "close a contact and leave it closed"),
    "open": Verb(INPUT, None, "open it again"),
    "pulse": Verb(INPUT, None, "close it for a moment, as a foil does"),
    "bounce": Verb(INPUT, None, "let it go over, and bounce for 30 ms"),
    "flicker": Verb(INPUT, 10.0, "25 ms closed, 25 ms open, and back to where it was"),
    "lose": Verb(INPUT, None, "let it go over, and lose the line that says so (text)"),
    "unplug": Verb(FEED, None, "take a port away"),
    "silent": Verb(FEED, None, "leave its port there and silent; of modules also one unit: silent FEED/UNIT"),
    "damage": Verb(FEED, 5.0, "send random bytes"),
    "plug": Verb(FEED, None, "put it back, or have it speak again"),
    "list": Verb(NOTHING, None, "every input, and how it is now"),
    "show": Verb("[now] [NAME]", None, "play a show: at the plan's time or now, with nothing wrong or as in a drill"),
    "rest": Verb(NOTHING, None, "end the show, and have every contact as it was at first"),
    "help": Verb(NOTHING, None, "say this again"),
    "end": Verb(NOTHING, None, "take everything away"),
}


class OrderFault(Exception):
    """A line that is no order: what was found and what is accepted, in one sentence."""


class Order(NamedTuple):
    """One order: `wired` is the input or `feed` and its `part` the feed it names, `words` what else a show is given."""

    verb: str
    wired: Input | None = None
    feed: str | None = None
    part: str | None = None
    seconds: float = 0.0
    words: tuple[str, ...] = ()


def order_from_line(line: str, feeds: Sequence[FeedWiring]) -> Order | None:
    """Read a line; None where it is empty. Raises OrderFault.

    An input is named by its id (`north/3`) or by what and where it is (`motor House 4`, `motor of 4`).
    """
    verb, *words = line.split() or [""]
    verb = verb.lower()
    if not verb:
        return None
    if verb not in VERBS:
        raise OrderFault(f"found {verb!r}; accepted {', '.join(VERBS)}")
    given, usual_s, _ = VERBS[verb]
    if verb == "show":
        return Order(verb, words=tuple(words))
    if given == NOTHING and words:
        raise OrderFault(f"found {' '.join(words)!r} after {verb}; accepted {verb} alone")
    if given == NOTHING:
        return Order(verb)
    if given == INPUT:
        wired, seconds = _input(verb, usual_s, words, feeds)
        return Order(verb, wired=wired, seconds=seconds)
    return _of_feed(verb, usual_s, words, [each.id for each in feeds])


def _of_feed(verb: str, usual_s: float | None, words: Sequence[str], feeds: Sequence[str]) -> Order:
    name, *rest = words or [""]
    feed, _, part = name.partition("/")
    if feed not in feeds:
        raise OrderFault(f"found {_found(name)} after {verb}; accepted a feed: {', '.join(feeds)}")
    if part and verb != "silent":
        raise OrderFault(f"found {name!r} after {verb}; accepted a whole feed: {feed}")
    return Order(verb, feed=feed, part=part or None, seconds=_seconds(f"{verb} {name}", usual_s, rest))


def _input(verb: str, usual_s: float | None, words: Sequence[str], feeds: Sequence[FeedWiring]) -> tuple[Input, float]:
    """The input that the words name, all of them or all but what says for how long."""
    inputs = [each for feed in feeds for each in feed.inputs]
    for size in range(len(words), 0, -1):
        name = " ".join(words[:size])
        found = [each for each in inputs if each.id == name] or [
            each for each in inputs if _plain(f"{each.what} {each.house}") == _plain(name)
        ]
        if len(found) > 1:
            raise OrderFault(f"found {name!r}, of which there are several; accepted {_either(found)}")
        if found:
            return found[0], _seconds(f"{verb} {name}", usual_s, words[size:])
    like = [each for each in inputs if words and each.what == words[0].lower()]
    raise OrderFault(f"found {_found(' '.join(words))} after {verb}; accepted an input: {_either(like or inputs)}")


def _seconds(after: str, usual_s: float | None, words: Sequence[str]) -> float:
    """For how long, as the last words of an order say it: `5`, `5 s` or nothing."""
    if not words:
        return usual_s or 0.0
    found = " ".join(words)
    if usual_s is None:
        raise OrderFault(f"found {found!r} after {after}; accepted nothing more")
    least, most = SECONDS
    try:
        seconds = float(found.removesuffix("s"))
    except ValueError:
        seconds = 0.0
    if not least <= seconds <= most:
        raise OrderFault(f"found {found!r} after {after}; accepted {least:g} to {most:g} seconds")
    return seconds


def _found(words: str) -> str:
    return repr(words) if words else "nothing"


def _plain(name: str) -> list[str]:
    return [word for word in name.lower().split() if word not in {"of", "house", "the"}]


def _either(inputs: Sequence[Input]) -> str:
    """The first few of them by id, and what they are."""
    shown = [f"{each.id} ({each.what} House {each.house})" for each in inputs[:MOST_SHOWN]]
    return ", ".join(shown) + (", …: see list" if len(inputs) > len(shown) else "")
