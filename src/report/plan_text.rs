//! One cue's motion, for people.

use comfy_table::{CellAlignment, Table, presets};

use super::check_json::rests_words;
use super::lines::wrapped;
use super::plan_svg::spare_words;
use super::starts::starts;
use crate::engine::ClientId;
use crate::motion::Ceiling;
use crate::proof::{CuePlan, MovePlan, Proof, Rendition, Seen, Sightline, Spare, Stop, rendition};
use crate::show::{AxisId, CueId, Move, Playing, Show};
use crate::stage::Stage;
use crate::wire::words::{Words, amount};

/// What starts the cue and what it needs, what each rig does and when, how fast each axis gets and how much of its
/// limits that takes, the least time of each move and what more of each limit would save. What a lens sees along it. Where its longest stop leaves it. Which cues it needs to have run, and which a skip of it would take along.
pub fn plan_text(show: &Show, id: CueId, proof: &Proof, spare: &[Spare]) -> String {
    let (cue, plan, skips) = (show.cue(id), proof.plan.cue(id), &proof.skips);
    let nobody = |_: ClientId| String::new();
    let words = Words::new(show, &nobody);
    let mut facts = vec![("starts", starts(show, id)), ("takes", format!("{:.2} s", plan.duration))];
    facts.extend(cue.needs.as_ref().map(|needs| ("needs", words.condition(needs))));
    facts.push(("stops in", format!("{:.2} s at most", plan.stop_time)));
    facts.extend(proof.stops[id.index()].worst().map(|stop| ("", standstill(show, plan, stop))));
    facts.extend(plan.bottleneck.map(|axis| ("paced by", show.axis_name(axis))));

    let number = |cue: CueId| show.cue(cue).number.to_string();
    let rests = skips.rests_on[id.index()].iter();
    facts.extend(rests.map(|(on, why)| ("rests on", format!("{}: {}", number(*on), rests_words(show, why)))));
    let broken: Vec<String> = skips.breaks[id.index()].iter().map(|&cue| number(cue)).collect();
    if !broken.is_empty() {
        facts.push(("skipped", format!("takes along, until rigs are preset: {}", broken.join(", "))));
    }

    let mut text = format!("cue {}, {}\n", cue.number, cue.name);
    for (name, fact) in facts {
        text.push_str(&wrapped(&format!("  {name:<10}"), &fact));
    }
    let stage = Stage::new(show);
    for (index, ((step, written), spare)) in plan.moves.iter().zip(&cue.moves).zip(spare).enumerate() {
        let rig = &show.rig(step.rig).name;
        let to = written.mark.as_ref().map(|mark| format!(" to {mark}")).unwrap_or_default();
        let through = passed(written, step);
        let aimed = written.aim.as_ref().map_or_else(String::new, |aim| format!(" {}", show.aimed(aim)));
        let heading = format!("{rig}{through}{to}{aimed}, from {:.2} s to {:.2} s", step.delay, step.end());
        text.push('\n');
        text.push_str(&wrapped("", &heading));
        if let Some(playing) = &written.playing {
            text.push_str(&wrapped("  ", &take_words(show, id, playing)));
        }
        text.push_str(&axes(show, step).trim_fmt());
        text.push('\n');
        text.push_str(&wrapped(" ", &spare_words(show, step, spare)));
        if let Some(mut line) = Sightline::of((show, &stage), &proof.plan.cues, id, index) {
            text.push('\n');
            text.push_str(&looks(&line.along(LOOKS)).trim_fmt());
            text.push('\n');
        }
    }
    text
}

/// " through over-ferns at 5.77 s and over-palm at 9.78 s".
pub(super) fn passed(written: &Move, step: &MovePlan) -> String {
    let marks = written.via.iter().zip(&step.passes);
    let marks: Vec<String> =
        marks.map(|(via, time)| format!("{} at {:.2} s", via.mark, step.delay + time)).collect();
    match &marks[..] {
        [] => String::new(),
        [only] => format!(" through {only}"),
        [first @ .., last] => format!(" through {} and {last}", first.join(", ")),
    }
}

/// Where the longest stop leaves what the cue moves.
fn standstill(show: &Show, plan: &CuePlan, stop: &Stop) -> String {
    let mut pose = plan.start.clone();
    plan.pose_at(stop.rests, &mut pose);
    let moves = plan.moved_axes();
    let moved = show.axis_ids().filter(|axis| moves[axis.index()]);
    let stands =
        |axis: AxisId| format!("{} {}", show.axis_name(axis), amount(pose[axis.index()], show.axis(axis).unit));
    let stands: Vec<String> = moved.map(stands).collect();
    format!("asked for {:.1} s into it, it stands {:.1} s into it: {}", stop.asked, stop.rests, stands.join(", "))
}

/// To three decimals, never a little less.
fn rounded_up(value: f64) -> f64 {
    (value * 1e3).ceil() / 1e3
}

/// How a take is played, and what room it has.
fn take_words(show: &Show, id: CueId, playing: &Playing) -> String {
    let mut told = format!("take {}", playing.take.name);
    if playing.enter > 0.0 {
        told.push_str(&format!(", entered at {} s", playing.enter));
    }
    if playing.stretch != 1.0 {
        told.push_str(&format!(", stretched by {}", playing.stretch));
    }
    let Some(rendition) = rendition(show, id, playing) else { return told };
    let Rendition { added, farthest, .. } = &rendition;
    for (lead, seconds) in ["run-in", "run-out"].into_iter().zip(added).filter(|(_, seconds)| **seconds > 0.0) {
        told.push_str(&format!("; its {lead} adds {seconds:.2} s"));
    }
    let off = |&(axis, off): &(AxisId, f64)| {
        let axis = show.axis(axis);
        format!("{}{} of {}", rounded_up(off), axis.unit.sign(), axis.name)
    };
    let off: Vec<String> = farthest.iter().map(off).collect();
    told.push_str(&format!(
        "; least stretch {:.3}; no sample is farther from its path than {}",
        rendition.least(),
        off.join(", ")
    ));
    told
}

/// How often along a move it is told what its lens sees.
pub(super) const LOOKS: usize = 9;

/// What a lens sees along a move, as far as its tables tell.
fn looks(seen: &[Seen]) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_header(["time", "off", "distance", "focused at", "sharp from", "to", "field of view"]);
    let metres = |value: Option<f64>| value.map_or_else(String::new, |metres| format!("{metres:.2} m"));
    for Seen { time, look, aimed } in seen {
        let depth = look.depth;
        table.add_row([
            format!("{time:.1} s"),
            aimed.map_or_else(String::new, |on| format!("{:.2}°", on.off)),
            metres(aimed.map(|on| on.distance)),
            metres(look.focus),
            metres(depth.map(|depth| depth.near)),
            match depth {
                Some(depth) if depth.far.is_infinite() => "no end".into(),
                Some(_) | None => metres(depth.map(|depth| depth.far)),
            },
            look.view.map_or_else(String::new, |view| format!("{view:.1}°")),
        ]);
    }
    table.column_iter_mut().for_each(|column| column.set_cell_alignment(CellAlignment::Right));
    table
}

fn axes(show: &Show, step: &MovePlan) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_header(["", "from", "to", "top speed", "of limit", "acceleration", "of limit"]);
    for path in &step.axes {
        let axis = show.axis(path.axis);
        let sign = axis.unit.sign();
        let Ceiling { speed, acceleration, .. } = step.peaks(path);
        table.add_row([
            axis.name.clone(),
            amount(path.from, axis.unit),
            amount(path.to, axis.unit),
            format!("{speed:.3}{sign}/s"),
            format!("{:.0} %", 100.0 * speed / axis.run.speed),
            format!("{acceleration:.3}{sign}/s²"),
            format!("{:.0} %", 100.0 * acceleration / axis.run.acceleration),
        ]);
    }
    table.column_iter_mut().skip(1).for_each(|column| column.set_cell_alignment(CellAlignment::Right));
    table
}
