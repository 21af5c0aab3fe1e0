"""The figures, read by a library of others for the open form."""

from dataclasses import replace
from typing import Any

from prometheus_client.openmetrics.parser import text_string_to_metric_families

from groundstation.web.metrics import metrics_text
from tests.support.web_scenario import STATION


def test_the_figures_are_openmetrics() -> None:
    station = STATION
    odd = replace(station.sources[0], name='a "name"\\with\nall')
    station = replace(station, sources=(odd, *station.sources[1:]), disk_free_bytes=12_345_678_901)
    read: Any = text_string_to_metric_families
    found = {family.name: family for family in read(metrics_text(station))}
    assert found["groundstation_frames"].type == "counter"
    assert found["groundstation_frames"].samples[0].value == station.counts.frames
    ups = {one.labels["source"]: one.value for one in found["groundstation_source_up"].samples}
    assert odd.name in ups
    assert set(ups.values()) <= {0.0, 1.0}
    assert found["groundstation_disk_free_bytes"].samples[0].value == 12_345_678_901
    reasons = {one.labels["reason"] for one in found["groundstation_refused"].samples}
    assert reasons == {str(reason) for reason in station.counts.rejected}
