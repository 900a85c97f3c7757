//! The comparison for people: first what breaks, then what moved, then what must be rehearsed again.

use jiff::Timestamp;
use jiff::tz::{Offset, TimeZone};

use super::moved::moved;
use super::{Comparison, Rehearsed};
use crate::journal::Ran;
use crate::proof::Part;
use crate::report::findings::render_findings;
use crate::report::lines::wrapped;
use crate::report::{counted, line};
use crate::show::{CueId, Finding, Severity, Show};

/// Of a hash, what a person compares.
const SHORT: usize = 12;

/// The whole comparison.
pub fn against_text(told: &Comparison<'_>, colour: bool) -> String {
    let (old, new) = (told.old, told.new);
    let short = |hash: &str| hash.get(..SHORT).unwrap_or(hash).to_owned();
    let mut text = format!(
        "{}, show {}, against {} (show {})\n\n",
        new.show.name,
        short(&new.show.hash),
        old.folder,
        short(&old.show.hash)
    );
    if told.against.is_empty() {
        let differs = if old.show.hash == new.show.hash {
            "nothing differs: the files are the same"
        } else {
            "nothing differs but what the show does not mean, such as remarks"
        };
        text.push_str(&format!("{differs}\n\n"));
    } else {
        text.push_str(&breaks(told, colour));
        text.push_str(&edited(told));
        let moved = moved(told);
        if moved.is_empty() {
            text.push_str("what moved\n  nothing: every pose, time, clearance and window is as it was\n\n");
        } else {
            text.push_str(&format!("what moved\n{moved}\n"));
        }
    }
    text + &rehearse(told)
}

fn breaks(told: &Comparison<'_>, colour: bool) -> String {
    let (old, new) = (told.old, told.new);
    let pick = |findings: &[Finding], of: &[usize], notes: bool| -> Vec<Finding> {
        let picked = of.iter().map(|&index| findings[index].clone());
        picked.filter(|finding| (finding.severity == Severity::Note) == notes).collect()
    };
    let wrong = pick(new.findings, &told.against.new_findings, false);
    let notes = pick(new.findings, &told.against.new_findings, true).len();
    let gone = pick(old.findings, &told.against.gone_findings, false);
    let mut text = String::from("what breaks\n");
    if wrong.is_empty() {
        text.push_str("  nothing: no error and no warning that was not there before\n");
    }
    text.push_str(&render_findings(&wrong, &new.reading.sources, colour));
    if notes > 0 {
        let they = if notes == 1 { "it" } else { "them" };
        text.push_str(&format!("  {}: `bellwire check` tells {they}\n", counted(notes, "new note", "new notes")));
    }
    for finding in &gone {
        text.push_str(&wrapped("  settled: ", &line(finding, &old.reading.sources)));
    }
    let stands = new.findings.iter().filter(|finding| finding.severity != Severity::Note).count() - wrong.len();
    if stands > 0 {
        let them = counted(stands, "error or warning", "errors and warnings");
        text.push_str(&wrapped("  ", &format!("as before: {them}; `bellwire check` without --against tells all")));
    }
    text.push('\n');
    text
}

fn edited(told: &Comparison<'_>) -> String {
    let new = told.new.show;
    let mut text = String::from("what was edited\n");
    for change in &told.against.changes {
        let used = match &change.used_in[..] {
            [] => String::new(),
            cues => format!(" (used in {})", new.called(cues)),
        };
        text.push_str(&wrapped("  ", &format!("{}{used}", change.text)));
    }
    for &[was, now] in &told.against.renumbered {
        let (was, now) = (told.old.show.number_of(was), new.number_of(now));
        text.push_str(&wrapped("  ", &format!("cue {was} is cue {now} now, and otherwise the same")));
    }
    if told.against.changes.is_empty() {
        text.push_str("  nothing that the show means\n");
    }
    text.push('\n');
    text
}

fn rehearse(told: &Comparison<'_>) -> String {
    let names = [told.old.show.name.as_str(), told.new.show.name.as_str()];
    let mut text = String::from("what must be rehearsed again\n");
    for trouble in &told.journals.troubles {
        text.push_str(&wrapped("  ", trouble));
    }
    let ours = told.journals.of(&names).count();
    if ours == 0 && told.rehearsed.iter().all(|one| one.best.is_none()) {
        return text + &without_journals(told);
    }
    text.push_str(&wrapped(
        "  ",
        &format!("by {} in {}", counted(ours, "journal", "journals"), told.journals.folders.join(", ")),
    ));
    for (reason, cues) in grouped(told.new.show, told.rehearsed) {
        text.push_str(&wrapped("  ", &format!("{}: {reason}", told.new.show.called(&cues))));
    }
    text
}

fn without_journals(told: &Comparison<'_>) -> String {
    let changed: Vec<CueId> =
        told.against.cues.iter().filter(|cue| !cue.unproven.is_empty()).map(|cue| cue.now).collect();
    let mut cues: Vec<CueId> = changed.into_iter().chain(told.against.added.iter().copied()).collect();
    cues.sort();
    let since = match &cues[..] {
        [] => format!("every cue is what it was in {}", told.old.folder),
        [one] => format!("{} is not what it was in {}", told.new.show.called(&[*one]), told.old.folder),
        cues => format!("{} are not what they were in {}", told.new.show.called(cues), told.old.folder),
    };
    let folders = match &told.journals.folders[..] {
        [] => "no folder of journals is known".to_owned(),
        folders => format!("no journal of this show is in {}", folders.join(", ")),
    };
    [
        wrapped("  ", &since),
        wrapped(
            "  ",
            &format!("{folders}; name the folder of its runs with --journal DIR to be told what ran, and how"),
        ),
    ]
    .concat()
}

/// The cues of each reason, what is missing most first.
fn grouped(show: &Show, rehearsed: &[Rehearsed]) -> Vec<(String, Vec<CueId>)> {
    let mut groups: Vec<(u8, String, Vec<CueId>)> = Vec::new();
    for id in show.cue_ids() {
        let (rank, reason) = reason(&rehearsed[id.index()]);
        match groups.iter_mut().find(|(_, known, _)| *known == reason) {
            Some((_, _, cues)) => cues.push(id),
            None => groups.push((rank, reason, vec![id])),
        }
    }
    groups.sort_by_key(|(rank, _, cues)| (*rank, cues[0]));
    groups.into_iter().map(|(_, reason, cues)| (reason, cues)).collect()
}

fn reason(told: &Rehearsed) -> (u8, String) {
    match (&told.best, &told.before) {
        (None, Some((ran, parts))) => {
            (0, format!("last run on {}; {} changed since", date(ran), parts_words(parts)))
        }
        (None, None) => (1, "never run to the end".into()),
        (Some((ran, _)), _) if ran.is_whole() => (3, "rehearsed as it is".into()),
        (Some((ran, _)), _) => (2, lacks(ran)),
    }
}

fn parts_words(parts: &[Part]) -> String {
    let word = |part: &Part| match part {
        Part::Path => "the way",
        Part::Rigs => "the survey of what moves",
        Part::Conditions => "what starts or guards it",
    };
    parts.iter().map(word).collect::<Vec<_>>().join(" and ")
}

/// What the run does not prove.
fn lacks(ran: &Ran) -> String {
    let mut lacks = Vec::new();
    if ran.simulated.len() == ran.rigs && ran.rigs > 0 {
        lacks.push("on simulated rigs (machines)".to_owned());
    } else if !ran.simulated.is_empty() {
        lacks.push(format!("with {} simulated", ran.simulated.join(", ")));
    }
    if ran.pace < 1.0 {
        lacks.push(format!("at {:.0} % speed, which proves no dynamic limits", 100.0 * ran.pace));
    }
    if ran.interrupted {
        lacks.push("with a hold or a stop on the way".into());
    }
    format!("only {}", lacks.join(", and "))
}

/// The day where it ran: "Wed 25 Nov".
fn date(ran: &Ran) -> String {
    let time = Timestamp::from_nanosecond(i128::from(ran.at.0)).ok();
    let zone = TimeZone::fixed(Offset::from_seconds(ran.offset).unwrap_or(Offset::UTC));
    time.map_or_else(String::new, |time| time.to_zoned_datetime(zone).strftime("%a %d %b").to_string())
}
