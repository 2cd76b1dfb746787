"""Paired devices in the database of the log."""

from datetime import timedelta
from pathlib import Path

import pytest

from server.access import Pairing, PairingFault
from server.runlog import RunLog
from tests.runlog.logs import ZERO, add_run


def pairing(pairing_id: str, name: str = "Ida", later_s: float = 0.0) -> Pairing:
    created = ZERO + timedelta(seconds=later_s)
    return Pairing(pairing_id, name, "booth", "ab" * 32, "cd" * 8, created, created + timedelta(days=30))


async def test_pairings_outlive_the_program(tmp_path: Path) -> None:
    """The oldest first, as they were; those withdrawn stay away."""
    log = RunLog.open(tmp_path)
    for each in (pairing("b", later_s=1.0), pairing("a", "Otto"), pairing("c", later_s=2.000001)):
        await log.devices.add(each)
    await log.devices.withdraw("b", ZERO)
    log.close()
    log = RunLog.open(tmp_path)
    assert log.devices.pairings() == [pairing("a", "Otto"), pairing("c", later_s=2.000001)]
    log.close()


async def test_events_and_pairings_share_the_log(tmp_path: Path) -> None:
    """Neither is in the other's way."""
    log = add_run(RunLog.open(tmp_path))
    await log.devices.add(pairing("a"))
    assert log.events("r1") == []
    assert [run.run_id for run in log.runs()] == ["r1"]
    log.close()


async def test_what_cannot_be_written_is_told(tmp_path: Path) -> None:
    """In one sentence, for whoever wanted to pair; the same id twice is such a case, and a log that is closed."""
    log = RunLog.open(tmp_path)
    await log.devices.add(pairing("a"))
    with pytest.raises(PairingFault, match="UNIQUE"):
        await log.devices.add(pairing("a", "Otto"))
    devices = log.devices
    log.close()
    for write in (devices.add(pairing("b")), devices.withdraw("a", ZERO)):
        with pytest.raises(PairingFault, match="closed: start Festoon again"):
            await write
