"""Checksums against the catalogue of parametrised CRC algorithms and published sentences."""

import pytest

from groundstation.decoders.checksums import CRCS, crc, crc16_ccitt_false, nmea_xor

CATALOGUE_TEXT = b"123456789"


def test_ccitt_false_has_its_catalogue_value() -> None:
    # CRC-16/IBM-3740 in the catalogue of parametrised CRC algorithms.
    assert crc16_ccitt_false(CATALOGUE_TEXT) == 0x29B1


def test_x25_over_a_frame_and_its_sequence_leaves_the_known_residue() -> None:
    # Same catalogue: residue F0B8, here before the last inversion of the register.
    frame = CATALOGUE_TEXT + (0x906E).to_bytes(2, "little")
    assert crc(frame, CRCS["crc-16-x25"]) ^ 0xFFFF == 0xF0B8


@pytest.mark.parametrize(
    ("sentence", "checksum"),
    [
        # Widely published example sentences of NMEA 0183.
        (b"GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,", 0x47),
        (b"GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W", 0x6A),
        (b"GPGGA,092750.000,5321.6802,N,00630.3372,W,1,8,1.03,61.7,M,55.2,M,,", 0x76),
        (b"GPGLL,4916.45,N,12311.12,W,225444,A,", 0x1D),
    ],
)
def test_nmea_checksum_of_published_sentences(sentence: bytes, checksum: int) -> None:
    assert nmea_xor(sentence) == checksum
