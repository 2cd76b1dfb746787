"""The event log: what was observed in every run, on disk before anybody is told that it was taken."""

from server.runlog.faults import RunLogFault
from server.runlog.log import RunLog
from server.runlog.stored import Archived, Extent, StoredEvent, StoredRun, StoredRuns, Summary

__all__ = ["Archived", "Extent", "RunLog", "RunLogFault", "StoredEvent", "StoredRun", "StoredRuns", "Summary"]
