"""How every feed hands its events to a run."""

import asyncio

from adapters.base import Answer, Post
from server.live import LiveRun, Refused
from server.timeline.events import Event

AGAIN_S = 1.0
"""How long an event waits that could not be written down. Chosen."""


def post_to(run: LiveRun) -> Post:
    """Hands events to a run, again and again while they cannot be written down."""

    async def post(event: Event) -> Answer:
        while isinstance(answer := await run.take(event), Refused):
            if answer.known:  # it counts, and the run writes it down by itself
                return None
            if not answer.again:
                return answer.reason
            await asyncio.sleep(AGAIN_S)
        return None

    return post
