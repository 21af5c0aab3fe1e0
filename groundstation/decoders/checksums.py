"""The checksums that trackers use.

The CRC names and check values are those of the catalogue of parametrised CRC algorithms: over
the ASCII text 123456789 CRC-16/IBM-3740 gives 29B1.
"""

import binascii
from collections.abc import Mapping
from functools import reduce
from operator import xor
from typing import Final, NamedTuple


def crc16_ccitt_false(data: bytes) -> int:
    """CRC-16/IBM-3740, known as CCITT-FALSE: polynomial 1021, start FFFF, nothing reflected."""
    return binascii.crc_hqx(data, 0xFFFF)


def nmea_xor(data: bytes) -> int:
    """Exclusive or of all bytes: the checksum of NMEA 0183, over what is between $ and *."""
    return reduce(xor, data, 0)


class Crc(NamedTuple):
    """A parametrised CRC: bits, polynomial, start, reflected, final exclusive or."""

    bits: int
    polynomial: int
    start: int
    reflected: bool
    final: int


CRCS: Final[Mapping[str, Crc]] = {
    "crc-8": Crc(8, 0x07, 0x00, False, 0x00),
    "crc-8-maxim": Crc(8, 0x31, 0x00, True, 0x00),
    "crc-16": Crc(16, 0x1021, 0xFFFF, False, 0x0000),
    "crc-16-x25": Crc(16, 0x1021, 0xFFFF, True, 0xFFFF),
    "crc-16-xmodem": Crc(16, 0x1021, 0x0000, False, 0x0000),
    "crc-16-kermit": Crc(16, 0x1021, 0x0000, True, 0x0000),
    "crc-16-modbus": Crc(16, 0x8005, 0xFFFF, True, 0x0000),
    "crc-32": Crc(32, 0x04C11DB7, 0xFFFFFFFF, True, 0xFFFFFFFF),
}
"""SMBUS, MAXIM-DOW, IBM-3740, IBM-SDLC, XMODEM, KERMIT, MODBUS and ISO-HDLC in the catalogue."""


def crc(data: bytes, form: Crc) -> int:
    """The CRC of short data, bit by bit."""
    top, mask = 1 << (form.bits - 1), (1 << form.bits) - 1
    register = form.start
    for byte in data:
        value = int(f"{byte:08b}"[::-1], 2) if form.reflected else byte
        register ^= value << (form.bits - 8)
        for _ in range(8):
            shifted = register << 1
            register = (shifted ^ form.polynomial if register & top else shifted) & mask
    if form.reflected:
        register = int(f"{register:0{form.bits}b}"[::-1], 2)
    return register ^ form.final
