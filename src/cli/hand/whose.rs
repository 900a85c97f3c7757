//! Whose each rig of the map is, in words, and what the key that takes rigs asks for.

use std::fmt::Write;

use serde_json::Value;

/// The key that takes what is offered, and what is nobody's.
pub const TAKE: char = 'a';

/// Whose a rig is, what to do where it is not `own` (what the status calls this client), and what keeps it.
pub fn line(status: &Value, rig: &str, own: &str) -> String {
    let rig_status = &status["rigs"][rig];
    let hand = &rig_status["hand"];
    let mut text = format!("  {rig}: {}", whose(rig_status, own));
    if let Some(sticks) = hand["sticks"].as_str().filter(|sticks| Some(*sticks) != hand["client"].as_str()) {
        let _ = write!(text, "; driven by the sticks of {sticks}");
    }
    if let Some(bodies) = hand["near"]["bodies"].as_array() {
        let names: Vec<&str> = bodies.iter().filter_map(Value::as_str).collect();
        let _ = write!(text, "; in the way: {}", names.join(" and "));
    }
    if let Some(interlock) = hand["interlock"].as_str() {
        let _ = write!(text, "; kept by the interlock `{interlock}`");
    }
    if let Some(way_out) = hand["way_out"].as_str() {
        let _ = write!(text, "; {way_out}");
    }
    let waits: Vec<&str> = hand["waits"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    // Whose stick it is has to let go of it.
    if !waits.is_empty() && hand["sticks"].as_str() == Some(own) {
        let _ = write!(text, "; let go first of {}", waits.join(", "));
    }
    text
}

fn whose(rig_status: &Value, own: &str) -> String {
    let hand = &rig_status["hand"];
    let (Some(client), offered) = (hand["client"].as_str(), hand["offered"].as_str()) else {
        return match rig_status["owner"].as_str() {
            Some(owner) => format!("{owner} moves it; press {TAKE} once that is done"),
            None => format!("in nobody's hands; press {TAKE} to take it"),
        };
    };
    if hand["let_go"] == true {
        return format!("let go of by {client}, and coming to rest; press {TAKE} once it stands");
    }
    match offered {
        Some(to) if to == own => format!("{client} offers it to you; press {TAKE} to take it over"),
        Some(to) if client == own => format!("in your hands, offered to {to}"),
        Some(to) => format!("in the hands of {client}, offered to {to}"),
        None if client == own => "in your hands".to_owned(),
        None => {
            format!(
                "in the hands of {client}; ask them to hand it over to `{own}`, or to give it back, then press {TAKE}"
            )
        }
    }
}

/// What has to be asked for this rig to be had: what is offered is accepted, what is nobody's is taken. Nothing, if neither
/// can be or it is had already.
pub fn way(status: &Value, rig: &str, own: &str) -> Option<&'static str> {
    let rig_status = &status["rigs"][rig];
    if rig_status["hand"]["offered"].as_str() == Some(own) {
        return Some("accept");
    }
    rig_status["owner"].is_null().then_some("hand")
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    fn hand(client: &str, offered: Option<&str>) -> Value {
        let hand =
            json!({ "client": client, "sticks": client, "offered": offered, "let_go": false, "waits": ["turn"] });
        json!({ "rigs": { "gull": { "owner": client, "hand": hand } } })
    }

    #[test]
    fn whose_a_rig_is_and_what_to_do_about_it() {
        let told = |status: &Value| (line(status, "gull", "hand"), way(status, "gull", "hand"));
        let nobody = json!({ "rigs": { "gull": { "owner": null, "hand": null } } });
        assert_eq!(told(&nobody), ("  gull: in nobody's hands; press a to take it".to_owned(), Some("hand")));
        let cue = json!({ "rigs": { "gull": { "owner": "cue 2", "hand": null } } });
        assert_eq!(told(&cue), ("  gull: cue 2 moves it; press a once that is done".to_owned(), None));
        assert_eq!(told(&hand("hand", None)), ("  gull: in your hands; let go first of turn".to_owned(), None));
        let ask =
            "  gull: in the hands of rail; ask them to hand it over to `hand`, or to give it back, then press a";
        assert_eq!(told(&hand("rail", None)), (ask.to_owned(), None));
        let offered = "  gull: rail offers it to you; press a to take it over";
        assert_eq!(told(&hand("rail", Some("hand"))), (offered.to_owned(), Some("accept")));
        let elsewhere = "  gull: in the hands of rail, offered to panel";
        assert_eq!(told(&hand("rail", Some("panel"))), (elsewhere.to_owned(), None));
        let mut given_back = hand("rail", None);
        given_back["rigs"]["gull"]["hand"]["let_go"] = true.into();
        let rests = "  gull: let go of by rail, and coming to rest; press a once it stands";
        assert_eq!(told(&given_back), (rests.to_owned(), None));
        let mut lent = hand("hand", None);
        lent["rigs"]["gull"]["hand"]["sticks"] = "osc 10.0.0.7".into();
        assert!(told(&lent).0.ends_with("in your hands; driven by the sticks of osc 10.0.0.7"));
    }
}
