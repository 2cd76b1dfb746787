"""Puts states on the desks and takes a picture of each: `python -m tests.screens STATE…`, or all of them."""

import argparse
import shutil
import sys
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from tests.browser.served import Served
from tests.screens.desks import DESKS, opened, sized
from tests.screens.serving import shown
from tests.screens.sizes import ENLARGED, SIZES
from tests.screens.states import STATES

EVERY_SIZE = SIZES | ENLARGED


def main(arguments: list[str]) -> None:
    """Take the pictures that are asked for; a name that is no state ends it with what there is."""
    asked = argparse.ArgumentParser(prog="python -m tests.screens", description=__doc__)
    asked.add_argument("states", nargs="*", metavar="STATE", help=f"of {', '.join(STATES)} (all of them)")
    asked.add_argument("--out", type=Path, default=Path(".festoon/screens"), help="a folder for the pictures")
    asked.add_argument("--desk", action="append", choices=DESKS, help="only this desk (all)")
    asked.add_argument("--size", action="append", choices=EVERY_SIZE, help="only this size (all)")
    given = asked.parse_args(arguments)
    unknown = [name for name in given.states if name not in STATES]
    if unknown:
        asked.error(f"STATE: found {', '.join(unknown)}; accepted {', '.join(STATES)}")
    given.out.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=shutil.which("chromium-headless-shell"))
        for name in given.states or STATES:
            with shown(STATES[name]) as server:
                for desk in given.desk or DESKS:
                    _take(browser, server, name, desk, given)
        browser.close()


def _take(browser: Browser, server: Served, name: str, desk: str, given: argparse.Namespace) -> None:
    with opened(browser, server, STATES[name], desk) as (page,):
        for size in given.size or EVERY_SIZE:
            file = given.out / f"{name}-{desk}-{size.replace(' ', '')}.png"
            sized(page, EVERY_SIZE[size]).screenshot(path=file)
            sys.stdout.write(f"{file}\n")


if __name__ == "__main__":
    main(sys.argv[1:])
