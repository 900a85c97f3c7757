//! What can be done after a stop, in words and for other programs.

use serde_json::{Value, json};

use super::rounded;
use crate::engine::ClientId;
use crate::proof::{Given, Going, Onward, PresetBack, Proof, Rule, Shut, Then, look_onward};
use crate::show::{Condition, CueId, Show};
use crate::wire::words::{Words, seconds};

/// "resume or return, given input 'cellar gate closed'".
pub fn then_words(words: &Words, then: &Then) -> String {
    let (resume, back, preset) = match then {
        Then::Ended => return "none needed: it comes to its end first".to_owned(),
        Then::Stands { resume, back, preset } => (resume, back, preset),
    };
    match (resume, back) {
        (Going::Open(on), Going::Open(back)) if on == back => format!("resume or return{}", given(words, on)),
        (Going::Open(on), Going::Open(back)) => {
            format!("resume{}; return{}", given(words, on), given(words, back))
        }
        (Going::Open(on), Going::Shut(shut)) => {
            format!("resume{}; no return, since {}", given(words, on), why(words, shut))
        }
        (Going::Shut(shut), Going::Open(back)) => {
            format!("return{}; no resume, since {}", given(words, back), why(words, shut))
        }
        (Going::Shut(on), Going::Shut(back)) => {
            let (on, back) = (why(words, on), why(words, back));
            let since = if on == back { on } else { format!("{on}; no return, since {back}") };
            let neither = if since.contains(';') { "no resume" } else { "neither resume nor return" };
            format!(
                "{}; {neither}, since {since}",
                preset.as_ref().map_or_else(String::new, |way| preset_words(words, way))
            )
        }
    }
}

fn preset_words(words: &Words, preset: &PresetBack) -> String {
    match preset {
        PresetBack::Found { takes, given: all } => {
            format!("a preset to its start, {takes:.1} s at most{}", given(words, all))
        }
        PresetBack::Barred(Some(bar)) => format!("no preset to its start either: {}", words.bar(bar)),
        PresetBack::Barred(None) => "no preset to its start was found".to_owned(),
        PresetBack::Shut(shut) => format!("no preset to its start either, since {}", why(words, shut)),
    }
}

fn given(words: &Words, all: &[Given]) -> String {
    if all.is_empty() {
        return String::new();
    }
    let all = Condition::All(all.iter().map(|one| one.left.clone()).collect());
    format!(", given {}", words.condition(&all))
}

fn why(words: &Words, shut: &Shut) -> String {
    match shut {
        Shut::False { rule, leaf, time } => {
            let when = time.map_or_else(|| "there".to_owned(), |time| format!("{} into it", seconds(time)));
            let what = leaf.map_or_else(String::new, |(atom, truth)| format!(": {}", words.stands(atom, truth)));
            format!("{} is false {when}{what}", named(words, *rule))
        }
        Shut::Unfollowed(rule) => {
            format!("{} changes too often along its path to be followed", named(words, *rule))
        }
        Shut::NoRamp => "no change of speed from rest keeps the limits there".to_owned(),
    }
}

fn named(words: &Words, rule: Rule) -> String {
    match rule {
        Rule::Interlock(id) => words.interlock(id),
        Rule::Needs(cue) => format!("what {} needs", words.cue(cue)),
    }
}

/// The stops of a cue after which it does not go on, or not back: when they are asked for, and what can be done.
pub fn shut_in_words(show: &Show, proof: &Proof, cue: CueId) -> Vec<[String; 2]> {
    let nobody = |_: ClientId| String::new();
    let words = Words::new(show, &nobody);
    let spans = look_onward(show, &proof.plan, cue, &proof.stops[cue.index()]);
    let shut = spans.iter().filter(|span| is_shut(&span.then));
    shut.map(|span| [format!("{:.1} to {:.1} s into it", span.from, span.to), then_words(&words, &span.then)])
        .collect()
}

fn is_shut(then: &Then) -> bool {
    match then {
        Then::Ended => false,
        Then::Stands { resume, back, .. } => !resume.is_open() || !back.is_open(),
    }
}

/// The spans of a cue, for other programs.
pub fn onward_json(words: &Words, spans: &[Onward]) -> Value {
    spans.iter().map(|span| span_json(words, span)).collect()
}

fn span_json(words: &Words, span: &Onward) -> Value {
    let mut entry = json!({
        "from": rounded(span.from),
        "to": rounded(span.to),
        "rests": span.rests.map(rounded),
        "ended": true, "resume": null, "return": null, "preset": null,
    });
    if let Then::Stands { resume, back, preset } = &span.then {
        entry["ended"] = false.into();
        entry["resume"] = going_json(words, resume);
        entry["return"] = going_json(words, back);
        entry["preset"] = preset.as_ref().map_or(Value::Null, |preset| preset_json(words, preset));
    }
    entry
}

fn going_json(words: &Words, going: &Going) -> Value {
    match going {
        Going::Open(all) => json!({ "possible": true, "given": given_json(words, all), "because": null }),
        Going::Shut(shut) => json!({ "possible": false, "given": [], "because": why(words, shut) }),
    }
}

fn given_json(words: &Words, all: &[Given]) -> Value {
    all.iter().map(|one| words.condition(&one.left)).collect()
}

fn preset_json(words: &Words, preset: &PresetBack) -> Value {
    match preset {
        PresetBack::Found { takes, given } => {
            json!({ "possible": true, "takes": rounded(*takes), "given": given_json(words, given), "because": null })
        }
        PresetBack::Barred(_) | PresetBack::Shut(_) => {
            json!({ "possible": false, "takes": null, "given": [], "because": preset_words(words, preset) })
        }
    }
}
