//! A rehearsal in sentences.

use crate::engine::{Breach, ClientId, EventKind};
use crate::rehearsal::{CueRecord, Ending, Options, Outcome, Refused, Rehearsal, client};
use crate::show::{InputId, Show};
use crate::wire::words::Words;

/// What this rehearsal does not prove, however well it went.
pub fn not_proved(show: Option<&Show>, options: &Options) -> Vec<String> {
    let mut told = vec![
        "people: who stands on, under or beside a machine, the shear at a lift's edge, the open void".into(),
        "cables, load swing, slack line and snags, wind, scenery that is no body, house bars".into(),
        "the real rigs (machines): each one here was simulated and follows with a small lag; loads, drives, brakes \
         and what the survey did not measure are theirs"
            .into(),
        show.map_or_else(|| "sensors: the rehearsal supplies every input".into(), |show| supplied(show, options)),
        "the network: no trigger crossed one, and no control loop came late".into(),
        "how near things come, and other GO times: the check proves those, a rehearsal runs through one".into(),
    ];
    if options.master < 1.0 {
        told.push(format!(
            "dynamic limits: at a master of {:.0} % an axis shows {:.0} % of its speed, {:.0} % of its acceleration \
             and {:.1} % of its jerk; full speed is not proved",
            100.0 * options.master,
            100.0 * options.master,
            100.0 * options.master * options.master,
            100.0 * options.master * options.master * options.master
        ));
    }
    told
}

fn supplied(show: &Show, options: &Options) -> String {
    let named = |wanted: bool| {
        let inputs = (0..show.inputs.len()).map(InputId::new);
        let named = inputs.filter(|id| options.without.contains(id) != wanted);
        named.map(|id| format!("'{}'", show.inputs[id.index()].name)).collect::<Vec<_>>().join(", ")
    };
    let (given, silent) = (named(true), named(false));
    let mut told = Vec::new();
    if !given.is_empty() {
        told.push(format!("the rehearsal itself told these to be true, all the time: {given}"));
    }
    if !silent.is_empty() {
        told.push(format!("silent: {silent}"));
    }
    if told.is_empty() {
        "sensors: this show has no inputs".into()
    } else {
        format!("sensors: {}", told.join("; "))
    }
}

/// Why a cue was not run to its end: each reason, none if it was.
pub fn reasons(show: &Show, record: &CueRecord) -> Vec<String> {
    match &record.outcome {
        Outcome::Done => Vec::new(),
        Outcome::Refused(refused) => refusal(show, refused),
        Outcome::NoLeader { leading } => {
            vec![format!("it follows cue {}, which was not run", show.cue(*leading).number)]
        }
        Outcome::NoCondition => vec!["the condition that it waits for did not turn true".into()],
        Outcome::OnItsWay => vec!["it was stopped or held on its way, and not carried on".into()],
        Outcome::NotReached => vec!["the rehearsal ended before it".into()],
    }
}

/// "refused", "not run", ...: in a column.
pub fn outcome_in_short(outcome: &Outcome) -> &'static str {
    match outcome {
        Outcome::Done => "done",
        Outcome::Refused(_) => "REFUSED",
        Outcome::NoLeader { .. } | Outcome::NoCondition => "NOT RUN",
        Outcome::OnItsWay => "NOT ENDED",
        Outcome::NotReached => "not reached",
    }
}

fn refusal(show: &Show, refused: &Refused) -> Vec<String> {
    Words::new(show, &client).seeing(&refused.seen).refusal(&refused.reasons)
}

/// Why the rehearsal ended before its last cue; `None` if it did not.
pub fn ending(show: &Show, ending: &Ending) -> Option<String> {
    let because = |what: &str, refused: &Refused| format!("{what}: {}", refusal(show, refused).join("; "));
    match ending {
        Ending::Complete => None,
        Ending::Interrupted => Some("ended before its time, as asked".into()),
        Ending::NotArmed(refused) => Some(because("the show could not be armed", refused)),
        Ending::Stopped(refused) => Some(because("a stop could not be reset", refused)),
        Ending::Held(refused) => Some(because("the running cues were held and could not be resumed", refused)),
        Ending::Broken(breach) => Some(format!(
            "a check inside bellwire failed, which is its own error, and not the show's: {}; keep the show and this \
             report",
            broken(show, breach)
        )),
    }
}

fn broken(show: &Show, breach: &Breach) -> String {
    let named = match breach {
        Breach::Travel { axis, .. }
        | Breach::Speed { axis, .. }
        | Breach::Acceleration { axis, .. }
        | Breach::Jerk { axis, .. }
        | Breach::Jump { axis, .. }
        | Breach::MovesWhileStopped { axis }
        | Breach::Unguarded { axis }
        | Breach::LeavesBerth { axis }
        | Breach::Unsurveyed { axis }
        | Breach::TwoOwners { axis } => show.axis_name(*axis),
        Breach::SlowStop { .. } | Breach::Answers { .. } => "the engine".into(),
    };
    format!("{named}, {breach:?}")
}

/// One line: clean, or what was not.
pub fn verdict(show: &Show, rehearsal: &Rehearsal) -> String {
    if let Some(ending) = ending(show, &rehearsal.ending) {
        return format!("NOT clean: {ending}");
    }
    let count =
        |wanted: &dyn Fn(&Outcome) -> bool| rehearsal.cues.iter().filter(|record| wanted(&record.outcome)).count();
    let refused = count(&|outcome| matches!(outcome, Outcome::Refused(_)));
    let not_run = count(&|outcome| !matches!(outcome, Outcome::Done | Outcome::Refused(_)));
    let mut wrong = Vec::new();
    match refused {
        0 => {}
        1 => wrong.push("1 cue was refused".into()),
        more => wrong.push(format!("{more} cues were refused")),
    }
    match not_run {
        0 => {}
        1 => wrong.push("1 cue was not run".into()),
        more => wrong.push(format!("{more} cues were not run")),
    }
    if rehearsal.was_stopped_by_fault() {
        wrong.push("a fault or an interlock stopped the show".into());
    }
    match (wrong.is_empty(), rehearsal.cues.len()) {
        (false, _) => format!("NOT clean: {}", wrong.join(", ")),
        (true, 0) => "there is no cue to rehearse".into(),
        (true, 1) => "clean: the cue was run to its end".into(),
        (true, all) => format!("clean: all {all} cues were run to their ends"),
    }
}

/// What came between, other than cues and their states: time and sentence.
pub fn incidents(show: &Show, rehearsal: &Rehearsal) -> Vec<(f64, String)> {
    let words = Words::new(show, &client as &dyn Fn(ClientId) -> String);
    let told = rehearsal.events.iter().filter(|(_, event)| is_incident(&event.kind));
    told.map(|(time, event)| (*time, words.event(&event.kind))).collect()
}

fn is_incident(kind: &EventKind) -> bool {
    match kind {
        EventKind::Dropped { .. }
        | EventKind::Refused { .. }
        | EventKind::Held { .. }
        | EventKind::Stop { .. }
        | EventKind::Standstill { .. }
        | EventKind::Reset
        | EventKind::Fault { .. }
        | EventKind::Master { .. }
        | EventKind::PartSimulated { .. }
        | EventKind::ClientLost { .. }
        | EventKind::SimFault { .. }
        | EventKind::Hand(_) => true,
        EventKind::Standby { .. }
        | EventKind::Go { .. }
        | EventKind::Cue { .. }
        | EventKind::Armed { .. }
        | EventKind::Interlock { .. }
        | EventKind::Input { .. }
        | EventKind::Placed { .. }
        | EventKind::Offered { .. }
        | EventKind::Replaced { .. }
        | EventKind::Journal { .. } => false,
    }
}

/// "1:02:03.4", "2:03.4": hours only where there are any.
pub fn clock(seconds: f64) -> String {
    let tenths = (seconds.max(0.0) * 10.0).round() as u64;
    let (minutes, rest) = (tenths / 600, tenths % 600);
    let (hours, minutes) = (minutes / 60, minutes % 60);
    let seconds = format!("{:02}.{}", rest / 10, rest % 10);
    if hours > 0 { format!("{hours}:{minutes:02}:{seconds}") } else { format!("{minutes}:{seconds}") }
}

/// "2:03".
pub fn minutes(time: f64) -> String {
    let mut text = clock(time);
    text.truncate(text.len() - 2);
    text
}

#[cfg(test)]
mod tests {
    use super::clock;

    #[test]
    fn a_clock_tells_hours_only_where_there_are_any() {
        assert_eq!(["0:00.0", "1:02.3", "1:00:00.0"], [0.0, 62.34, 3599.97].map(clock).each_ref().map(|t| &t[..]));
    }
}
