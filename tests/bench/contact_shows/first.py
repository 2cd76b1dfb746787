"""Coming before everything else on this computer, so that it is as one that does nothing else."""

import os
from typing import Final

_PRIORITY: Final = 1


def come_first() -> None:
    """From here on, with all that this process starts. Raises PermissionError where that is not allowed."""
    os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(_PRIORITY))
