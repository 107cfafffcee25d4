"""Reads the board's metrics with the OpenMetrics parser of prometheus-client, which is strict."""

import sys

from prometheus_client.openmetrics.parser import text_string_to_metric_families

families = {family.name: family for family in text_string_to_metric_families(sys.stdin.read())}
contents = families["dekchi_contents_kilograms"]
assert contents.type == "gauge" and contents.unit == "kilograms", contents
assert {sample.labels["pot"] for sample in contents.samples} == {"big", "small"}, contents
assert all(5 < sample.value < 60 for sample in contents.samples), contents
assert families["dekchi_store_commits"].type == "counter"
assert families["dekchi_alert"].type == "stateset"
print(f"ok      {len(families)} metric families are read by another parser")
