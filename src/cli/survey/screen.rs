//! What a survey by keys shows: each axis where it stands, its travel, what was set, and what is tried.

use std::fmt::Write;

use serde_json::Value;

use super::keys::Keys;
use crate::cli::terminal;

const HELP: &str = "HELD  left, right: jog   h: go home   d: direction   r: repeat from both sides\n\
                    up, down: axis   1, 2: lower, upper end is here   0: home is here   f: forget\n\
                    p: propose   w: write   c: clear its survey   q: give the rig back, and end\n\
                    Escape or s: stop everything (it is no emergency stop)\n";

/// The lines that are drawn again and again, none of them wider than the terminal.
pub fn screen(keys: &Keys, columns: usize) -> String {
    let live = &keys.live;
    let mut text = String::new();
    let _ =
        writeln!(text, "{} in hand for a survey  ->  {}  {}", live.rig, keys.daemon.address, state(&live.status));
    for (index, axis) in live.axes().iter().enumerate() {
        let here = if index == keys.chosen { '>' } else { ' ' };
        let _ = writeln!(text, "{here} {}", axis_line(axis, live.of_rig()));
    }
    if let Some(line) = trial_line(live.trial()) {
        let _ = writeln!(text, "{line}");
    }
    let hand = &live.of_rig()["hand"];
    if let Some(bodies) = hand["near"]["bodies"].as_array() {
        let names: Vec<&str> = bodies.iter().filter_map(Value::as_str).collect();
        let _ = writeln!(text, "in the way: {}", names.join(" and "));
    }
    if let Some(interlock) = hand["interlock"].as_str() {
        let _ = writeln!(text, "kept by the interlock `{interlock}`");
    }
    if !keys.words.is_empty() {
        let _ = writeln!(text, "{}", keys.words);
    }
    text.push_str(HELP);
    if !keys.releases {
        text.push_str("this terminal does not report releases: 0.15 s after a key's last repeat it stops\n");
    }
    text.lines().map(|line| terminal::wrapped(line, columns)).collect()
}

fn state(status: &Value) -> &'static str {
    match (status["stopped"].is_null(), status["armed"].as_bool()) {
        (false, _) => "STOPPED",
        (true, Some(true)) => "armed",
        (true, _) => "not armed: nothing moves",
    }
}

fn axis_line(name: &str, rig: &Value) -> String {
    let (axis, taught) = (&rig["axes"][name], &rig["taught"][name]);
    let unit = axis["unit"].as_str().unwrap_or("");
    let number = |value: &Value| value.as_f64().map_or_else(|| "-".to_owned(), |value| format!("{value:.3}"));
    let ends = |value: &Value| format!("{} to {}", number(&value[0]), number(&value[1]));
    let mut line =
        format!("{name:<10} at {:>10} {unit:<7} travel {}", number(&axis["position"]), ends(&axis["travel"]));
    if axis["surveyed"] == false {
        line.push_str("  NOT surveyed");
    }
    if !taught.is_null() {
        let _ = write!(line, "  set: low {}, high {}", number(&taught["low"]), number(&taught["high"]));
        if !taught["home"].is_null() {
            let _ = write!(line, ", home {}", number(&taught["home"]));
        }
        if !taught["travel"].is_null() {
            let _ = write!(line, "  would be {}", ends(&taught["travel"]));
        }
        if let Some(why) = taught["why"].as_str() {
            let _ = write!(line, "  {why}");
        }
    }
    line
}

fn trial_line(trial: &Value) -> Option<String> {
    let (name, axis) = (trial["trial"].as_str()?, trial["axis"].as_str()?);
    if let Some(found) = trial["found"]["text"].as_str() {
        return Some(found.to_owned());
    }
    let held = if trial["runs"] == true { "" } else { "  (hold its key)" };
    Some(format!("{name} of {axis}: {} of {} done{held}", trial["done"], trial["of"]))
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn an_axis_is_shown_with_what_was_set_and_what_would_become_of_it() {
        let rig = json!({
            "axes": { "swing": { "position": -12.34567, "unit": "deg", "travel": [-75, 10], "surveyed": false } },
            "taught": { "swing": { "low": -80.5, "high": null, "home": null, "travel": [-75.7, 10], "why": null } },
        });
        assert_eq!(
            axis_line("swing", &rig),
            "swing      at    -12.346 deg     travel -75.000 to 10.000  NOT surveyed  set: low -80.500, high -  would be \
             -75.700 to 10.000"
        );
        assert_eq!(trial_line(&Value::Null), None);
        let trial =
            json!({ "trial": "repeat", "axis": "swing", "done": 3, "of": 20, "runs": false, "found": null });
        assert_eq!(trial_line(&trial).unwrap(), "repeat of swing: 3 of 20 done  (hold its key)");
        assert!(HELP.lines().all(|line| line.len() < 80));
    }
}
