//! `/metrics`, in the OpenMetrics 1.0 text format: base units, their names at the end, `_total` on what only rises.
//!
//! The figures are gathered afresh each time, so nothing is kept up to date in between. Labels hold words of our own,
//! and the names of rigs, never a stranger's words: there are few of each.

use std::fmt;
use std::sync::atomic::AtomicU64;

use prometheus_client::encoding::text::encode;
use prometheus_client::encoding::{EncodeMetric, MetricEncoder, NoLabelSet};
use prometheus_client::metrics::MetricType;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::info::Info;
use prometheus_client::registry::{Registry, Unit};

use super::house::House;
use super::lateness::LatenessHistogram;
use crate::VERSION;
use crate::engine::StopLane;
use crate::show::Nanos;

pub const CONTENT_TYPE: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

type Labels<const N: usize> = [(&'static str, String); N];
type Counts<const N: usize> = Family<Labels<N>, Counter>;
type Seconds = Gauge<f64, AtomicU64>;

/// The figures as of now.
pub fn text(house: &House) -> String {
    let mut registry = Registry::with_prefix("bellwire");
    identity(&mut registry, house);
    tick_loop(&mut registry, house);
    show(&mut registry, house);
    rigs(&mut registry, house);
    stops(&mut registry, house);
    requests(&mut registry, house);
    traffic(&mut registry, house);
    journal(&mut registry, house);
    let mut text = String::new();
    // Writing into a string does not fail.
    let _ = encode(&mut text, &registry);
    text
}

fn identity(registry: &mut Registry, house: &House) {
    let build = Info::new([("version", VERSION.to_owned())]);
    registry.register("build", "The program", build);
    let show = &house.book().show;
    let labels = [("name", show.name.clone()), ("hash", show.hash.clone())];
    registry.register("show", "The show that is run", Info::new(labels));
    seconds(registry, "uptime", "Since the daemon started", house.time());
}

fn tick_loop(registry: &mut Registry, house: &House) {
    let figures = house.pulse.lateness.figures();
    let tick = house.book().show.settings.tick;
    seconds(registry, "tick_period", "From one tick to the next, as the show asks", tick.seconds());
    count(registry, "ticks", "Ticks done", figures.ticks);
    count(registry, "ticks_left_out", "Ticks left out because the one before took too long", figures.overruns);
    let histogram = Histogram(house.pulse.lateness.histogram());
    registry.register_with_unit("tick_lateness", "How late the ticks began", Unit::Seconds, histogram);
    seconds(
        registry,
        "tick_lateness_max",
        "How late a tick began, the worst since the start",
        figures.max.seconds(),
    );
    flag(registry, "real_time", "The tick loop has real-time priority", house.pulse.real_time());
    flag(registry, "heartbeat_withheld", "The rigs' heartbeat is withheld: the loop stalled", house.pulse.cut());
}

fn show(registry: &mut Registry, house: &House) {
    let status = house.board.status();
    flag(registry, "armed", "The show is armed", status.armed);
    flag(registry, "stopped", "The stop is latched", status.stopped.is_some());
    let master = Seconds::default();
    master.set(status.master);
    registry.register_with_unit("master", "Factor on the show's clock", ratio(), master);
    number(registry, "running_cues", "Cues that run, hold or return", status.running.len());
    number(registry, "standby_cues", "Cues on standby", status.standby.len());
    seconds(registry, "stop_bound", "From a stop asked for now to standstill, at most", status.stop_bound);
}

/// A rig that was never heard has no age yet.
fn rigs(registry: &mut Registry, house: &House) {
    let (ages, simulated) = (Family::<Labels<1>, Seconds>::default(), Family::<Labels<1>, Gauge>::default());
    let all = house.board.status();
    let book = house.shelf.of(&all);
    for (rig, status) in book.show.rigs.iter().zip(&all.rigs) {
        let label = [("rig", rig.name.clone())];
        simulated.get_or_create(&label).set(i64::from(status.simulated));
        if status.age != Nanos::NEVER {
            ages.get_or_create(&label).set(status.age.seconds());
        }
    }
    registry.register_with_unit("rig_report_age", "Age of the rig's newest report", Unit::Seconds, ages);
    let injected = Family::<Labels<1>, Gauge>::default();
    for fault in house.injected() {
        if let Some(rig) = fault.rig(&book.show) {
            injected.get_or_create(&[("rig", book.show.rig(rig).name.clone())]).inc();
        }
    }
    registry.register("rig_simulated_faults", "Faults that this simulated rig is asked to show", injected);
    registry.register("rig_simulated", "The rig is simulated: nothing moves but in the computer", simulated);
}

fn stops(registry: &mut Registry, house: &House) {
    let calls = Counts::<1>::default();
    for (lane, generation) in StopLane::ALL.into_iter().zip(house.stop.read().generations) {
        calls.get_or_create(&[("lane", lane.word().to_owned())]).inc_by(u64::from(generation));
    }
    registry.register("stop_calls", "Stops asked for, by the road on which they came", calls);
}

fn requests(registry: &mut Registry, house: &House) {
    let requests = Counts::<2>::default();
    for ((verb, accepted), times) in house.hub.counted.requests.read() {
        let outcome = if accepted { "accepted" } else { "refused" };
        requests.get_or_create(&[("verb", verb.to_owned()), ("outcome", outcome.to_owned())]).inc_by(times);
    }
    registry.register("requests", "Requests answered, by verb and outcome; a stop is none", requests);
    let help = "Reasons of refusals, of follows too, by kind; a refusal can have several";
    registry.register("refusal_reasons", help, by("reason", house.hub.counted.reasons.read()));
    number(registry, "requests_in_flight", "Requests not answered yet", house.hub.in_flight());
}

fn traffic(registry: &mut Registry, house: &House) {
    registry.register("events", "Events of the show, by kind", by("kind", house.events.counts()));
    number(
        registry,
        "websocket_clients",
        "WebSocket clients that were let in and are there now",
        house.gate.clients.count(),
    );
    let (steps, _) = house.wall.stepped();
    count(registry, "wall_clock_steps", "Times that this machine's clock was set", steps);
    let rejected = house.counts().into_iter().map(|(kind, times)| (kind.to_owned(), times)).collect();
    registry.register("rejected_input", "Input that was turned away unread, by kind", by("kind", rejected));
}

fn by(label: &'static str, counts: Vec<(String, u64)>) -> Counts<1> {
    let family = Counts::<1>::default();
    for (kind, times) in counts {
        family.get_or_create(&[(label, kind)]).inc_by(times);
    }
    family
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

fn seconds(registry: &mut Registry, name: &str, help: &str, value: f64) {
    let gauge = Seconds::default();
    gauge.set(value);
    registry.register_with_unit(name, help, Unit::Seconds, gauge);
}

fn number(registry: &mut Registry, name: &str, help: &str, value: usize) {
    let gauge = Gauge::<i64>::default();
    gauge.set(i64::try_from(value).unwrap_or(i64::MAX));
    registry.register(name, help, gauge);
}

fn flag(registry: &mut Registry, name: &str, help: &str, value: bool) {
    number(registry, name, help, usize::from(value));
}

/// The base unit of what has none.
fn ratio() -> Unit {
    Unit::Other("ratio".to_owned())
}

/// A histogram that was gathered elsewhere.
#[derive(Debug)]
struct Histogram(LatenessHistogram);

impl EncodeMetric for Histogram {
    fn encode(&self, mut encoder: MetricEncoder<'_>) -> Result<(), fmt::Error> {
        let LatenessHistogram { buckets, sum, ticks } = &self.0;
        encoder.encode_histogram::<NoLabelSet>(*sum, *ticks, buckets, None)
    }

    fn metric_type(&self) -> MetricType {
        MetricType::Histogram
    }
}
