//! When a cue may be fired while another runs, in words; and which maps are worth a drawing.

use maud::{Markup, html};

use super::map_drawing::map_drawing;
use crate::proof::{CueMap, Maps, Proof, Stretch};
use crate::report::check_table::safety;
use crate::report::counted;
use crate::show::{CueId, Show};

/// Maps drawn at most, beside those of findings.
const MAPS_MAX: usize = 24;

/// Each earlier cue that can still be running, with when the cue may be fired then; those at any time left out.
pub fn of_cue(show: &Show, proof: &Proof, id: CueId) -> Vec<(String, String)> {
    let while_runs = |cue: CueId, clear: &[Stretch], safe: [Option<f64>; 2]| {
        let holds = safety(safe);
        (format!("while {} runs:", show.cue(cue).number), format!("{}{holds}", spans(clear)))
    };
    let of_map = |map: &CueMap| {
        if map.pair.second == id && !map.is_free() {
            return Some(while_runs(map.pair.first, &map.clear(), [map.hold_safe_from(), map.stall_safe_from()]));
        }
        // A follow that comes before it in the list and may start while it runs: the list's own bounds concern nobody.
        let bound = map.pair.first == id && map.turns() && !map.pair.tied() && !map.blocked.is_empty();
        let clear = map.clear_turned();
        let whole = matches!(clear.as_slice(), [span] if span.from == 0.0 && span.to == map.durations[1]);
        (bound && !whole).then(|| {
            while_runs(map.pair.second, &clear, [map.hold_safe_from_turned(), map.stall_safe_from_turned()])
        })
    };
    proof.plan.maps.list.iter().filter_map(of_map).collect()
}

/// "at 2.0 to 9.0 s into it", or that there is none.
fn spans(clear: &[Stretch]) -> String {
    let span = |stretch: &Stretch| format!("{:.1} to {:.1} s", stretch.from, stretch.to);
    let spans: Vec<String> = clear.iter().map(span).collect();
    if spans.is_empty() { "not at all".to_owned() } else { format!("{} into it", spans.join(", ")) }
}

/// A map in its frame, with its clear spans in words below. `instant` is that of a finding.
pub fn figure(show: &Show, map: &CueMap, instant: Option<[f64; 2]>) -> Markup {
    let [first, second] = [map.pair.first, map.pair.second].map(|cue| show.cue(cue));
    let numbers = [first.number.to_string(), second.number.to_string()];
    html! {
        figure.map {
            figcaption { b { (numbers[1]) " " (second.name) } " beside " b { (numbers[0]) " " (first.name) } }
            (map_drawing(map, [&numbers[0], &numbers[1]], instant))
            figcaption.note { (in_words(map, &numbers)) }
        }
    }
}

fn in_words(map: &CueMap, [first, second]: &[String; 2]) -> String {
    if map.pair.tied() {
        let from = map.pair.from.max(-map.durations[1]).min(map.durations[0]);
        return format!("A chain of follows starts {second} {from:.1} s after {first}: the dashed line.");
    }
    let mut words = Vec::new();
    if map.pair.to >= 0.0 {
        words.push(format!("Fire {second} while {first} runs: {}.", spans(&map.clear())));
    }
    if map.turns() {
        words.push(format!("Fire {first} while {second} runs: {}.", spans(&map.clear_turned())));
    }
    words.join(" ")
}

/// The maps that are not clear all over, but for those drawn with a finding: the smallest windows first.
pub fn maps(show: &Show, maps: &Maps, drawn: &[(CueId, CueId)]) -> Markup {
    let mut list: Vec<&CueMap> = maps
        .list
        .iter()
        .filter(|map| !map.blocked.is_empty() && !drawn.contains(&(map.pair.first, map.pair.second)))
        .collect();
    list.sort_by(|a, b| window(a).total_cmp(&window(b)));
    let left = list.len().saturating_sub(MAPS_MAX);
    html! {
        section {
            h2 { "Cues that run together" }
            p.note { (summary(maps)) }
            @if !list.is_empty() || !drawn.is_empty() {
                p.note {
                    "A map has the time of the earlier cue across and that of the later one up. Hatched: the two are too near. \
                     Dotted: not proved clear. Both run at one rate, so a start gives one slanting line; grey are the lines \
                     that meet anything. The bar along the edges is when the list lets the later one start: solid where it \
                     is clear, hatched where it is not."
                }
            }
            div.maps { @for map in list.iter().take(MAPS_MAX) { (figure(show, map, None)) } }
            @if left > 0 {
                p.note { "The " (MAPS_MAX) " smallest windows are drawn, and " (left) " left out; the running order and \
                          `check --json` have them." }
            }
        }
    }
}

/// The part of the starts which the list allows that is clear.
fn window(map: &CueMap) -> f64 {
    let [first, second] = map.durations;
    let (low, high) = (map.pair.from.clamp(-second, first), map.pair.to.clamp(-second, first));
    let blocked = map.blocked.iter().map(|stretch| (stretch.to.min(high) - stretch.from.max(low)).max(0.0));
    1.0 - blocked.sum::<f64>() / (high - low).max(1e-9)
}

fn summary(maps: &Maps) -> String {
    let bound = maps.list.iter().filter(|map| !map.is_free()).count();
    let pairs = counted(maps.list.len(), "pair of cues", "pairs of cues");
    match (maps.list.len(), bound) {
        (0, _) => "No two cues can run together.".to_owned(),
        (_, 0) => format!("{pairs} can run together, clear at any timing."),
        (all, some) if all == some => {
            format!(
                "{pairs} can run together, none of them clear at any timing of the GOs. The running order says when."
            )
        }
        (all, some) => format!(
            "{pairs} can run together, {} of them clear at any timing of the GOs. Of the others the running order says when.",
            all - some
        ),
    }
}
