"""A frame read with what its carrier said beside the bytes."""

from dataclasses import replace
from typing import Final

from groundstation.decoders.decoder import Decoder
from groundstation.records import Frame, HeightReport, Read, Report

KEPT: Final = "kept by the broker, without a time of its own"


def decoded(decoder: Decoder, frame: Frame) -> tuple[Read, ...]:
    """What ``decoder`` reads in the frame.

    A report without a time of its own gets the time at which it was handed in, where the carrier
    tells that; one that a broker had kept has none that is known.
    """
    about_utc = frame.received_utc if frame.sent_utc is None else frame.sent_utc
    reads = decoder.decode(frame.data, about_utc)
    if frame.sent_utc is None and not frame.retained and not frame.sender:
        return reads
    return tuple(
        _carried(read, frame) if isinstance(read, Report | HeightReport) else read for read in reads
    )


def _carried(report: Report | HeightReport, frame: Frame) -> Report | HeightReport:
    if frame.sender:
        report = replace(report, tracker=frame.sender)
    if report.time_utc is not None:
        return report
    if frame.sent_utc is not None:
        return replace(report, time_utc=frame.sent_utc)
    return replace(report, time_unread=report.time_unread or KEPT)
