"""What `festoon contacts` does at a port, or without any: `--pretend`, `--listen` and `--scan`."""

import asyncio
import re
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Literal

import typer

from server.commands.options import ended_by_signals, faults_told, plan_files
from server.documents import text_from_file

ListenKind = Literal["text", "modem"]

BAUD = 9600
"""The usual speed of a box."""

_UNITS = re.compile(r"[0-9]{1,3}(-[0-9]{1,3})?(,[0-9]{1,3}(-[0-9]{1,3})?)*")


def play(wiring: Path, plan: Path, to: Path | None) -> None:
    """Play the contacts of a wiring file without hardware; what others read is written to the folder `to`."""
    from server.contact_boards import WiringFaults, wiring_from_text
    from server.trials.pretence import Pretence, PretenceFault, copies_in

    with faults_told(WiringFaults, PretenceFault), _folder(to) as folder:
        (file,) = plan_files([plan])
        text = text_from_file(wiring)
        wired = wiring_from_text(text, str(wiring), file.plan)
        pretence = Pretence(wired, text, file.plan, file.text, typer.echo)
        for warning in wired.warnings:
            typer.echo(f"Warning: {warning}")
        copies = copies_in(folder)
        for path in copies:
            if path.exists():
                raise typer.BadParameter(f"found {path}; accepted a folder without it", param_hint="--to")
        with ended_by_signals():
            pretence.play(copies, sys.stdin)


@contextmanager
def _folder(to: Path | None) -> Iterator[Path]:
    """The folder that was asked for, or one that goes with what is in it."""
    if to is None:
        with tempfile.TemporaryDirectory(prefix="festoon-", ignore_cleanup_errors=True) as folder:
            yield Path(folder)
        return
    try:
        to.mkdir(exist_ok=True)
    except OSError as error:
        found = f"{to}, which cannot be made ({error.strerror})"
        raise typer.BadParameter(f"found {found}; accepted a folder", param_hint="--to") from None
    yield to


def listen(address: str, kind: ListenKind, baud: int | None) -> bool:
    """Tell what comes in at a port until a signal; whether anything did."""
    from server.trials.overheard import NotHeard, Overheard, refused

    if (why := refused(address, kind)) is not None:
        raise typer.BadParameter(why, param_hint="--listen")
    if baud is not None and (kind == "modem" or address.startswith("socket:")):
        found = "--kind modem" if kind == "modem" else address
        raise typer.BadParameter(f"found it with {found}, which has no speed; accepted without", param_hint="--baud")
    heard = Overheard(address, typer.echo)
    with ended_by_signals():
        try:
            heard.text(baud or BAUD) if kind == "text" else heard.modem()
        except NotHeard as fault:
            typer.echo(str(fault), err=True)
    return heard.came


def search(address: str, units: str, baud: int | None) -> bool:
    """Tell which Modbus units answer at a port; whether one does."""
    from rich.console import Console

    from server.terminal.scan_table import search_shown, told_after, told_before, unit_table
    from server.trials import scan

    if (why := scan.refused(address)) is not None:
        raise typer.BadParameter(why, param_hint="--scan")
    if baud is not None and address.startswith("tcp:"):
        raise typer.BadParameter(f"found it with {address}, which has no speed; accepted without", param_hint="--baud")
    numbers = _units(units, scan.UNITS)
    settings = scan.settings_of(address, scan.BAUDS if baud is None else (baud,))
    console, found = Console(), scan.Found()
    typer.echo(told_before(address, [each.words for each in settings], numbers, scan.longest_s(settings, numbers)))
    with ended_by_signals(), search_shown(console, len(settings) * len(numbers)) as show:
        asyncio.run(
            scan.search(
                address,
                settings,
                numbers,
                found,
                lambda asked, way, unit: show(asked, f"{way.words}, unit {unit}; {len(found.units)} found"),
            )
        )
    if found.units:
        rows = [(str(each.number), each.setting.words, each.discrete, each.coils) for each in found.units]
        console.print(unit_table(rows))
    untried = [(why, [each.words for each in ways]) for why, ways in found.untried.items()]
    for line in told_after(len(found.units), [each.words for each in found.noisy], untried, len(settings)):
        typer.echo(line)
    return bool(found.units)


def _units(text: str, accepted: range) -> list[int]:
    """The units that a text such as `1-32` or `1,5,17-20` names, each once, in their order."""
    first, last = accepted[0], accepted[-1]
    if _UNITS.fullmatch(text):
        ends = [[int(end) for end in part.split("-")] for part in text.split(",")]
        numbers = sorted({number for part in ends for number in range(part[0], part[-1] + 1)})
        if numbers and numbers[0] >= first and numbers[-1] <= last:
            return numbers
    wanted = f"units from {first} to {last}, such as 1-32 or 1,5,17-20"
    raise typer.BadParameter(f"found {text!r}; accepted {wanted}", param_hint="--units")
