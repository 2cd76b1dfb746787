"""Devices let in by a code, known by their session, and turned away."""

import asyncio

import pytest

from server.access import Paired, Pairing, PairingFault, TurnedAway
from server.access.doorkeeper import EVENTS, REPORTS, TRIES_OF_ALL, TRIES_OF_ONE
from server.access.pairings import LIFE
from server.access.sessions import Session, Signer, secret_hash
from tests.access.fakes import KEY, Entrance

PEER = "192.0.2.20"
WRONG = "0000-0000"


async def paired(entrance: Entrance, name: str = "Ida", before: Pairing | None = None) -> Paired:
    code, _ = entrance.doorkeeper.codes.make(name, "booth")
    answer = await entrance.doorkeeper.pair(PEER, code, None, before)
    assert isinstance(answer, Paired)
    return answer


async def tried(entrance: Entrance, code: str, peer: str = PEER, name: str | None = None) -> TurnedAway:
    answer = await entrance.doorkeeper.pair(peer, code, name, None)
    assert isinstance(answer, TurnedAway)
    return answer


async def test_a_code_pairs_one_device() -> None:
    """Its session is known from then on, after a restart too; the code is worth nothing any more."""
    entrance = Entrance()
    code, _ = entrance.doorkeeper.codes.make("Ida", "booth")
    answer = await entrance.doorkeeper.pair(PEER, code, "Somebody", None)
    assert isinstance(answer, Paired)
    assert (answer.pairing.name, answer.pairing.role) == ("Ida", "booth")
    assert entrance.pairings.holder(answer.token) == answer.pairing
    assert entrance.again().pairings.holder(answer.token) == answer.pairing
    assert "used before" in (await tried(entrance, code)).reason
    assert len(entrance.store.rows) == 1


async def test_only_hashes_are_stored() -> None:
    """Whoever reads the database has nothing to show: neither token nor secret is in it."""
    entrance = Entrance()
    token = (await paired(entrance)).token
    session = Signer(KEY).session(token)
    assert session is not None
    (row,) = entrance.store.rows.values()
    assert row.secret_hash == secret_hash(session.secret)
    assert session.secret not in repr(row)


async def test_a_signed_token_without_the_secret_is_none() -> None:
    """The key alone lets nobody in: the device's own secret is looked at too."""
    entrance = Entrance()
    pairing = (await paired(entrance)).pairing
    assert entrance.pairings.holder(Signer(KEY).token(Session(pairing.id, "guessed"))) is None


async def test_another_key_ends_every_pairing() -> None:
    """After the key was taken away no session holds, and the list does not name what does not hold."""
    entrance = Entrance()
    token = (await paired(entrance)).token
    after = entrance.again(key=bytes(32))
    assert after.pairings.holder(token) is None
    assert after.pairings.all() == []


async def test_a_pairing_ends_by_itself() -> None:
    """A device that was lost is not let in for good."""
    entrance = Entrance()
    answer = await paired(entrance)
    entrance.time.passes(seconds=LIFE.total_seconds() - 1.0)
    assert entrance.pairings.all() == [answer.pairing]
    entrance.time.passes(seconds=1.0)
    assert entrance.pairings.holder(answer.token) is None
    assert entrance.pairings.all() == []


async def test_a_withdrawal_holds_at_once_and_for_good() -> None:
    """Whoever is connected is sent away, the session is worth nothing, and neither does a restart bring it back."""
    entrance = Entrance()
    answer, other = await paired(entrance), await paired(entrance, "Otto")
    left: list[str] = []
    with (
        entrance.pairings.present(answer.pairing.id, lambda: left.append("Ida")),
        entrance.pairings.present(other.pairing.id, lambda: left.append("Otto")),
    ):
        assert entrance.pairings.connections(answer.pairing.id) == 1
        assert await entrance.pairings.withdraw(answer.pairing.id)
    assert left == ["Ida"]
    assert entrance.pairings.connections(answer.pairing.id) == 0
    assert not await entrance.pairings.withdraw(answer.pairing.id)
    for each in (entrance, entrance.again()):
        assert each.pairings.holder(answer.token) is None
        assert each.pairings.all() == [other.pairing]


async def test_a_withdrawal_that_cannot_be_written_holds_all_the_same() -> None:
    """A full disk keeps nobody in: it is told, and the device is out until the program ends."""
    entrance = Entrance()
    answer = await paired(entrance)
    entrance.store.fault = "The disk is full."
    with pytest.raises(PairingFault, match="disk is full"):
        await entrance.pairings.withdraw(answer.pairing.id)
    assert entrance.pairings.holder(answer.token) is None


async def test_a_withdrawal_that_was_not_written_is_written_when_asked_again() -> None:
    """Neither is it forgotten, nor written once more when it is on disk."""
    entrance = Entrance()
    answer = await paired(entrance)
    entrance.store.fault = "The disk is full."
    for _ in range(2):
        with pytest.raises(PairingFault):
            await entrance.pairings.withdraw(answer.pairing.id)
    entrance.store.fault = None
    assert await entrance.pairings.withdraw(answer.pairing.id)
    assert entrance.again().pairings.holder(answer.token) is None
    assert not await entrance.pairings.withdraw(answer.pairing.id)


async def test_a_connection_that_comes_too_late_is_sent_away() -> None:
    """A pairing that was withdrawn while its device connected."""
    entrance = Entrance()
    answer = await paired(entrance)
    await entrance.pairings.withdraw(answer.pairing.id)
    left: list[str] = []
    with entrance.pairings.present(answer.pairing.id, lambda: left.append("late")):
        assert left == ["late"]


async def test_a_device_has_one_pairing() -> None:
    """Paired again, its pairing until then ends: nothing is left that nobody holds."""
    entrance = Entrance()
    first = await paired(entrance)
    second = await paired(entrance, "Otto", first.pairing)
    assert entrance.pairings.all() == [second.pairing]


async def test_a_code_for_nobody_by_name_asks_who() -> None:
    """Every pairing is a named person's: the code still holds when the name comes."""
    entrance = Entrance()
    code, _ = entrance.doorkeeper.codes.make(None, "booth")
    assert (await tried(entrance, code)).wants_name
    answer = await entrance.doorkeeper.pair(PEER, code, "Ida", None)
    assert isinstance(answer, Paired)
    assert answer.pairing.name == "Ida"


async def test_a_code_pairs_one_of_two_that_come_at_once() -> None:
    """While the first is being written down the second finds the code used."""
    entrance = Entrance()
    entrance.store.may_write.clear()
    code, _ = entrance.doorkeeper.codes.make("Ida", "booth")
    first = asyncio.create_task(entrance.doorkeeper.pair(PEER, code, None, None))
    await asyncio.sleep(0)
    assert "used before" in (await tried(entrance, code)).reason
    entrance.store.may_write.set()
    assert isinstance(await first, Paired)
    assert len(entrance.store.rows) == 1


async def test_guessing_from_one_address_is_slowed() -> None:
    """After a few tries it waits, with the right code too; others are not kept waiting by it."""
    entrance = Entrance()
    code, _ = entrance.doorkeeper.codes.make("Ida", "booth")
    for _ in range(TRIES_OF_ONE.burst):
        assert (await tried(entrance, WRONG)).wait_s == 0.0
    slowed = await tried(entrance, code)
    assert slowed.wait_s == pytest.approx(20.0)
    assert "wait 20 s" in slowed.reason
    assert isinstance(await entrance.doorkeeper.pair("192.0.2.21", code, None, None), Paired)


async def test_guessing_from_everywhere_is_slowed() -> None:
    """As many addresses as there are try no more codes together than `codes.LENGTH` reckons with: 180 in its life."""
    entrance = Entrance()
    looked_at = 0
    for second in range(600):
        for address in range(3):
            answer = await tried(entrance, WRONG, peer=f"{second}.{address}")
            looked_at += answer.wait_s == 0.0
        entrance.time.passes(seconds=1.0)
    assert 170 <= looked_at <= 180


def test_events_of_a_device_are_counted() -> None:
    """A burst as large as a desk that was away has, then the rate; another device is not kept waiting."""
    entrance = Entrance()
    waits = [entrance.doorkeeper.wait_for_event_s("one") for _ in range(EVENTS.burst + 1)]
    assert waits[:-1] == [0.0] * EVENTS.burst
    assert waits[-1] > 0.0
    assert entrance.doorkeeper.wait_for_event_s("other") == 0.0
    entrance.time.passes(seconds=waits[-1] + 0.001)
    assert entrance.doorkeeper.wait_for_event_s("one") == 0.0


def test_reports_of_a_device_are_counted_by_themselves() -> None:
    """Six at once and then one in 20 s, however much a booth desk may say."""
    entrance = Entrance()
    waits = [entrance.doorkeeper.wait_for_report_s("one") for _ in range(REPORTS.burst + 1)]
    assert waits == [*[0.0] * 6, pytest.approx(20.0)]
    assert entrance.doorkeeper.wait_for_report_s("other") == entrance.doorkeeper.wait_for_event_s("one") == 0.0
    entrance.time.passes(seconds=20.001)
    assert entrance.doorkeeper.wait_for_report_s("one") == 0.0
    assert entrance.doorkeeper.wait_for_report_s("one") > 0.0


def test_the_limits_are_those_that_the_codes_reckon_with() -> None:
    """180 tries in the ten minutes of a code."""
    assert TRIES_OF_ALL.burst + 600 * TRIES_OF_ALL.per_s == 180
