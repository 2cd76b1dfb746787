"""What is told of other devices."""

from datetime import timedelta

import pytest

from server.terminal.welcome import told_of_pairing, told_pairings

PAGE, LISTED = "https://booth.local:8440/pair", "https://localhost:8440/pairings"


@pytest.mark.parametrize(
    ("left", "said"),
    [
        (None, "Without a certificate"),
        (timedelta(seconds=-1), "The certificate has ended"),
        (timedelta(days=29, hours=5), "The certificate ends in 29 days"),
        (timedelta(days=30), None),
    ],
)
def test_a_certificate_is_spoken_of_before_it_is_missed(left: timedelta | None, said: str | None) -> None:
    """Where there is none, has been one, or soon will have been; of one that holds nothing is said."""
    told = told_of_pairing(PAGE, LISTED, None, left)
    assert told.startswith(f"other devices\n  pair   {PAGE}, with a code that festoon pair NAME shows")
    assert f"\n  paired {LISTED}" in told
    assert ("ertificate" in told) == (said is not None)
    assert said is None or said in told


def test_a_code_is_told_with_its_qr_code() -> None:
    """Once in letters and once as a picture."""
    told = told_of_pairing(PAGE, LISTED, "ABCD-EFGH", timedelta(days=300))
    assert f"pair   {PAGE}, with the code ABCD-EFGH or a scan of this: good once, for 10 minutes" in told
    assert told.count("\u2588") > 100


def test_devices_are_a_line_each() -> None:
    """Its id first, which ends it, and whose it is last, however long; none is said too."""
    line = {"id": "00ff", "name": "Ida", "role": "look", "until": "2026-04-13T12:00:00Z", "connections": 2}
    assert told_pairings([line]).splitlines() == [
        "00ff  look    until 2026-04-13  connected  Ida",
        "To end one: festoon pairings --withdraw ID",
    ]
    assert told_pairings([]) == "No device is paired. For a code: festoon pair NAME"
