//! The show as `GET /show` and `GET /cue/NUMBER` tell it: what does not change while it runs.

use serde_json::{Map, Value, json};

use super::{any_simulated, number, numbers, simulated};
use crate::motion::stopping_way;
use crate::proof::{CuePlan, MovePlan, Plan};
use crate::show::{
    After, AxisId, Cue, CueId, Guard, Input, Interlock, Keep, Move, OnLinkLoss, Otherwise, Rig, RigId, Show, Via,
    Zone,
};
use crate::wire::words::{Words, amount, plain, seconds};

/// What the tool always shows, whatever the show.
const CAUTIONS: [&str; 3] = [
    "The stop here is an operational stop. Emergency stop, enabling devices, final limits and brakes are independent \
     hardware; a button on a screen is not an emergency stop (ISO 13850).",
    "No one rides on or stands under a rig on the word of this program.",
    "Local codes, the rigs' makers and the licensed or competent person on site decide.",
];

/// What the proof has not seen.
const NOT_SEEN: &str = "Clearance is proved between the rigs' bodies and zones as they are written, along the planned paths. \
     People, cables, load swing, scenery that is no body, what the survey did not measure, and a rig of which one axis jams are \
     not proved.";

pub fn show_json(plan: &Plan, words: &Words<'_>) -> Value {
    let show = words.show();
    let cautions = CAUTIONS.iter().chain([&NOT_SEEN]);
    json!({
        "show": show.name,
        "hash": show.hash,
        "tick": number(show.settings.tick.seconds()),
        "margin": number(show.settings.margin),
        "simulated": any_simulated(show),
        "rigs": show.rigs.iter().map(|rig| rig_json(rig, show)).collect::<Value>(),
        "cues": show.cue_ids().map(|id| listed(id, plan.cues.get(id.index()), words)).collect::<Value>(),
        "zones": show.zones.iter().map(|zone| zone_json(zone, show)).collect::<Value>(),
        "inputs": show.inputs.iter().map(input_json).collect::<Value>(),
        "interlocks": show.interlocks.iter().map(|one| interlock_json(one, words)).collect::<Value>(),
        "cautions": cautions.collect::<Vec<_>>(),
    })
}

/// One cue's motion. Where its bodies go (`traces`) is put in beside it by the daemon, which knows the stage.
pub fn cue_json(id: CueId, plan: &CuePlan, words: &Words<'_>) -> Value {
    let show = words.show();
    let mut moves = Map::new();
    for (step, written) in plan.moves.iter().zip(&show.cue(id).moves) {
        let rig = show.rig(step.rig);
        let axes = step.axes.iter().map(|path| {
            let axis = show.axis(path.axis);
            let ends = json!({ "from": number(path.from), "to": number(path.to), "unit": axis.unit.word() });
            (axis.name.clone(), ends)
        });
        moves.insert(
            rig.name.clone(),
            json!({
                "delay": number(step.delay),
                "duration": number(step.duration()),
                "axes": axes.collect::<Map<String, Value>>(),
                "via": passes(step, written),
                "text": move_text(step, written, words),
            }),
        );
    }
    json!({ "number": show.cue(id).number.to_string(), "duration": number(plan.duration), "moves": moves })
}

fn rig_json(rig: &Rig, show: &Show) -> Value {
    json!({
        "name": rig.name,
        "absent": rig.absent,
        "kind": rig.kind,
        "simulated": simulated(rig),
        "axes": rig.axis_ids().map(|id| axis_json(id, show)).collect::<Value>(),
        "focus": rig.lens.as_ref().and_then(|lens| lens.focus.as_ref()).map(|ring| json!({
            "axis": show.axis(ring.axis).name,
            "on": show.rig_ids().filter(|&other| !moves_with(show, other, rig)).map(|other| show.rig(other).name.as_str())
                .collect::<Value>(),
        })),
        "marks": rig.marks.iter().map(|mark| mark.name.as_str()).collect::<Vec<_>>(),
    })
}

/// A rig, or what rides on it: no lens of it follows that.
fn moves_with(show: &Show, other: RigId, rig: &Rig) -> bool {
    show.carriers(other).any(|carrier| show.rig(carrier).name == rig.name)
}

fn axis_json(id: AxisId, show: &Show) -> Value {
    let axis = show.axis(id);
    json!({
        "name": axis.name,
        "unit": axis.unit.word(),
        "travel": numbers(axis.travel),
        "surveyed": axis.surveyed,
        "home": number(axis.start),
        "stops_within": number(stopping_way(axis.stop)),
        "tolerance": number(axis.tolerance),
        "speed": number(axis.run.speed),
        "gravity": axis.gravity,
    })
}

fn listed(id: CueId, plan: Option<&CuePlan>, words: &Words<'_>) -> Value {
    let cue = words.show().cue(id);
    json!({
        "number": cue.number.to_string(),
        "name": cue.name,
        "page": cue.page,
        "call": cue.call,
        "watch": cue.watch,
        "notes": cue.notes,
        "gap": cue.gap.map(number),
        "follow": cue.after.as_ref().map(|after| follow_text(after, words)),
        "needs": cue.needs.as_ref().map(|needs| words.condition(needs)),
        "on_link_loss": match cue.on_link_loss {
            OnLinkLoss::Hold => "hold",
            OnLinkLoss::Finish => "finish",
        },
        "duration": plan.map(|plan| number(plan.duration)),
        "stop_time": plan.map(|plan| number(plan.stop_time)),
        "rigs": rig_names(cue, words.show()),
        "moves": plan.map_or(Vec::new(), |plan| move_texts(plan, cue, words)),
    })
}

/// In the order of its moves, each once.
fn rig_names(cue: &Cue, show: &Show) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for step in &cue.moves {
        let name = &show.rig(step.rig).name;
        if !names.contains(name) {
            names.push(name.clone());
        }
    }
    names
}

/// Which marks a move passes, and when, s of the move.
fn passes(step: &MovePlan, written: &Move) -> Value {
    let passed = written.via.iter().zip(&step.passes);
    passed.map(|(via, time)| json!({ "mark": via.mark, "time": number(*time) })).collect()
}

fn move_texts(plan: &CuePlan, cue: &Cue, words: &Words<'_>) -> Vec<String> {
    plan.moves.iter().zip(&cue.moves).map(|(step, written)| move_text(step, written, words)).collect()
}

/// "gull height 7.0 → 3.4 m in 9.0 s"; "minnow plays crossing, travel 2.40 → 0.40 m in 24.0 s".
fn move_text(step: &MovePlan, written: &Move, words: &Words<'_>) -> String {
    let show = words.show();
    let axes: Vec<String> = step
        .axes
        .iter()
        .map(|path| {
            let axis = show.axis(path.axis);
            format!("{} {} → {}", axis.name, plain(path.from, axis.unit), amount(path.to, axis.unit))
        })
        .collect();
    let rig = &show.rig(step.rig).name;
    let delay = if step.delay > 0.0 { format!(", {} after the GO", seconds(step.delay)) } else { String::new() };
    let plays =
        written.playing.as_ref().map_or_else(String::new, |playing| format!(" plays {},", playing.take.name));
    let through = marks_text(&written.via);
    let aimed = written.aim.as_ref().map_or_else(String::new, |aim| format!(" {},", show.aimed(aim)));
    format!("{rig}{plays}{aimed} {}{through} in {}{delay}", axes.join(", "), seconds(step.duration()))
}

/// ", through quay-mid and quay-low,".
fn marks_text(via: &[Via]) -> String {
    match via {
        [] => String::new(),
        [only] => format!(", through {},", only.mark),
        [first @ .., last] => {
            let first: Vec<&str> = first.iter().map(|via| via.mark.as_str()).collect();
            format!(", through {} and {},", first.join(", "), last.mark)
        }
    }
}

/// "1 end + 2 s".
fn follow_text(after: &After, words: &Words<'_>) -> String {
    let from = |cue: CueId, edge: &str, wait: f64| {
        let number = &words.show().cue(cue).number;
        // Whole seconds are written as people write them in a running order.
        if wait == 0.0 { format!("{number} {edge}") } else { format!("{number} {edge} + {wait} s") }
    };
    match after {
        After::Start { cue, wait } => from(*cue, "start", *wait),
        After::End { cue, wait } => from(*cue, "end", *wait),
        After::When(condition) => format!("when {}", words.condition(condition)),
    }
}

fn zone_json(zone: &Zone, show: &Show) -> Value {
    json!({
        "name": zone.name,
        "keep": match zone.keep {
            Keep::Out => "out",
            Keep::In => "in",
        },
        "min": numbers(zone.min.to_array()),
        "max": numbers(zone.max.to_array()),
        "margin": number(zone.margin),
        "rigs": zone.rigs.iter().map(|&rig| show.rig(rig).name.as_str()).collect::<Vec<_>>(),
    })
}

fn input_json(input: &Input) -> Value {
    json!({ "name": input.name, "max_age": number(input.max_age.seconds()), "trips": input.trips })
}

fn interlock_json(interlock: &Interlock, words: &Words<'_>) -> Value {
    json!({
        "name": interlock.name,
        "guards": interlock.guards.iter().map(|guard| guard_text(guard, words)).collect::<Vec<_>>(),
        "otherwise": match interlock.otherwise {
            Otherwise::Refuse => "refuse",
            Otherwise::Hold => "hold",
            Otherwise::Stop => "stop",
        },
        "needs": words.condition(&interlock.needs),
    })
}

/// "tide.height down".
fn guard_text(guard: &Guard, words: &Words<'_>) -> String {
    use crate::show::Direction;
    let axis = words.axis(guard.axis);
    match guard.direction {
        None => axis,
        Some(Direction::Up) => format!("{axis} up"),
        Some(Direction::Down) => format!("{axis} down"),
    }
}
