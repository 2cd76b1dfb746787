"""Contacts played without hardware: the parts of a wiring file at ports of this computer, moved by orders or a show."""

import asyncio
import shlex
import tempfile
from collections.abc import Callable, Coroutine, Iterable, Iterator, Mapping, Sequence
from contextlib import AsyncExitStack
from datetime import datetime, timedelta
from pathlib import Path
from secrets import randbelow, token_bytes
from typing import Any, Final, NamedTuple

import tomlkit

from adapters.contacts.kinds import FeedWiring, Input, What
from adapters.contacts.pretend.orders import VERBS, Order, OrderFault, order_from_line
from adapters.contacts.pretend.stand_ins import STAND_INS, NotHere, StandIn
from adapters.contacts.wiring import Wiring
from server.clock import Clock
from server.contact_boards import hear_lines
from server.demonstration import plan_moved_to, text_of
from server.timeline.plan import Plan
from server.trials.show import SHOWS, Move, moves_of_show

AHEAD: Final = timedelta(minutes=8)
"""The copy of the plan starts its motors two to three minutes after this: time for a server and a roll call. Chosen."""

LEAD_S: Final = 3.0
"""Before the first thing that happens in a show that is to begin now. Chosen."""

FOIL_S: Final = 0.2
"""A foil closes its contact for this, twice its debounce and twice what is between two looks at it. Chosen."""

BOUNCE_S: Final = (0.0, 0.002, 0.005, 0.009, 0.014, 0.021, 0.030)
"""When a contact that bounces goes over: an odd number of times, in 30 ms. Chosen."""

FLICKER_S: Final = 0.025
"""Between two edges of a contact that flickers. Chosen: longer than the usual debounce."""

DAMAGE_S: Final = 0.02
DAMAGE_BYTES: Final = (16, 64)
"""Random bytes, so many at a time and so often: as fast as a line of 19200 baud. Chosen."""

_WORDS: Final[Mapping[What, tuple[str, str]]] = {
    "motor": ("it stands", "it runs"),
    "lamp": ("it is out", "it is lit"),
    "douser": ("it is shut", "it is open"),
    "cue": ("no foil is at it", "a foil is at it"),
    "failsafe": ("it has not tripped", "it has tripped"),
}

Tell = Callable[[str], None]


class Copies(NamedTuple):
    """Where a server finds what is pretended: the copies of the wiring file and the plan, and a log of its own."""

    wiring: Path
    plan: Path
    log: Path


def copies_in(folder: Path) -> Copies:
    """The copies that are written to a folder."""
    return Copies(folder / "pretended.contacts.toml", folder / "pretended.plan.toml", folder / "log")


class PretenceFault(Exception):
    """Why a wiring file cannot be played, in one sentence."""


class Pretence:
    """The contacts of one wiring file, played for `plan`. `tell` gets what whoever plays should read.

    Raises PretenceFault where it has a kind of port that nothing stands in for.
    """

    def __init__(self, wiring: Wiring, wiring_text: str, plan: Plan, plan_text: str, tell: Tell) -> None:
        for feed in wiring.feeds:
            if feed.kind.name not in STAND_INS:
                found = f"feed {feed.id}: found a port of the kind {feed.kind.name}"
                raise PretenceFault(f"{found}; accepted to play: {', '.join(STAND_INS)}")
        self._clock = Clock()
        self._wiring = wiring
        self._wiring_text = wiring_text
        self._plan = plan_moved_to(plan, self._clock.now() + AHEAD)
        self._plan_text = text_of(self._plan, plan_text)
        self._tell = tell
        self._parts: dict[str, StandIn] = {}
        self._foil_s: dict[str, float] = {}
        self._away: dict[str, str] = {}
        self._motions: dict[str, asyncio.Task[None]] = {}
        self._show: asyncio.Task[None] | None = None

    def play(self, copies: Copies, said: Iterable[str]) -> None:
        """Play until `end` is said, or a signal; `said` are the orders. The copies are written, and not taken away.

        Raises OSError where they cannot be written.
        """
        asyncio.run(self._play(copies, said))

    async def _play(self, copies: Copies, said: Iterable[str]) -> None:
        lines: asyncio.Queue[str] = asyncio.Queue()
        async with AsyncExitStack() as stack:
            folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="festoon-")))
            stack.push_async_callback(self._take_away)
            await self._put_there(folder)
            copies.wiring.write_text(self._copy_of_wiring(), encoding="utf-8")
            copies.plan.write_text(self._plan_text, encoding="utf-8")
            for line in self._welcome(copies):
                self._tell(line)
            hear_lines(said, lines.put_nowait)
            while await self._heed(await lines.get()):
                pass

    async def _put_there(self, folder: Path) -> None:
        tables: list[Any] = tomlkit.parse(self._wiring_text).unwrap()["feeds"]
        for feed, table in zip(self._wiring.feeds, tables, strict=True):
            self._parts[feed.id] = STAND_INS[feed.kind.name](feed, table, folder / f"port-{feed.id}")
            self._foil_s[feed.id] = FOIL_S + 2 * (int(table.get("poll_ms", 0)) / 1e3 + feed.sampling_us / 1e6)
            await self._parts[feed.id].plug()

    async def _take_away(self) -> None:
        self._still()
        for part in self._parts.values():
            await part.unplug()

    def _copy_of_wiring(self) -> str:
        """The wiring file with the pretended ports in it; whatever else it says, comments too, is as it was."""
        document: Any = tomlkit.parse(self._wiring_text)
        for feed, table in zip(self._wiring.feeds, document["feeds"], strict=True):
            part = self._parts[feed.id]
            for key, value in {"port": part.address, **part.keys}.items():
                table[key] = value
        return tomlkit.dumps(document)

    def _welcome(self, copies: Copies) -> Iterator[str]:
        yield "Pretended ports are open. Nothing is written to your wiring file, your plan or your log."
        for feed in self._wiring.feeds:
            yield f"  {feed.id}  {feed.kind.name}  {self._parts[feed.id].address}"
        wiring, plan, log = map(str, copies)
        yield "In another terminal, for the desks:"
        yield f"  {shlex.join(['festoon', 'serve', plan, '--contacts', wiring, '--data', log])}"
        yield "or for a roll call in the terminal, without a server:"
        yield f"  {shlex.join(['festoon', 'contacts', wiring, plan])}"
        yield f"The plan's copy starts its motors at {self._at(0.0)}; a show may begin before that or after it."
        first = next(iter(self._wiring.inputs))
        yield f"Say here what happens: close {first.what} House {first.house}, or show now. All orders: help"

    async def _heed(self, line: str) -> bool:
        """Do what a line says, and tell what that was; false where it ends everything."""
        try:
            order = order_from_line(line, self._wiring.feeds)
            if order is not None:
                self._tell(await self._do(order))
        except (OrderFault, OSError) as fault:
            self._tell(str(fault))
            return True
        return order is None or order.verb != "end"

    async def _do(self, order: Order) -> str:
        try:
            if order.wired is not None:
                return self._move(order, order.wired)
            if order.feed is not None:
                return await self._at_feed(order, order.feed)
        except NotHere as why:
            whose = order.feed if order.wired is None else order.wired.id
            raise OrderFault(f"found {order.verb} {whose}; {why}") from None
        match order.verb:
            case "show":
                return self._begin_show(order.words)
            case "rest":
                return self._rest()
            case "list":
                return "\n".join(self._how_it_is(each) for each in self._wiring.inputs)
            case "help":
                return "\n".join(f"  {f'{verb} {each.given}':<17} {each.does}" for verb, each in VERBS.items())
            case _:
                return "The pretended ports are gone."

    def _move(self, order: Order, wired: Input) -> str:
        before = self._parts[wired.feed].levels[wired.place]
        self._keep_still(wired)
        match order.verb:
            case "close" | "open":
                self._set(wired, order.verb == "close")
            case "pulse":
                seconds = self._closed_s(wired)
                self._in_motion(wired, self._pulse(wired))
                return f"{_named(wired)}: closed for {seconds:.1f} s.{self._unheard(wired.feed)}"
            case "bounce":
                self._in_motion(wired, self._go_over(wired, BOUNCE_S, before))
                text = f"{'open' if before else 'closed'} after {len(BOUNCE_S)} edges in {BOUNCE_S[-1] * 1000:.0f} ms"
                return f"{_named(wired)}: {text}.{self._unheard(wired.feed)}"
            case "flicker":
                edges = 2 * max(1, round(order.seconds / FLICKER_S / 2))
                self._in_motion(wired, self._go_over(wired, [n * FLICKER_S for n in range(edges)], before))
                return f"{_named(wired)}: flickers for {order.seconds:g} s.{self._unheard(wired.feed)}"
            case _:
                self._parts[wired.feed].lose(wired.place, not before)
                return f"{self._how_it_is(wired)} The line that says so is lost."
        return self._how_it_is(wired)

    async def _at_feed(self, order: Order, feed: str) -> str:
        part = self._parts[feed]
        match order.verb:
            case "unplug":
                self._away[feed] = "unplugged"
                await part.unplug()
                return f"{feed} is unplugged."
            case "plug":
                self._away.pop(feed, None)
                await part.plug()
                return f"{feed} is there and speaks, at {part.address}."
            case "silent":
                part.hush(order.part)
                whose = feed if order.part is None else f"unit {order.part} of {feed}"
                if order.part is None:
                    self._away[feed] = "silent"
                return f"{whose} is silent, though its port is there. plug {feed} has it speak again."
            case _:
                self._in_motion(feed, self._damage(part, order.seconds))
                return f"{feed}: random bytes for {order.seconds:g} s.{self._unheard(feed)}"

    def _begin_show(self, words: Sequence[str]) -> str:
        now = "now" in words
        name = " ".join(word for word in words if word != "now") or "clean"
        if name not in SHOWS:
            raise OrderFault(f"found {name!r} after show; accepted now, and one of {', '.join(SHOWS)}")
        if self._show is not None and not self._show.done():
            raise OrderFault("found a show that is on; accepted rest first")
        if not now and self._clock.now() >= self._plan.zero:
            raise OrderFault(f"found the plan's time, {self._at(0.0)}, past; accepted show now")
        moves = moves_of_show(name, self._plan, self._wiring.inputs, randbelow(10_000))
        if not moves:
            raise OrderFault("found no input of the wiring file that this show moves; accepted one that has some")
        first_s, last_s = min(0.0, moves[0].at_s), moves[-1].at_s
        zero = self._clock.now() + timedelta(seconds=LEAD_S - first_s) if now else self._plan.zero
        self._show = asyncio.create_task(self._play_show(moves, zero))
        return (
            f"A show: {SHOWS[name]} Its motors start at {self._on_clock(zero)}, and the last thing"
            f" happens at {self._on_clock(zero + timedelta(seconds=last_s))}. rest ends it."
        )

    async def _play_show(self, moves: Sequence[Move], zero: datetime) -> None:
        for move in moves:
            await asyncio.sleep(max(0.0, self._clock.seconds_until(round(move.at_s * 1e6), zero)))
            if move.on is None:
                self._in_motion(move.wired, self._pulse(move.wired))
                text = f"{_named(move.wired)}: a foil goes by."
            else:
                closed = move.on is not move.wired.normally_closed
                if self._parts[move.wired.feed].levels[move.wired.place] is closed:
                    continue
                self._keep_still(move.wired)
                self._set(move.wired, closed)
                text = self._how_it_is(move.wired)
            self._tell(f"{self._on_clock(self._clock.now())}  {text}")
        self._tell("The show is over.")

    def _rest(self) -> str:
        self._still()
        for each in self._wiring.inputs:
            if self._parts[each.feed].levels[each.place] is not each.normally_closed:
                self._set(each, each.normally_closed)
        return (
            "Every contact is as it was at first. A server that has seen a show goes on with it: for another one end it"
            " and start it with another folder after --data."
        )

    def _set(self, wired: Input, closed: bool) -> None:
        self._parts[wired.feed].set(wired.place, closed)

    def _in_motion(self, what: Input | str, motion: Coroutine[Any, Any, None]) -> None:
        """Do something that takes time with an input or a feed, in the place of what is done with it."""
        name = what if isinstance(what, str) else what.id
        self._stop(name)
        self._motions[name] = asyncio.create_task(motion)

    def _keep_still(self, wired: Input) -> None:
        self._stop(wired.id)

    def _stop(self, name: str) -> None:
        if (before := self._motions.pop(name, None)) is not None:
            before.cancel()

    def _still(self) -> None:
        """No contact moves by itself any more."""
        if self._show is not None:
            self._show.cancel()
        for name in list(self._motions):
            self._stop(name)

    async def _pulse(self, wired: Input) -> None:
        self._set(wired, not wired.normally_closed)
        await asyncio.sleep(self._closed_s(wired))
        self._set(wired, wired.normally_closed)

    def _closed_s(self, wired: Input) -> float:
        """How long a foil closes it for: long enough to be seen by whoever looks only now and then."""
        return self._foil_s[wired.feed] + 2 * wired.debounce_us / 1e6

    async def _go_over(self, wired: Input, at_s: Sequence[float], closed: bool) -> None:
        loop = asyncio.get_running_loop()
        begun = loop.time()
        for after_s in at_s:
            await asyncio.sleep(max(0.0, begun + after_s - loop.time()))
            closed = not closed
            self._set(wired, closed)

    async def _damage(self, part: StandIn, seconds: float) -> None:
        least, most = DAMAGE_BYTES
        for _ in range(round(seconds / DAMAGE_S)):
            part.send_bytes(token_bytes(least + randbelow(most - least)))
            await asyncio.sleep(DAMAGE_S)

    def _how_it_is(self, wired: Input) -> str:
        closed = self._parts[wired.feed].levels[wired.place]
        words = _WORDS[wired.what][closed is not wired.normally_closed]
        return f"{_named(wired)}: {'closed' if closed else 'open'}, so {words}.{self._unheard(wired.feed)}"

    def _unheard(self, feed: str) -> str:
        return f" Nobody hears it: {feed} is {self._away[feed]}." if feed in self._away else ""

    def _at(self, at_s: float) -> str:
        return self._on_clock(self._plan.zero + timedelta(seconds=at_s))

    def _on_clock(self, moment: datetime) -> str:
        return f"{moment.astimezone(self._plan.zone):%H:%M:%S}"


def _named(wired: Input) -> str:
    return wired.words[0].upper() + wired.words[1:]


def unknown_kind(feeds: Sequence[FeedWiring]) -> str | None:
    """The first feed of a kind that nothing stands in for, said in one sentence."""
    for feed in feeds:
        if feed.kind.name not in STAND_INS:
            return f"feed {feed.id}: found the kind {feed.kind.name!r}; accepted {', '.join(STAND_INS)}"
    return None
