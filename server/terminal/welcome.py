"""What the person who started a server reads about other devices."""

from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any

from server.access.codes import LIFE, link_with_code
from server.access.qr import blocks

SOON = timedelta(days=30)
"""Chosen."""

MINUTES = LIFE.seconds // 60
UNENCRYPTED = (
    "Without a certificate whoever shares this network can read along and take a session: see festoon certificate."
)


def told_of_pairing(page: str, listed: str, code: str | None, left: timedelta | None) -> str:
    """How to pair a device at a `page`, and where devices are `listed`; `code` is None where it would be kept.

    `left` is for how long the certificate holds, None where there is none.
    """
    if code is None:
        how = [f"other devices\n  pair   {page}, with a code that festoon pair NAME shows on this computer"]
    else:
        how = [
            f"other devices\n  pair   {page}, with the code {code} or a scan of this: good once, for {MINUTES} minutes",
            blocks(link_with_code(page, code)),
            "  more codes: festoon pair NAME",
        ]
    return "\n".join([*how, f"  paired {listed}", *_told_of_certificate(left)])


def _told_of_certificate(left: timedelta | None) -> list[str]:
    if left is None:
        return [f"  {UNENCRYPTED}"]
    if left < timedelta(0):
        return ["  The certificate has ended: devices refuse it. For another: festoon certificate."]
    return [f"  The certificate ends in {left.days} days: see festoon certificate."] if left < SOON else []


def told_code(name: str, page: str, code: str) -> str:
    """What `festoon pair` shows."""
    return (
        f"For {name}'s device: open {page} on it and enter {code}, or scan this.\n"
        f"{blocks(link_with_code(page, code))}\n"
        f"The code is good once, for {MINUTES} minutes."
    )


def told_pairings(lines: Sequence[Mapping[str, Any]]) -> str:
    """What `festoon pairings` shows: a line a device, as the server lists them."""
    if not lines:
        return "No device is paired. For a code: festoon pair NAME"
    told = [
        f"{line['id']}  {line['role']:6}  until {line['until'][:10]}  {_now(line['connections'])}  {line['name']}"
        for line in lines
    ]
    return "\n".join([*told, "To end one: festoon pairings --withdraw ID"])


def _now(connections: int) -> str:
    return "connected" if connections else "away     "
