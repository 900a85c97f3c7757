//! A rehearsal on one page, for paper and phone.

use maud::{Markup, html};

use super::counted;
use super::page::{Head, page};
use super::plot::{Drawing, TimeScale, WIDTH};
use super::rehearsal_table::moved;
use super::rehearsal_words::{clock, incidents, minutes, not_proved, outcome_in_short, reasons, verdict};
use super::starts::starts_in_short;
use crate::rehearsal::{AxisRecord, CueRecord, Outcome, Peaks, Rehearsal};
use crate::show::{AxisId, Limits, RigId, Show};
use crate::wire::words::amount;

/// Labels over a plot stand at least so far apart, of its width.
const LABEL: f64 = 0.045;
const TIME_LABEL: f64 = 0.08;

/// The page, whole: nothing is fetched by it. `made` says when, for people.
pub fn rehearsal_page(show: &Show, rehearsal: &Rehearsal, made: &str) -> String {
    let head = Head {
        title: &show.name,
        kicker: format!("rehearsal on simulated rigs (machines), {made}"),
        verdict: verdict(show, rehearsal),
        good: rehearsal.is_clean(),
        facts: facts(show, rehearsal),
        style: "",
    };
    let axes = rehearsal.axes(show);
    let body = html! {
        (running_order(show, rehearsal))
        (between(show, rehearsal))
        (peaks(show, &axes))
        (plots(show, rehearsal, &axes))
    };
    page(&head, &body, &not_proved(Some(show), &rehearsal.options))
}

fn facts(show: &Show, rehearsal: &Rehearsal) -> Vec<(&'static str, String)> {
    let options = &rehearsal.options;
    let mut facts = vec![(
        "the show",
        format!(
            "{}, {}, {}",
            counted(show.rigs.len(), "rig", "rigs"),
            counted(show.axes.len(), "axis", "axes"),
            counted(show.cues.len(), "cue", "cues")
        ),
    )];
    facts.extend(rehearsal.act().map(|act| ("first GO to last end", clock(act))));
    facts.push(match options.master {
        1.0 => ("master", "100 %".into()),
        master => ("master", format!("{:.0} %: dynamic limits not proved", 100.0 * master)),
    });
    facts.push((
        "called",
        match options.seed {
            Some(seed) => {
                let hands = counted(rehearsal.taken_in_hand(), "rig", "rigs");
                format!("at random, operators at random, {hands} taken in hand, seed {seed}")
            }
            None if options.gaps => "as the list has it".into(),
            None => "as soon as each was ready".into(),
        },
    ));
    facts.extend(
        options
            .faults
            .as_ref()
            .map(|script| ("faults", format!("{} by file", counted(script.injections().len(), "fault", "faults")))),
    );
    facts.push(("hash of the show", show.hash.clone()));
    facts
}

fn running_order(show: &Show, rehearsal: &Rehearsal) -> Markup {
    html! {
        section {
            h2 { "Running order" }
            p.note { "GO in minutes and seconds since arming. The last column is the longest that a stop would have \
                      taken at any time of the cue." }
            table {
                thead { tr {
                    th { "cue" } th { "name" } th { "starts on" } th.n { "GO" } th.n { "planned" } th.n { "taken" }
                    th { "outcome" } th.n { "stops in" }
                } }
                tbody { @for record in &rehearsal.cues { (row(show, record)) } }
            }
        }
    }
}

fn row(show: &Show, record: &CueRecord) -> Markup {
    let cue = show.cue(record.cue);
    let done = matches!(record.outcome, Outcome::Done);
    let reasons = reasons(show, record);
    let seconds = |value: f64| format!("{value:.2} s");
    html! {
        tr.bad[!done] {
            td.no { (cue.number) }
            td.name { (cue.name) }
            td data-of="starts on" { (starts_in_short(show, record.cue)) }
            td.n data-of="GO" { (record.fired.map(clock).unwrap_or_default()) }
            td.n data-of="planned" { (seconds(record.planned)) }
            td.n data-of="taken" { (record.taken().map(seconds).unwrap_or_default()) }
            td.out data-of="outcome" {
                (outcome_in_short(&record.outcome))
                @if done && record.interrupted > 0.0 { ", " (seconds(record.interrupted)) " interrupted" }
            }
            td.n data-of="stops in" { @if record.fired.is_some() { (seconds(record.stop_bound)) } }
        }
        @if !reasons.is_empty() {
            tr { td.why colspan="8" { @for reason in &reasons { div { (reason) } } } }
        }
    }
}

fn between(show: &Show, rehearsal: &Rehearsal) -> Markup {
    let incidents = incidents(show, rehearsal);
    if incidents.is_empty() {
        return html! {};
    }
    html! {
        section {
            h2 { "What came between" }
            dl.events {
                @for (time, sentence) in &incidents { dt { (clock(*time)) } dd { (sentence) } }
            }
        }
    }
}

fn peaks(show: &Show, axes: &[AxisRecord]) -> Markup {
    html! {
        section {
            h2 { "Peaks against limits" }
            p.note { "The largest of each axis over the rehearsal, as a part of what it may. A dashed mark is the \
                      largest while a hold, a stop or a lower master braked, of the stopping limits. Lag is how far \
                      the simulated rig was behind, of the following error that is a fault." }
            table {
                thead { tr { th { "axis" } th { "speed" } th { "acceleration" } th { "jerk" } th { "lag" } } }
                tbody {
                    @for record in axes.iter().filter(|record| moved(record)) {
                        @let axis = show.axis(record.axis);
                        @let (running, stopping) = (of(record.running, axis.run), of(record.stopping, axis.stop));
                        tr {
                            td.name { (show.axis_name(record.axis)) }
                            td data-of="speed" { (bar(running[0], stopping[0])) }
                            td data-of="acceleration" { (bar(running[1], stopping[1])) }
                            td data-of="jerk" { (bar(running[2], stopping[2])) }
                            td data-of="lag" { (bar(record.lag / axis.lag_limit, 0.0)) }
                        }
                    }
                }
            }
        }
    }
}

fn of(peaks: Peaks, limits: Limits) -> [f64; 3] {
    [peaks.speed / limits.speed, peaks.acceleration / limits.acceleration, peaks.jerk / limits.jerk]
}

fn bar(running: f64, stopping: f64) -> Markup {
    let width = |part: f64| format!("width:{:.1}%", 100.0 * part.clamp(0.0, 1.0));
    html! {
        span.part {
            span.bar {
                i style=(width(running)) {}
                @if stopping > 0.0 { i.stop style=(width(stopping)) {} }
            }
            b { (format!("{:.0} %", 100.0 * running)) }
        }
    }
}

fn plots(show: &Show, rehearsal: &Rehearsal, axes: &[AxisRecord]) -> Markup {
    let Some(track) = rehearsal.tracks.first().filter(|track| !track.points.is_empty()) else {
        return html! {};
    };
    let scale = TimeScale::over(track.points.iter().map(|point| point.time), 2.0 * track.step());
    html! {
        section {
            h2 { "Position and speed over the show" }
            p.note { "Of what the rigs were told. Position within the travel of the axis, and below it speed between \
                      its limits (dashed). A band is a cue of that rig. Pauses in which nothing moves are cut at the \
                      dotted lines." }
            @for rig in show.rig_ids() { (rig_plots(show, rehearsal, axes, &scale, rig)) }
        }
    }
}

fn rig_plots(show: &Show, rehearsal: &Rehearsal, axes: &[AxisRecord], scale: &TimeScale, rig: RigId) -> Markup {
    let (moving, still): (Vec<AxisId>, Vec<AxisId>) =
        show.rig(rig).axis_ids().partition(|axis| moved(&axes[axis.index()]));
    let cues =
        rehearsal.cues.iter().filter(|record| record.axes.iter().any(|axis| show.axis(axis.axis).rig == rig));
    let runs: Vec<(&CueRecord, [f64; 2])> = cues
        .filter_map(|record| Some((record, [record.fired?, record.ended.unwrap_or(rehearsal.length)])))
        .collect();
    let bands: Vec<[f64; 2]> = runs.iter().map(|(_, band)| *band).collect();
    let numbers = runs.iter().map(|(record, [from, _])| (*from, show.cue(record.cue).number.to_string()));
    let names: Vec<&str> = still.iter().map(|&axis| show.axis(axis).name.as_str()).collect();
    html! {
        div.rig {
            h3 { (show.rig(rig).name) ", " (show.rig(rig).kind)
                @if !names.is_empty() { span.note { "; stood still: " (names.join(", ")) } } }
            @if !moving.is_empty() {
                div.scale.cues { (labels(scale, numbers, LABEL)) }
                @for axis in moving { (axis_plots(show, rehearsal, scale, &bands, axis)) }
                div.scale.times { (labels(scale, scale.starts().map(|time| (time, minutes(time))), TIME_LABEL)) }
            }
        }
    }
}

/// Words at their times, left out where they would stand in one another.
fn labels(scale: &TimeScale, wanted: impl Iterator<Item = (f64, String)>, apart: f64) -> Markup {
    let mut last = f64::NEG_INFINITY;
    let mut shown = Vec::new();
    for (time, text) in wanted {
        let at = scale.at(time) / WIDTH;
        if at >= last + apart && at <= 1.0 - apart {
            last = at;
            shown.push((at, text));
        }
    }
    html! { @for (at, text) in shown { span style=(format!("left:{:.2}%", 100.0 * at)) { (text) } } }
}

fn axis_plots(show: &Show, rehearsal: &Rehearsal, scale: &TimeScale, bands: &[[f64; 2]], id: AxisId) -> Markup {
    let (axis, track) = (show.axis(id), &rehearsal.tracks[id.index()]);
    let [low, high] = axis.travel;
    let top = axis.run.speed;
    let way = Drawing {
        class: "way",
        title: format!("position of {}", show.axis_name(id)),
        scale,
        bands,
        range: [low, high],
        edges: &[low, high],
        zero: false,
    };
    let speed = Drawing {
        class: "speed",
        title: format!("speed of {}", show.axis_name(id)),
        range: [-top, top],
        edges: &[-top, top],
        zero: true,
        ..way
    };
    html! {
        div.plot {
            span.name {
                (axis.name)
                span.range { (amount(low, axis.unit)) " to " (amount(high, axis.unit)) }
                span.range { "at most " (amount(top, axis.unit)) "/s" }
            }
            (way.draw(track.points.iter().map(|point| (point.time, point.position))))
            (speed.draw(track.points.iter().map(|point| (point.time, point.speed))))
        }
    }
}
