//! A preset from one cue to another, for people and for scripts.

use comfy_table::{CellAlignment, Table, presets};
use serde_json::{Map, Value, json};

use super::check_json::document;
use super::lines::wrapped;
use super::{counted, rounded};
use crate::engine::ClientId;
use crate::proof::{Bar, CuePlan, Forbids, MovePlan, Near, PresetPlanner, Progress, Proviso, empty_way};
use crate::show::{AxisId, Condition, CueId, Finding, Reading, Show};
use crate::wire::words::{Words, amount};

/// From where `from` leaves the rigs to where `to` starts, worked out by `planner`.
pub fn preset_text(show: &Show, [from, to]: [CueId; 2], planner: &PresetPlanner) -> String {
    let [left, start] = [from, to].map(|cue| format!("cue {}", show.cue(cue).number));
    let nobody = |_: ClientId| String::new();
    let words = Words::new(show, &nobody);
    match planner.progress() {
        Progress::Working | Progress::Barred => {
            let mut text = format!("no way from where {left} leaves the rigs to where {start} starts\n");
            for bar in planner.bars() {
                text.push_str(&wrapped("  ", &words.bar(&bar)));
            }
            text.push_str(&wrapped("", what_to_do(planner)));
            text
        }
        Progress::Found => {
            let legs = legs(show, planner);
            if legs.is_empty() {
                return format!("where {left} leaves the rigs {start} starts: there is nothing to move\n");
            }
            let (count, time) =
                (counted(planner.legs().count(), "rig", "rigs"), legs.last().map_or(0.0, Leg::until));
            let head = format!(
                "from where {left} leaves the rigs to where {start} starts: {count}, one at a time, {time:.1} s"
            );
            let proved = wrapped("", proved(show, &legs));
            let mut text = format!("{}\n{}\n\n{proved}", wrapped("", &head), table(show, &legs).trim_fmt());
            for Proviso { rig, interlock, needs } in planner.provisos(show) {
                let (rig, interlock) = (&show.rig(rig).name, &show.interlocks[interlock.index()].name);
                let needs = words.condition(&needs);
                text.push_str(&wrapped("", &format!("{rig} goes only with {needs} (interlock '{interlock}')")));
            }
            text
        }
    }
}

fn proved(show: &Show, legs: &[Leg]) -> &'static str {
    let guarded = |leg: &Leg| {
        let mut guards = show.interlocks.iter().flat_map(|interlock| &interlock.guards);
        guards.any(|guard| show.axis(guard.axis).rig == leg.step.rig)
    };
    if legs.iter().any(guarded) {
        "proved clear of everything that stands meanwhile, and of the zones; no pose on the way is against an interlock"
    } else {
        "proved clear of everything that stands meanwhile, and of the zones"
    }
}

fn what_to_do(planner: &PresetPlanner) -> &'static str {
    if planner.gave_up() {
        "there are more orders than could be tried: go by a cue between the two"
    } else {
        "in no order do all rigs get there, neither straight nor through one of their marks: give one of them a mark that \
         leads around, or go by a cue between the two"
    }
}

/// What one move plan does of a leg.
struct Leg<'a> {
    step: MovePlan,
    /// The mark that it ends at, if it goes on from there.
    to_mark: Option<&'a str>,
}

impl Leg<'_> {
    fn until(&self) -> f64 {
        self.step.end()
    }
}

fn legs<'a>(show: &'a Show, planner: &PresetPlanner) -> Vec<Leg<'a>> {
    let mut plan: CuePlan = empty_way(show);
    planner.write(show, false, &mut plan);
    let mut steps = plan.moves.into_iter();
    let mut legs = Vec::new();
    for leg in planner.legs() {
        let marks = leg.via.map(|mark| show.rig(leg.rig).marks[mark].name.as_str());
        let parts = marks.map(Some).into_iter().chain([None]);
        legs.extend(parts.zip(&mut steps).map(|(to_mark, step)| Leg { step, to_mark }));
    }
    legs.retain(|leg| !leg.step.axes.is_empty());
    legs
}

fn table(show: &Show, legs: &[Leg]) -> Table {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_header(["", "rig", "from", "to", "what it does"]);
    for (number, Leg { step, to_mark }) in legs.iter().enumerate() {
        let way = |axis: AxisId, from: f64, to: f64| {
            let axis = show.axis(axis);
            format!("{} from {} to {}", axis.name, amount(from, axis.unit), amount(to, axis.unit))
        };
        let ways: Vec<String> = step.axes.iter().map(|path| way(path.axis, path.from, path.to)).collect();
        let mark = to_mark.map_or_else(String::new, |mark| format!(" (its mark {mark}, on the way)"));
        table.add_row([
            format!("{}", number + 1),
            show.rig(step.rig).name.clone(),
            format!("{:.1} s", step.delay),
            format!("{:.1} s", step.end()),
            ways.join(", ") + &mark,
        ]);
    }
    for column in [2, 3] {
        if let Some(column) = table.column_mut(column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table
}

/// One document, also when the show does not read well: then there is no way, and `findings` say why.
pub fn preset_json(reading: &Reading, way: Option<([CueId; 2], &PresetPlanner)>, findings: &[Finding]) -> Value {
    let show = reading.show.as_ref();
    let tells = json!({
        "from": null, "to": null, "found": false, "duration": null, "legs": [], "needs": [], "barred": [],
    });
    let mut document = document(reading, tells, findings);
    let (Some(show), Some((cues, planner))) = (show, way) else { return document };
    for (key, cue) in ["from", "to"].into_iter().zip(cues) {
        document[key] = show.cue(cue).number.to_string().into();
    }
    document["found"] = (planner.progress() == Progress::Found).into();
    let legs = legs(show, planner);
    if planner.progress() == Progress::Found {
        document["duration"] = rounded(legs.last().map_or(0.0, Leg::until)).into();
    }
    document["legs"] = legs.iter().map(|leg| leg_json(show, leg)).collect();
    let nobody = |_: ClientId| String::new();
    let words = Words::new(show, &nobody);
    let proviso = |proviso: &Proviso| {
        json!({
            "rig": show.rig(proviso.rig).name,
            "interlock": show.interlocks[proviso.interlock.index()].name,
            "needs": words.condition(&proviso.needs),
        })
    };
    document["needs"] = planner.provisos(show).iter().map(proviso).collect();
    document["barred"] = planner.bars().map(|bar| bar_json(show, &bar)).collect();
    document
}

fn leg_json(show: &Show, leg: &Leg) -> Value {
    let ends = |path: &crate::proof::AxisPath| json!([rounded(path.from), rounded(path.to)]);
    let axes = leg.step.axes.iter().map(|path| (show.axis_name(path.axis), ends(path)));
    json!({
        "rig": show.rig(leg.step.rig).name,
        "to_mark": leg.to_mark,
        "from": rounded(leg.step.delay),
        "until": rounded(leg.until()),
        "axes": axes.collect::<Map<String, Value>>(),
    })
}

/// What bars a rig: bodies that come too near, or an interlock; what is not so is null.
fn bar_json(show: &Show, bar: &Bar) -> Value {
    let mut entry = json!({
        "rig": show.rig(bar.rig).name,
        "bodies": null, "value": null, "limit": null, "interlock": null, "condition": null,
    });
    match bar.by {
        Forbids::Near(Near { parties, distance, margin }) => {
            entry["bodies"] = parties.map(|party| party.name(show)).into_iter().collect();
            (entry["value"], entry["limit"]) = (rounded(distance).into(), margin.into());
        }
        Forbids::Interlock { interlock, atom, stands } => {
            let nobody = |_: ClientId| String::new();
            entry["interlock"] = show.interlocks[interlock.index()].name.as_str().into();
            entry["condition"] = Words::new(show, &nobody).condition(&Condition::Atom(atom)).into();
            entry["value"] = stands.map(rounded).into();
        }
        Forbids::Unfollowed { interlock } => {
            entry["interlock"] = show.interlocks[interlock.index()].name.as_str().into();
        }
    }
    entry
}
