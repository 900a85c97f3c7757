//! What a survey does, one verb a line: for scripts, and behind the keys of a terminal.
//!
//! ```text
//! jog AXIS SHARE SECONDS        held for so long; SHARE -1 to 1 of a slow speed
//! sign AXIS                     held until it is known
//! repeat AXIS [at PLACE] [times N]
//! home AXIS
//! set AXIS low|high|home        where the axis stands now is that point of it
//! forget [AXIS]                 what was set and is not written
//! clear [AXIS [LOW,HIGH]]       no longer surveyed; with a provisional travel
//! propose, write
//! ```

use serde_json::{Value, json};

#[derive(Clone, Debug, PartialEq)]
pub enum Verb {
    Jog {
        axis: String,
        share: f64,
        seconds: f64,
    },
    /// The parameters of a trial, but for the rig.
    Try {
        axis: String,
        params: Value,
    },
    /// A request of its own, with its parameters but for the rig.
    Ask {
        method: &'static str,
        params: Value,
    },
}

/// s, that a script may jog at once.
const SECONDS_MOST: f64 = 600.0;

impl Verb {
    /// # Errors
    /// What was expected.
    pub fn read(line: &str) -> Result<Verb, String> {
        let words: Vec<&str> = line.split_whitespace().collect();
        let ask = |method, params| Ok(Verb::Ask { method, params });
        match words.as_slice() {
            ["jog", axis, share, seconds] => {
                let share = number(share).filter(|share| (-1.0..=1.0).contains(share));
                let seconds = number(seconds).filter(|seconds| (0.0..=SECONDS_MOST).contains(seconds));
                let (Some(share), Some(seconds)) = (share, seconds) else {
                    return Err(format!("{line}: expected a share from -1 to 1, and seconds up to {SECONDS_MOST}"));
                };
                Ok(Verb::Jog { axis: (*axis).to_owned(), share, seconds })
            }
            [trial @ ("sign" | "home"), axis] => {
                Ok(Verb::Try { axis: (*axis).to_owned(), params: json!({ "axis": axis, "trial": trial }) })
            }
            ["repeat", axis, rest @ ..] => repeat(axis, rest, line),
            ["set", axis, point @ ("low" | "high" | "home")] => {
                ask("teach", json!({ "axis": axis, "point": point }))
            }
            ["forget"] => ask("forget", json!({})),
            ["forget", axis] => ask("forget", json!({ "axis": axis })),
            ["clear"] => ask("clear_survey", json!({})),
            ["clear", axis] => ask("clear_survey", json!({ "axis": axis })),
            ["clear", axis, ends] => {
                let pair = ends.split_once(',').and_then(|(low, high)| Some([number(low)?, number(high)?]));
                let Some(travel) = pair else {
                    return Err(format!("{line}: expected a lower and an upper end, such as -170,170"));
                };
                ask("clear_survey", json!({ "axis": axis, "travel": travel }))
            }
            ["propose"] => ask("propose", json!({})),
            ["write"] => ask("write_survey", json!({})),
            _ => Err(format!(
                "{line}: expected jog AXIS SHARE SECONDS, sign AXIS, repeat AXIS [at PLACE] [times N], home AXIS, set AXIS \
                 low|high|home, forget [AXIS], clear [AXIS [LOW,HIGH]], propose or write"
            )),
        }
    }
}

fn number(text: &str) -> Option<f64> {
    text.trim().parse::<f64>().ok().filter(|number| number.is_finite())
}

fn repeat(axis: &str, rest: &[&str], line: &str) -> Result<Verb, String> {
    let mut params = json!({ "axis": axis, "trial": "repeat" });
    for pair in rest.chunks(2) {
        match pair {
            ["at", place] if number(place).is_some() => params["at"] = json!(number(place)),
            ["times", times] if times.parse::<u64>().is_ok() => params["times"] = json!(times.parse::<u64>().ok()),
            _ => return Err(format!("{line}: expected `at` and a place, or `times` and a whole number")),
        }
    }
    Ok(Verb::Try { axis: axis.to_owned(), params })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_line_is_a_verb_or_says_what_was_expected() {
        let jog = Verb::Jog { axis: "swing".into(), share: -0.5, seconds: 2.0 };
        assert_eq!(Verb::read("  jog swing -0.5 2 "), Ok(jog));
        let params = json!({ "axis": "swing", "trial": "repeat", "at": -12.5, "times": 3 });
        assert_eq!(Verb::read("repeat swing times 3 at -12.5"), Ok(Verb::Try { axis: "swing".into(), params }));
        let ask = |method, params| Ok(Verb::Ask { method, params });
        assert_eq!(Verb::read("set swing low"), ask("teach", json!({ "axis": "swing", "point": "low" })));
        let wider = json!({ "axis": "pan", "travel": [-180.0, 180.0] });
        assert_eq!(Verb::read("clear pan -180,180"), ask("clear_survey", wider));
        assert_eq!(Verb::read("write"), ask("write_survey", json!({})));
        for wrong in [
            "",
            "jog",
            "jog swing 2 1",
            "jog swing nan 1",
            "jog swing 1 601",
            "set swing middle",
            "repeat swing at",
            "repeat swing times x",
            "clear pan 3",
            "write it",
        ] {
            assert!(Verb::read(wrong).is_err(), "{wrong}");
        }
    }
}
