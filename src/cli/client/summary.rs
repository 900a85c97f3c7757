//! The status, for people.

use std::fmt::Write;

use serde_json::Value;

/// A few lines that say how the show stands.
pub fn summary(status: &Value) -> String {
    let mut text = String::new();
    head(&mut text, status);
    stopped(&mut text, &status["stopped"]);
    for cue in list(&status["standby"]) {
        standby(&mut text, cue);
    }
    for cue in list(&status["running"]) {
        line(
            &mut text,
            "running",
            &format!(
                "{}: {}, {:.1} of {:.1} s, {:.1} s left",
                called(cue),
                word(&cue["state"]),
                figure(&cue["time"]),
                figure(&cue["duration"]),
                figure(&cue["left"])
            ),
        );
    }
    for cue in list(&status["waiting"]) {
        let left =
            cue["left"].as_f64().map_or("for what it follows".to_owned(), |left| format!("{left:.1} s more"));
        line(&mut text, "waiting", &format!("{} {}: {left}", word(&cue["cue"]), word(&cue["name"])));
    }
    text.push_str(&way(&status["preset"]));
    rigs(&mut text, &status["rigs"]);
    if !status["edit"].is_null() {
        line(&mut text, "edit", "the show's files have changed: bellwire reload says how");
    }
    if let Some(state @ ("primed" | "recording" | "stopped")) = status["take"]["state"].as_str() {
        line(&mut text, "take", &take(state, &status["take"]));
    }
    inputs(&mut text, &status["inputs"]);
    for (name, truth) in entries(&status["interlocks"]) {
        line(&mut text, "interlock", &format!("{name}: {}", truth_word(truth)));
    }
    control_loop(&mut text, &status["loop"]);
    text
}

/// How a recording stands.
fn take(state: &str, take: &Value) -> String {
    let rigs: Vec<&str> = list(&take["rigs"]).iter().filter_map(Value::as_str).collect();
    let (rigs, elapsed) = (rigs.join(" and "), figure(&take["elapsed"]));
    let told = match state {
        "primed" => format!("primed for {rigs}: it begins with the first motion"),
        "recording" => format!("recording {rigs}, {elapsed:.1} s so far"),
        _ => format!("{elapsed:.1} s of {rigs} are recorded: keep or discard them"),
    };
    match take["trouble"].as_str() {
        Some(trouble) => format!("{told}; {trouble}"),
        None => told,
    }
}

/// The legs of a preset, one a line; nothing if there is none.
pub fn way(way: &Value) -> String {
    let mut text = String::new();
    for leg in list(&way["rigs"]) {
        let (from, until) = (figure(&leg["from"]), figure(&leg["until"]));
        let mark = leg["to_mark"].as_str().map_or_else(String::new, |mark| format!(", as far as its mark {mark}"));
        line(&mut text, "preset", &format!("{} from {from:.1} to {until:.1} s{mark}", word(&leg["rig"])));
    }
    if !text.is_empty() {
        text.push_str("the way is proved clear of the other rigs where they are measured; watch it for people; GO starts it\n");
    }
    text
}

/// What an edit of the show changes, and what to do with it.
pub fn edit(edit: &Value) -> String {
    if edit.is_null() {
        return "the files say what is in force already\n".to_owned();
    }
    let mut text = String::new();
    for difference in list(&edit["differences"]) {
        line(&mut text, "changes", word(difference));
    }
    if list(&edit["differences"]).is_empty() {
        line(&mut text, "changes", "nothing that the show means: comments or layout");
    }
    for finding in list(&edit["findings"]) {
        line(&mut text, "finding", word(finding));
    }
    let hash: String = word(&edit["hash"]).chars().take(12).collect();
    text.push_str(&match (edit["restart"] == true, edit["disarms"] == true) {
        (true, _) => "it changes the rigs' drivers, axes or the tick: end the daemon and start it again\n".to_owned(),
        (false, true) => format!(
            "to accept it, at rest: bellwire reload --accept {hash}\nit changes limits, travel or bodies: the show is then disarmed\n"
        ),
        (false, false) => format!("to accept it, at rest: bellwire reload --accept {hash}\n"),
    });
    text
}

fn head(text: &mut String, status: &Value) {
    let mut parts = vec![word(&status["show"]).to_owned()];
    if status["simulated"] == true {
        parts.push("SIMULATED".to_owned());
    }
    parts.push(if status["armed"] == true { "armed" } else { "disarmed" }.to_owned());
    parts.push(format!("master {:.0} %", figure(&status["master"]) * 100.0));
    if status["held"] == true {
        parts.push("held".to_owned());
    }
    parts.push(format!("clearance {}", word(&status["clearance"])));
    parts.push(format!("a stop takes {:.2} s at most", figure(&status["stop_bound"])));
    line(text, "show", &parts.join(", "));
}

fn stopped(text: &mut String, stopped: &Value) {
    if stopped.is_null() {
        return;
    }
    let rest = if stopped["standstill"] == true { "everything stands still" } else { "NOT AT REST YET" };
    line(text, "STOPPED", &format!("{}; {rest}", word(&stopped["by"])));
    for cause in list(&stopped["remaining"]) {
        line(text, "", &format!("before a reset: {}", word(cause)));
    }
}

fn standby(text: &mut String, cue: &Value) {
    let ready = if cue["ready"] == true { "ready" } else { "NOT READY" };
    let way = match (cue["returning"] == true, figure(&cue["from"])) {
        (true, _) => ", to go back to its start".to_owned(),
        (false, from) if from > 0.0 => format!(", to carry on from {from:.1} s"),
        (false, _) => String::new(),
    };
    line(text, "standby", &format!("{}: {ready}{way}", called(cue)));
    for reason in list(&cue["reasons"]) {
        line(text, "", word(reason));
    }
}

/// A cue by its number and name; the preset has neither.
fn called(cue: &Value) -> String {
    match word(&cue["cue"]) {
        "preset" => "the preset".to_owned(),
        number => format!("{number} {}", word(&cue["name"])),
    }
}

fn rigs(text: &mut String, rigs: &Value) {
    for (name, rig) in entries(rigs) {
        let owner = rig["owner"].as_str().map_or(String::new(), |owner| format!(", {owner}"));
        let axes: Vec<String> = entries(&rig["axes"]).map(|(name, axis)| axis_words(name, axis)).collect();
        line(text, "rig", &format!("{name} {}{owner}: {}", word(&rig["state"]), axes.join(", ")));
        for told in hand(&rig["hand"]) {
            line(text, "", &format!("{name} {told}"));
        }
        for fault in list(&rig["injected"]) {
            line(text, "", &format!("a fault is injected into {name}: {}", word(fault)));
        }
    }
}

/// Of a rig in hand, beyond whose it is: whose sticks drive it, whom it is offered to, and what it stands before.
fn hand(hand: &Value) -> Vec<String> {
    let mut told = Vec::new();
    if hand["sticks"] != hand["client"] {
        told.push(format!("is driven by the sticks of {}", word(&hand["sticks"])));
    }
    if hand["let_go"] == true {
        told.push("is let go of: it comes to rest, and is nobody's then".to_owned());
    }
    if let Some(offered) = hand["offered"].as_str() {
        told.push(format!("is offered to {offered}"));
    }
    if let [one, other] = list(&hand["near"]["bodies"]) {
        let (one, other, margin) = (word(one), word(other), figure(&hand["near"]["margin"]));
        told.push(format!("stands before {other}: {one} must keep {margin} m from it"));
    }
    if let Some(interlock) = hand["interlock"].as_str() {
        told.push(format!("may not go on: interlock '{interlock}'"));
    }
    told
}

fn axis_words(name: &str, axis: &Value) -> String {
    match axis["position"].as_f64() {
        // What is a hair below zero is zero to whoever reads it.
        Some(position) => format!("{name} {:.2} {}", (position * 100.0).round() / 100.0 + 0.0, word(&axis["unit"])),
        None => format!("{name} unknown"),
    }
}

/// A word that is too old to be believed is told with what it was, and for how long one is.
fn inputs(text: &mut String, inputs: &Value) {
    for (name, input) in entries(inputs) {
        let heard = match (input["age"].as_f64(), input["value"].as_bool()) {
            (None, _) | (_, None) => "never heard".to_owned(),
            (Some(age), Some(_)) if !input["truth"].is_null() => format!("heard {age:.1} s ago"),
            (Some(age), Some(_)) => {
                let (said, limit) = (truth_word(&input["value"]), figure(&input["max_age"]));
                // Rounded up, so that it is never told to be as old as it may be.
                format!(
                    "last said {said} {:.1} s ago, more than the {limit} s for which it counts",
                    (age * 10.0).ceil() / 10.0
                )
            }
        };
        let tripped = if input["tripped"] == true { ", tripped until reset" } else { "" };
        line(text, "input", &format!("{name}: {} ({heard}{tripped})", truth_word(&input["truth"])));
    }
}

fn control_loop(text: &mut String, figures: &Value) {
    let late = format!(
        "tick {:.1} ms, late by {:.2} ms (99 of 100) and {:.2} ms at worst, {} left out{}",
        figure(&figures["tick"]) * 1e3,
        figure(&figures["late_p99_ms"]),
        figure(&figures["late_max_ms"]),
        figures["overruns"],
        if figures["real_time"] == true { "" } else { ", no real-time priority" }
    );
    line(text, "loop", &late);
}

fn line(text: &mut String, head: &str, rest: &str) {
    // Writing into a string does not fail.
    let _ = writeln!(text, "{head:<10}{rest}");
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

fn entries(value: &Value) -> impl Iterator<Item = (&String, &Value)> {
    value.as_object().into_iter().flatten()
}

fn word(value: &Value) -> &str {
    value.as_str().unwrap_or("unknown")
}

fn figure(value: &Value) -> f64 {
    value.as_f64().unwrap_or(0.0)
}

fn truth_word(value: &Value) -> &'static str {
    match value.as_bool() {
        Some(true) => "true",
        Some(false) => "FALSE",
        None => "UNKNOWN",
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn what_matters_in_a_show_stands_in_it() {
        let status = json!({
            "show": "Salt Lantern", "simulated": true, "armed": true, "master": 0.5, "clearance": "not proved",
            "stop_bound": 1.25, "held": false,
            "stopped": { "by": "stop asked for over OSC", "remaining": ["gull lags"], "standstill": false },
            "standby": [{ "cue": "12.5", "name": "Over", "ready": false, "returning": false, "from": 3.0, "reasons": ["not armed"] }],
            "running": [{ "cue": "12", "name": "Up", "state": "running", "time": 1.0, "duration": 8.0, "left": 14.0 }],
            "waiting": [{ "cue": "13", "name": "Down", "left": 1.5 }],
            "rigs": { "heron": { "state": "moving", "owner": "cue 12", "axes": { "swing": { "position": -35.0, "unit": "deg" }, "tilt": { "position": -0.001, "unit": "deg" } },
                                 "injected": ["stuck of swing"] },
                      "gull": { "state": "standstill", "owner": "Ada", "axes": {},
                                "hand": { "client": "Ada", "sticks": "osc 10.0.0.7", "offered": "Ben", "let_go": true, "interlock": "net",
                                          "near": { "bodies": ["gull/height/0", "tide/height/0"], "margin": 0.3 } } } },
            "inputs": { "gate": { "value": null, "truth": null, "age": null, "max_age": 0.5, "tripped": false },
                        "hatch": { "value": true, "truth": null, "age": 0.502, "max_age": 0.5, "tripped": false },
                        "mat": { "value": true, "truth": false, "age": 0.04, "max_age": 0.5, "tripped": true } },
            "interlocks": { "lift": false },
            "loop": { "tick": 0.002, "late_p99_ms": 0.1, "late_max_ms": 2.0, "overruns": 3, "real_time": false },
        });
        let text = summary(&status);
        for part in [
            "gull standstill, Ada",
            "gull is driven by the sticks of osc 10.0.0.7",
            "gull is let go of: it comes to rest, and is nobody's then",
            "gull is offered to Ben",
            "gull stands before tide/height/0: gull/height/0 must keep 0.3 m from it",
            "gull may not go on: interlock 'net'",
            "SIMULATED, armed, master 50 %",
            "STOPPED   stop asked for over OSC; NOT AT REST YET",
            "before a reset: gull lags",
            "12.5 Over: NOT READY, to carry on from 3.0 s",
            "not armed",
            "12 Up: running, 1.0 of 8.0 s, 14.0 s left",
            "13 Down: 1.5 s more",
            "heron moving, cue 12: swing -35.00 deg, tilt 0.00 deg",
            "a fault is injected into heron: stuck of swing",
            "gate: UNKNOWN (never heard)",
            "hatch: UNKNOWN (last said true 0.6 s ago, more than the 0.5 s for which it counts)",
            "mat: FALSE (heard 0.0 s ago, tripped until reset)",
            "lift: FALSE",
            "3 left out, no real-time priority",
        ] {
            assert!(text.contains(part), "'{part}' is missing in\n{text}");
        }
    }
}
