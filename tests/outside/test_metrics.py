"""/metrics, read by the reference parser of OpenMetrics (PyPI prometheus_client)."""

import re
import urllib.request

import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from road.waiting import until


def families(daemon):
    """Every family by its name."""
    with urllib.request.urlopen(f"http://{daemon.address}/metrics", timeout=5) as response:
        kind = response.headers["content-type"]
        text = response.read().decode()
    assert kind == "application/openmetrics-text; version=1.0.0; charset=utf-8"
    found = {}
    for family in text_string_to_metric_families(text):
        assert family.name not in found, f"{family.name} comes twice"
        found[family.name] = family
    return found


def value(daemon, family, suffix="", **labels):
    """One sample, None if it is not there."""
    for sample in families(daemon)[f"bellwire_{family}"].samples:
        if sample.name == f"bellwire_{family}{suffix}" and labels.items() <= sample.labels.items():
            return sample.value
    return None


def test_the_parser_would_complain():
    with pytest.raises(ValueError):
        list(text_string_to_metric_families("# TYPE bellwire_ticks counter\nbellwire_ticks 1\n# EOF\n"))


def test_every_family_keeps_to_the_convention(daemon):
    assert daemon.command("go", "1")[0] == 1
    found = families(daemon)
    assert len(found) > 20
    for name, family in found.items():
        assert re.fullmatch(r"bellwire_[a-z][a-z0-9_]*", name), name
        assert family.documentation.strip() and family.type != "unknown", name
        assert not re.search(r"_(ms|us|ns|milliseconds|total)$", name), f"{name}: base units, no suffix of a sample"
        if family.unit:
            assert name.endswith(f"_{family.unit}"), f"{name}: its unit {family.unit} stands last"


def test_what_it_says_is_what_the_status_says(daemon):
    status = daemon.status()
    assert value(daemon, "armed") == 1.0
    assert value(daemon, "stopped") == 0.0
    assert value(daemon, "stop_bound_seconds") == pytest.approx(status["stop_bound"])
    assert value(daemon, "tick_period_seconds") == status["loop"]["tick"]
    assert value(daemon, "show", "_info", name="Bench", hash=status["hash"]) == 1.0
    for rig in status["rigs"]:
        assert value(daemon, "rig_simulated", rig=rig) == 1.0
        assert 0.0 <= value(daemon, "rig_report_age_seconds", rig=rig) < 5.0


def test_the_lateness_is_a_histogram_of_every_tick(daemon):
    samples = families(daemon)["bellwire_tick_lateness_seconds"].samples
    buckets = [sample for sample in samples if sample.name.endswith("_bucket")]
    counts = [bucket.value for bucket in buckets]
    assert len(buckets) == 22 and counts == sorted(counts), "cumulative"
    assert buckets[-1].labels["le"] == "+Inf"
    assert counts[-1] == next(sample.value for sample in samples if sample.name.endswith("_count")) > 0


def test_ticks_and_uptime_rise(daemon):
    before = value(daemon, "ticks", "_total"), value(daemon, "uptime_seconds")
    until("more ticks", lambda: value(daemon, "ticks", "_total") > before[0])
    assert value(daemon, "uptime_seconds") > before[1]


def test_requests_are_counted_by_verb_and_outcome(daemon):
    assert daemon.command("standby", "1")[0] == 0
    assert daemon.command("go", "12")[0] == 1
    assert value(daemon, "requests", "_total", verb="standby", outcome="accepted") == 1.0
    assert value(daemon, "requests", "_total", verb="go", outcome="refused") == 1.0
    reasons = families(daemon)["bellwire_refusal_reasons"].samples
    assert sum(sample.value for sample in reasons) >= 1.0
    assert all(re.fullmatch(r"[a-z-]+", sample.labels["reason"]) for sample in reasons), "words of our own"


def test_stops_are_counted_by_their_road(daemon):
    assert value(daemon, "stop_calls", "_total", lane="HTTP") == 0.0
    urllib.request.urlopen(urllib.request.Request(f"http://{daemon.address}/stop", method="POST"), timeout=5).close()
    until("counted", lambda: value(daemon, "stop_calls", "_total", lane="HTTP") == 1.0)
    until("the stop shows", lambda: value(daemon, "stopped") == 1.0)
    until("its event is counted", lambda: value(daemon, "events", "_total", kind="stop") == 1.0)
