"""What an overview's page is told, however fast it reads."""

import asyncio
import json
from contextlib import aclosing

from server.archive.place import archive_address
from server.archive.watching import BEHIND, Watch
from tests.archive.conftest import Archive


async def test_a_page_that_does_not_read_keeps_little_and_begins_anew(archive: Archive) -> None:
    """However long a page sleeps, the server holds a few messages for it; then it is told all there is."""
    watch = Watch(archive_address(archive.reader("office")))
    async with aclosing(watch.messages()) as messages:
        assert json.loads(await anext(messages))["age_s"] is None
        for turn in range(10 * BEHIND):
            watch._show(("2026-03-14T20:00:00Z", {"site north": {"site": "north", "waiting": turn}}))
        (queue,) = watch._pages
        assert queue.qsize() <= BEHIND
        kinds = []
        while not queue.empty():
            kinds.append(json.loads(await asyncio.wait_for(anext(messages), 1.0)))
    assert kinds[0]["type"] == "all"
    assert kinds[-1]["lines"]["site north"]["waiting"] == 10 * BEHIND - 1
    assert kinds[0]["age_s"] >= 0
