//! The report for other programs.

use jiff::Timestamp;
use serde_json::{Value, json};

use super::text::{lost, trouble_text};
use super::{Asked, CueRun, Incident, JournalReport, Kind};
use crate::journal::Verdict;
use crate::report::rounded;
use crate::show::Nanos;

/// One document: what the file is worth, then what happened. Times of day are RFC 3339 in UTC, spans in s.
pub fn journal_json(report: &JournalReport, verdict: &Verdict, bytes: usize) -> Value {
    let header = verdict.header.as_ref();
    let (show, hash) = report.show.clone().unzip();
    let troubles: Vec<String> = verdict.troubles.iter().map(|&trouble| trouble_text(trouble, bytes).1).collect();
    json!({
        "run": header.map(|header| header.run.clone()),
        "show": show,
        "hash": hash,
        "program": header.map(|header| header.program.clone()),
        "rehearsal": header.map(|header| header.rehearsal),
        "seed": header.map(|header| header.seed),
        "started": header.map(|header| time(header.started)),
        "bytes": bytes,
        "sound": verdict.is_sound(),
        "ended": verdict.ended,
        "ticks": verdict.ticks,
        "replayed": verdict.replayed,
        "difference": verdict.difference.map(|found| json!({ "tick": found.tick, "text": found.to_string() })),
        "not_replayed": verdict.lost.map(|(tick, why)| json!({ "from": tick, "text": lost(why) })),
        "gaps": verdict.gaps.iter().map(|gap| json!({ "first": gap.first, "last": gap.last, "why": gap.why }))
            .collect::<Vec<_>>(),
        "troubles": troubles,
        "cues": report.runs.iter().map(cue).collect::<Vec<_>>(),
        "refused": incidents(report, Kind::Refused),
        "stops": incidents(report, Kind::Stop),
        "holds": incidents(report, Kind::Hold),
        "faults": incidents(report, Kind::Fault),
        "besides": incidents(report, Kind::Other),
        "requests": report.requests.iter().map(asked).collect::<Vec<_>>(),
        "events": report.lines.iter().map(|line| json!({
            "tick": line.tick, "time": time(line.at), "text": line.text,
        })).collect::<Vec<_>>(),
    })
}

fn asked(asked: &Asked) -> Value {
    json!({
        "tick": asked.tick,
        "time": time(asked.at),
        "client": asked.client,
        "verb": asked.verb,
        "accepted": asked.accepted,
        "reasons": asked.reasons,
        "network": span(asked.network),
        "waited": span(asked.waited),
    })
}

fn span(span: Option<Nanos>) -> Option<f64> {
    span.map(|span| rounded(span.seconds()))
}

fn cue(run: &CueRun) -> Value {
    json!({
        "cue": run.number,
        "name": run.name,
        "tick": run.tick,
        "time": time(run.at),
        "by": run.by,
        "planned": rounded(run.planned),
        "taken": run.taken.map(rounded),
        "held": rounded(run.held),
        "end": run.end.map(|state| state.word()),
        "delays": {
            "caller": span(run.delays.caller),
            "network": span(run.delays.network),
            "waited": span(run.delays.waited),
            "setpoint": span(run.delays.setpoint),
            "rig": span(run.delays.rig),
        },
    })
}

fn incidents(report: &JournalReport, kind: Kind) -> Vec<Value> {
    let of_kind = report.incidents.iter().filter(|incident| incident.kind == kind);
    let incident = |one: &Incident| json!({ "tick": one.tick, "time": time(one.at), "text": one.text, "lasted": one.lasted.map(rounded) });
    of_kind.map(incident).collect()
}

fn time(at: Nanos) -> Option<String> {
    Timestamp::from_nanosecond(i128::from(at.0)).ok().map(|time| time.to_string())
}
