"""The event log: what was observed in every run, on disk before anybody is told that it was taken."""

from server.runlog.faults import RunLogFault
from server.runlog.log import RunLog, StoredEvent, StoredRun

__all__ = ["RunLog", "RunLogFault", "StoredEvent", "StoredRun"]
