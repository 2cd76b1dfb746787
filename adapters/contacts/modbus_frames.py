"""Modbus frames, pure: over a serial line (RTU) and over TCP.

Sources, all from memory: MODBUS Application Protocol Specification 1.1b3, MODBUS over Serial Line 1.02, MODBUS
Messaging on TCP/IP Implementation Guide 1.0b. Their worked examples are in the tests.
"""

from typing import Final, NamedTuple

READ_COILS: Final = 1
READ_DISCRETE_INPUTS: Final = 2

MOST_BITS: Final = 2000
"""Read at once at most (Application Protocol, 6.1 and 6.2)."""

EXCEPTION: Final = 0x80
"""Set in the function code of an answer that is an exception (Application Protocol, 4.1)."""

LONGEST_PDU: Final = 253
"""Bytes of a request or an answer without its address and check (Application Protocol, 4.1)."""

_HEADER_BYTES: Final = 7
_CRC_POLYNOMIAL: Final = 0xA001


class Message(NamedTuple):
    """A request or an answer: `pdu` is its function code and data; `transaction` is 0 on a serial line."""

    unit: int
    pdu: bytes
    transaction: int = 0


def crc_of(data: bytes) -> int:
    """The check of a serial frame (Serial Line, 6.2.2): reflected, from 0xFFFF; sent with its low byte first."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ _CRC_POLYNOMIAL if crc & 1 else crc >> 1
    return crc


def rtu_from_message(message: Message) -> bytes:
    """A frame as it goes over a serial line."""
    body = bytes([message.unit]) + message.pdu
    return body + crc_of(body).to_bytes(2, "little")


def message_from_rtu(frame: bytes) -> Message | None:
    """Read one whole frame of a serial line; None where its check does not fit."""
    body, check = frame[:-2], frame[-2:]
    if len(body) < 2 or crc_of(body) != int.from_bytes(check, "little"):
        return None
    return Message(body[0], body[1:])


def tcp_from_message(message: Message) -> bytes:
    """A frame as it goes over TCP: the header of the Implementation Guide, 3.1.3, and the PDU."""
    length = len(message.pdu) + 1
    return (
        message.transaction.to_bytes(2, "big")
        + bytes(2)
        + length.to_bytes(2, "big")
        + bytes([message.unit])
        + message.pdu
    )


def split_tcp(data: bytes) -> tuple[list[Message], bytes]:
    """The messages that these bytes complete, and what is left over.

    Raises ValueError where the bytes are no frames: nothing after them can be read. A frame of another protocol is
    left out (Implementation Guide, 3.1.3).
    """
    messages = []
    while len(data) >= _HEADER_BYTES:
        length = int.from_bytes(data[4:6], "big")
        if not 2 <= length <= LONGEST_PDU + 1:
            raise ValueError(f"found a length of {length} in a Modbus header; accepted 2 to {LONGEST_PDU + 1}")
        end = _HEADER_BYTES - 1 + length
        if len(data) < end:
            break
        if data[2:4] == bytes(2):
            messages.append(Message(data[6], data[7:end], int.from_bytes(data[:2], "big")))
        data = data[end:]
    return messages, data


def read_request(function: int, first: int, count: int) -> bytes:
    """The PDU that asks for `count` coils or discrete inputs from the address `first` on."""
    return bytes([function]) + first.to_bytes(2, "big") + count.to_bytes(2, "big")
