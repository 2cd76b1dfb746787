"""One running show: in order, on disk, into the engine, out to every desk.

How the parts are put together, in the running loop::

    log = RunLog.open(settings.data)
    run = LiveRun(run_id, plan, Clock(), log, Hub())
    run.start()                      # replays the log; from here on the run is live
    answer = await run.take(event)   # Taken(seq, event), or Refused(reason, again)
    run.stop()
    log.close()

An application that serves desks is wrapped once by `DeskMiddleware`, and each websocket, once accepted, is one call::

    await converse(run, desk_from_scope(socket.scope), socket.iter_text(), seq, epoch)

An event that a desk sent by another way, as parsed JSON, becomes an `Event` by `event_from_desk`.

The server is started with `UVICORN_OPTIONS`. `run.snapshot()` is what a new desk is sent; `run.info` and `run.view` are
the same as values. `run.fault` is None while the run works, else one sentence that says why it no longer follows.
"""

from server.live.desks import Desk, Message, message_from_text
from server.live.frames import UVICORN_OPTIONS, DeskMiddleware, desk_from_scope
from server.live.heard import HeardRun
from server.live.hub import Hub
from server.live.information import run_info
from server.live.parts import Refused, Taken
from server.live.picture import Picture
from server.live.run import LiveRun
from server.live.talk import converse, event_from_desk
from server.live.timekeeping import untimely

__all__ = [
    "UVICORN_OPTIONS",
    "Desk",
    "DeskMiddleware",
    "HeardRun",
    "Hub",
    "LiveRun",
    "Message",
    "Picture",
    "Refused",
    "Taken",
    "converse",
    "desk_from_scope",
    "event_from_desk",
    "message_from_text",
    "run_info",
    "untimely",
]
