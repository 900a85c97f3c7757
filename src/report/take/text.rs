//! A take for people.

use comfy_table::{CellAlignment, Table, presets};

use super::{Gap, TakePart, TakeTold};
use crate::motion::{Derivative, Peak};
use crate::proof::{Rendition, Tight};
use crate::report::counted;
use crate::report::lines::wrapped;
use crate::show::{Axis, Limits, Show, Take};
use crate::wire::words::amount;

/// When and under which survey it was recorded, how long it is and what its recorder dropped; how it would be played; then
/// of each rig where its axes go, how much their samples scatter, and how near their peaks come to their limits, and when.
pub fn take_text(told: TakeTold) -> String {
    let TakeTold { show, take, parts, .. } = told;
    let rigs: Vec<&str> = parts.iter().map(|part| show.rig(part.rig).name.as_str()).collect();
    let mut text = format!("take {}, of {}\n", take.name, rigs.join(" and "));
    for (name, fact) in facts(told) {
        text.push_str(&wrapped(&format!("  {name:<10}"), &fact));
    }
    for part in parts {
        let Some((_, rendition)) = &part.played else { continue };
        text.push_str(&format!("\n{}\n", samples(show, part, rendition).trim_fmt()));
        text.push_str(&format!("\n{}\n", peaks(show, part, rendition).trim_fmt()));
    }
    text
}

/// Every take of a show, a line each: its length, its axes, the cues that play it.
pub fn takes_text(show: &Show, takes: &[Take]) -> String {
    let mut table = table(&["take", "lasts", "recorded", "columns", "played by"]);
    for take in takes {
        let columns: Vec<&str> = take.columns.iter().map(|column| column.name.as_str()).collect();
        let lasts = if take.times.is_empty() { "unread".into() } else { format!("{:.1} s", take.length()) };
        let recorded = take.recorded.clone().unwrap_or_else(|| "unknown".into());
        table.add_row([take.name.clone(), lasts, recorded, columns.join(" "), played_by(show, take)]);
    }
    format!("{}\n", table.trim_fmt())
}

fn facts(told: TakeTold) -> Vec<(&'static str, String)> {
    let TakeTold { show, take, parts, .. } = told;
    let recorded = match (&take.recorded, take.survey_hash()) {
        (None, None) => "its head does not say when, nor under which survey".into(),
        (Some(when), None) => format!("{when}, it does not say under which survey"),
        (None, Some(survey)) => format!("under survey {survey}, it does not say when"),
        (Some(when), Some(survey)) => format!("{when}, under survey {survey}"),
    };
    let count = counted(take.times.len(), "sample", "samples");
    let mut facts = vec![
        ("recorded", recorded),
        ("lasts", format!("{:.2} s: {count}, {:.0} a second", take.length(), 1.0 / told.step())),
    ];
    let gaps = told.gaps();
    if let Some(longest) = gaps.iter().max_by(|a, b| a.length.total_cmp(&b.length)) {
        let Gap { at, length } = longest;
        let words =
            format!("{}; the longest, {length:.3} s, {at:.2} s into it", counted(gaps.len(), "gap", "gaps"));
        facts.push(("dropped", words));
    }
    facts.extend(told.played_in().map(|seconds| ("plays in", format!("{seconds:.2} s{}", leads(told)))));
    let tight = parts.iter().filter_map(|part| part.played.as_ref()?.1.tightest);
    if let Some(Tight { axis, limit, peak, stretch }) =
        tight.reduce(|a, b| if b.stretch > a.stretch { b } else { a })
    {
        let (axis, word) = (show.axis_name(axis), word(limit));
        facts.push(("least", format!("stretch {stretch:.4}, for the {word} of {axis} {:.2} s into it", peak.time)));
    }
    facts.push(("played by", played_by(show, take)));
    facts
}

fn played_by(show: &Show, take: &Take) -> String {
    let mut cues: Vec<_> = show.playing(&take.name).map(|(cue, _)| cue).collect();
    cues.dedup();
    if cues.is_empty() { "no cue".into() } else { show.called(&cues) }
}

/// What the run-in and the run-out add, where they do.
fn leads(told: TakeTold) -> String {
    let several = told.parts.len() > 1;
    let mut words = String::new();
    for part in told.parts {
        let Some((_, rendition)) = &part.played else { continue };
        let leads = ["run-in", "run-out"].into_iter().zip(rendition.added);
        for (lead, seconds) in leads.filter(|(_, seconds)| *seconds > 0.0) {
            let of = if several { format!(" of {}", told.show.rig(part.rig).name) } else { String::new() };
            words.push_str(&format!("; its {lead}{of} adds {seconds:.2} s"));
        }
    }
    words
}

fn samples(show: &Show, part: &TakePart, rendition: &Rendition) -> Table {
    let rig = show.rig(part.rig).name.as_str();
    let mut table = table(&[rig, "from", "to", "lowest", "highest", "noise", "tolerance", "farthest"]);
    let axes = part.playing.columns.iter().zip(&rendition.noises).zip(&rendition.farthest);
    for ((&(id, column), noise), (_, farthest)) in axes {
        let (axis, values) = (show.axis(id), &part.playing.take.columns[column].values);
        let ends = [values[0], values[values.len() - 1]];
        let least = values.iter().copied().fold(f64::INFINITY, f64::min);
        let most = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let [from, to, least, most] = [ends[0], ends[1], least, most].map(|value| amount(value, axis.unit));
        let [noise, farthest] = [*noise, *farthest].map(|value| fine(value, axis));
        let tolerance = format!("{}{}", axis.tolerance, axis.unit.sign());
        table.add_row([axis.name.clone(), from, to, least, most, noise, tolerance, farthest]);
    }
    table
}

fn peaks(show: &Show, part: &TakePart, rendition: &Rendition) -> Table {
    let rig = show.rig(part.rig).name.as_str();
    let mut table = table(&[rig, "peak", "", "limit", "of limit", "at"]);
    for (index, &(id, _)) in part.playing.columns.iter().enumerate() {
        let axis = show.axis(id);
        let rows = [Derivative::Speed, Derivative::Acceleration, Derivative::Jerk].into_iter();
        for (limit, Peak { value, time }) in rows.zip(rendition.peaks(index)) {
            let (most, per) = (bound(axis.run, limit), per(limit));
            let name = if limit == Derivative::Speed { axis.name.clone() } else { String::new() };
            let sign = axis.unit.sign();
            let of = format!("{:.0} %", 100.0 * value / most);
            let at = format!("{time:.2} s");
            table.add_row([name, word(limit).into(), format!("{value:.3}{sign}/{per}"), format!("{most}"), of, at]);
        }
    }
    table
}

pub fn word(limit: Derivative) -> &'static str {
    match limit {
        Derivative::Speed => "speed",
        Derivative::Acceleration => "acceleration",
        Derivative::Jerk => "jerk",
    }
}

fn per(limit: Derivative) -> &'static str {
    match limit {
        Derivative::Speed => "s",
        Derivative::Acceleration => "s²",
        Derivative::Jerk => "s³",
    }
}

pub fn bound(limits: Limits, limit: Derivative) -> f64 {
    match limit {
        Derivative::Speed => limits.speed,
        Derivative::Acceleration => limits.acceleration,
        Derivative::Jerk => limits.jerk,
    }
}

/// To two digits that mean something, since noise is small.
fn fine(value: f64, axis: &Axis) -> String {
    let sign = axis.unit.sign();
    let decimals = [(0.01, 5), (0.1, 4), (1.0, 3)];
    let decimals = decimals.into_iter().find(|(below, _)| value < *below).map_or(2, |(_, decimals)| decimals);
    format!("{value:.decimals$}{sign}")
}

fn table(head: &[&str]) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_header(head);
    table.column_iter_mut().skip(1).for_each(|column| column.set_cell_alignment(CellAlignment::Right));
    table
}
