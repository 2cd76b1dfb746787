"""Several things at once that end together."""

import asyncio
from collections.abc import Coroutine
from typing import Any


async def first_of(*work: Coroutine[Any, Any, None]) -> None:
    """Do all of `work` at once until one of them ends, and end the others; what it raised is raised."""
    tasks = [asyncio.create_task(each) for each in work]
    try:
        done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
        for task in done:
            task.result()
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
