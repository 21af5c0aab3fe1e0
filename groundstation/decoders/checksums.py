"""The checksums that trackers use.

The CRC names and check values are those of the catalogue of parametrised CRC algorithms: over
the ASCII text 123456789 CRC-16/IBM-3740 gives 29B1 and CRC-16/IBM-SDLC gives 906E.
"""

import binascii
from functools import reduce
from operator import xor
from typing import Final


def crc16_ccitt_false(data: bytes) -> int:
    """CRC-16/IBM-3740, known as CCITT-FALSE: polynomial 1021, start FFFF, nothing reflected."""
    return binascii.crc_hqx(data, 0xFFFF)


def _reflected(byte: int) -> int:
    for _ in range(8):
        byte = (byte >> 1) ^ (0x8408 if byte & 1 else 0)
    return byte


_X25_TABLE: Final = tuple(_reflected(byte) for byte in range(256))


def crc16_x25(data: bytes) -> int:
    """CRC-16/IBM-SDLC, known as X-25: the frame check sequence of AX.25, sent low byte first."""
    register = 0xFFFF
    for byte in data:
        register = (register >> 8) ^ _X25_TABLE[(register ^ byte) & 0xFF]
    return register ^ 0xFFFF


def nmea_xor(data: bytes) -> int:
    """Exclusive or of all bytes: the checksum of NMEA 0183, over what is between $ and *."""
    return reduce(xor, data, 0)
