"""What a folder of plans or sites cannot do, as an answer to a browser."""

from collections.abc import Iterator
from contextlib import contextmanager

from fastapi import HTTPException

from server.plans.store import PlanFault


@contextmanager
def folder_told(what: str) -> Iterator[None]:
    """Answer in a sentence what the folder of `what` ("plans", "sites") cannot do. Raises HTTPException."""
    try:
        yield
    except PlanFault as fault:
        raise HTTPException(fault.status, str(fault)) from None
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise HTTPException(503, f"The folder of the {what} cannot be used: {why}. Nothing was lost here.") from None
