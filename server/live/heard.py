"""A live run that somebody listens to."""

from collections.abc import Callable

from server.live.parts import Refused, Taken
from server.live.run import LiveRun
from server.timeline.events import Event


class HeardRun(LiveRun):
    """A live run that tells `hear`, which is set by whoever listens, of every event once it is on disk and counts."""

    hear: Callable[[Event], None] | None = None

    async def take(self, event: Event) -> Taken | Refused:
        """Take one event as every run does; one that was taken before is told again."""
        answer = await super().take(event)
        if isinstance(answer, Taken) and self.hear is not None:
            self.hear(answer.event)
        return answer
