//! What became of each cue, in lines for people.

use super::{Comparison, in_short};
use crate::proof::{Closest, CueDiffers, Moved, Stretch, WindowDiffers};
use crate::report::check_json::rests_words;
use crate::report::lines::wrapped;
use crate::show::{AxisId, CueId, RigId, Show};
use crate::wire::words::{amount, seconds};

/// Of what a number is called, so that lines stand under each other.
const NUMBER: usize = 8;

/// Every cue that goes, takes or keeps clear otherwise; then what only stands elsewhere meanwhile. Empty if none does.
pub fn moved(told: &Comparison<'_>) -> String {
    let mut text = String::new();
    let mut standing = Vec::new();
    for differs in &told.against.cues {
        let lines = lines(told, differs);
        let mut head = told.new.show.number_of(differs.now);
        for line in &lines {
            text.push_str(&wrapped(&format!("  {head:<NUMBER$}"), line));
            head.clear();
        }
        standing.extend(standing_in(told, differs));
    }
    text + &elsewhere(told.new.show, standing)
}

fn lines(told: &Comparison<'_>, differs: &CueDiffers) -> Vec<String> {
    let (old, new) = (told.old.show, told.new.show);
    let mut lines = Vec::new();
    if old.cue(differs.was).number != new.cue(differs.now).number {
        lines.push(format!("was cue {}", old.cue(differs.was).number));
    }
    let (start, end) = own(told, differs);
    let poses = |moved: &[&Moved]| moved.iter().map(|one| was_now(new, one)).collect::<Vec<_>>().join(", ");
    if !start.is_empty() {
        lines.push(format!("starts from {}", poses(&start)));
    }
    if !end.is_empty() {
        lines.push(format!("ends at {}", poses(&end)));
    }
    if let Some([was, now]) = differs.duration {
        lines.push(format!("takes {} (was {})", seconds(now), seconds(was)));
    }
    if let Some([was, now]) = differs.stop_time {
        lines.push(format!("stops in {} (was {})", seconds(now), seconds(was)));
    }
    if let Some([was, now]) = differs.closest {
        lines.push(clearance(new, was, now));
    }
    lines.extend(differs.windows.iter().map(window));
    for rested in &differs.rests_on {
        lines.push(format!("now needs cue {} to have run: {}", rested.on, rests_words(new, &rested.why)));
    }
    if !differs.rests_no_more_on.is_empty() {
        let on: Vec<&str> = differs.rests_no_more_on.iter().map(|rested| rested.on.as_str()).collect();
        lines.push(format!("no longer needs {} to have run", on.join(", ")));
    }
    if !lines.is_empty() && !differs.because.is_empty() {
        let mut because: Vec<String> = Vec::new();
        for change in differs.because.iter().map(|&index| in_short(&told.against.changes[index])) {
            if !because.contains(&change) {
                because.push(change);
            }
        }
        lines.push(format!("because of {}", because.join(", ")));
    }
    lines
}

/// Of the axes that start or end elsewhere, those of rigs that the cue moves; the ends, only where it moves the axis.
fn own<'a>(told: &Comparison<'_>, differs: &'a CueDiffers) -> (Vec<&'a Moved>, Vec<&'a Moved>) {
    let plan = told.new.proof.plan.cue(differs.now);
    let moves_rig = |rig: RigId| plan.moves.iter().any(|step| step.rig == rig);
    let moves = |axis: AxisId| plan.moves.iter().any(|step| step.axes.iter().any(|path| path.axis == axis));
    let start = differs.start.iter().filter(|one| moves_rig(told.new.show.axis(one.axis).rig));
    (start.collect(), differs.end.iter().filter(|one| moves(one.axis)).collect())
}

fn was_now(show: &Show, moved: &Moved) -> String {
    let unit = show.axis(moved.axis).unit;
    let [was, now] = [moved.was, moved.now].map(|value| amount(value, unit));
    format!("{} {now} (was {was})", show.axis_name(moved.axis))
}

fn clearance(new: &Show, was: Option<Closest>, now: Option<Closest>) -> String {
    let metres = |closest: &Closest| format!("{:.2} m", closest.value);
    match (was, now) {
        (was, Some(now)) => {
            let [one, other] = now.parties.map(|party| party.name(new));
            let was = was.map_or_else(String::new, |was| format!(" (was {})", metres(&was)));
            format!("clear by {}{was}: {one} and {other} at {}", metres(&now), seconds(now.time))
        }
        (Some(was), None) => format!("nothing is near it any more (was clear by {})", metres(&was)),
        (None, None) => String::new(),
    }
}

fn window(window: &WindowDiffers) -> String {
    let spans = |clear: &[Stretch]| match clear {
        [] => "at no time".to_owned(),
        spans => {
            let span = |span: &Stretch| format!("{:.1} to {:.1} s", span.from, span.to);
            format!("{} into it", spans.iter().map(span).collect::<Vec<_>>().join(", "))
        }
    };
    let after = &window.after;
    match (&window.was, &window.now) {
        (Some(was), Some(now)) => {
            let was = match &was[..] {
                [] => "at no time".to_owned(),
                was => was
                    .iter()
                    .map(|span| format!("{:.1} to {:.1}", span.from, span.to))
                    .collect::<Vec<_>>()
                    .join(", "),
            };
            format!("while {after} runs it may be fired {} (was {was})", spans(now))
        }
        (None, Some(now)) => format!("can now run together with {after}: it may be fired {}", spans(now)),
        (Some(_), None) => format!("no longer runs together with {after}"),
        (None, None) => String::new(),
    }
}

/// An axis that stands elsewhere while a cue runs that does not move its rig.
struct Standing {
    moved: Moved,
    cue: CueId,
}

fn standing_in<'a>(told: &'a Comparison<'_>, differs: &'a CueDiffers) -> impl Iterator<Item = Standing> + 'a {
    let (own, _) = own(told, differs);
    let standing = differs.start.iter().filter(move |one| !own.contains(one));
    standing.map(|one| Standing { moved: *one, cue: differs.now })
}

/// Each axis once for all cues in which it stands at the same place.
fn elsewhere(show: &Show, standing: Vec<Standing>) -> String {
    let mut told: Vec<(Moved, Vec<CueId>)> = Vec::new();
    for Standing { moved, cue } in standing {
        match told.iter_mut().find(|(one, _)| *one == moved) {
            Some((_, cues)) => cues.push(cue),
            None => told.push((moved, vec![cue])),
        }
    }
    let mut text = String::new();
    for (moved, cues) in told {
        let unit = show.axis(moved.axis).unit;
        let [was, now] = [moved.was, moved.now].map(|value| amount(value, unit));
        let (name, cues) = (show.axis_name(moved.axis), show.called(&cues));
        text.push_str(&wrapped("  ", &format!("{name} stands at {now} (was {was}) in {cues}")));
    }
    text
}
