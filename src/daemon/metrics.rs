//! `/metrics`, in the OpenMetrics text format.

use std::sync::atomic::AtomicU64;

use prometheus_client::encoding::text::encode;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::registry::{Registry, Unit};

use super::house::House;

pub const CONTENT_TYPE: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

type Kinds = Family<[(&'static str, &'static str); 1], Counter>;

/// The figures as of now. They are gathered afresh each time, so nothing is kept up to date in between.
pub fn text(house: &House) -> String {
    let mut registry = Registry::with_prefix("bellwire");
    tick_loop(&mut registry, house);
    show(&mut registry, house);
    traffic(&mut registry, house);
    journal(&mut registry, house);
    let mut text = String::new();
    // Writing into a string does not fail.
    let _ = encode(&mut text, &registry);
    text
}

fn tick_loop(registry: &mut Registry, house: &House) {
    let figures = house.pulse.lateness.figures();
    count(registry, "ticks", "Ticks done", figures.ticks);
    count(registry, "overruns", "Ticks left out because the one before took too long", figures.overruns);
    for (name, help, late) in [
        ("tick_late_median", "Lateness of a tick, half of them at most", figures.median),
        ("tick_late_p99", "Lateness of a tick, 99 of 100 at most", figures.p99),
        ("tick_late_max", "Lateness of a tick, the worst since the start", figures.max),
    ] {
        let gauge = Gauge::<f64, AtomicU64>::default();
        gauge.set(late.seconds());
        registry.register_with_unit(name, help, Unit::Seconds, gauge);
    }
    flag(registry, "real_time", "The tick loop has real-time priority", house.pulse.real_time());
}

fn show(registry: &mut Registry, house: &House) {
    let status = house.board.status();
    flag(registry, "armed", "The show is armed", status.armed);
    flag(registry, "stopped", "The stop is latched", status.stopped.is_some());
    let running = Gauge::<i64>::default();
    running.set(i64::try_from(status.running.len()).unwrap_or(i64::MAX));
    registry.register("running_cues", "Cues that run, hold or return", running);
    let bound = Gauge::<f64, AtomicU64>::default();
    bound.set(status.stop_bound);
    let help = "From a stop asked for now to standstill, at most";
    registry.register_with_unit("stop_bound", help, Unit::Seconds, bound);
}

fn traffic(registry: &mut Registry, house: &House) {
    let in_flight = Gauge::<i64>::default();
    in_flight.set(i64::try_from(house.hub.in_flight()).unwrap_or(i64::MAX));
    registry.register("requests_in_flight", "Requests not answered yet", in_flight);
    let clients = Gauge::<i64>::default();
    clients.set(i64::try_from(house.gate.clients.count()).unwrap_or(i64::MAX));
    registry.register("websocket_clients", "WebSocket clients that were let in and are there now", clients);
    let (steps, _) = house.wall.stepped();
    count(registry, "wall_clock_steps", "Times that this machine's clock was set", steps);
    let rejected = Kinds::default();
    for (kind, times) in house.counts() {
        rejected.get_or_create(&[("kind", kind)]).inc_by(times);
    }
    registry.register("rejected_input", "Input that was turned away, by kind", rejected);
}

fn journal(registry: &mut Registry, house: &House) {
    let keeping = &house.keeping;
    if keeping.path().is_none() {
        return;
    }
    flag(registry, "journal_kept", "The journal of this run is being written", !keeping.fails());
    count(registry, "journal_lost_ticks", "Ticks that are not in the journal", keeping.lost());
    let written = Counter::<u64>::default();
    written.inc_by(keeping.bytes());
    registry.register_with_unit("journal_written", "Length of the journal", Unit::Bytes, written);
}

fn count(registry: &mut Registry, name: &str, help: &str, value: u64) {
    let counter = Counter::<u64>::default();
    counter.inc_by(value);
    registry.register(name, help, counter);
}

fn flag(registry: &mut Registry, name: &str, help: &str, value: bool) {
    let gauge = Gauge::<i64>::default();
    gauge.set(i64::from(value));
    registry.register(name, help, gauge);
}
