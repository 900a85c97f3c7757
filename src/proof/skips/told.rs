//! What is said of a skip that nothing refuses.

use super::Loose;
use crate::proof::plan::Plan;
use crate::proof::shown;
use crate::show::{Code, Finding, Show};

pub fn finding(show: &Show, plan: &Plan, loose: Loose) -> Finding {
    let Loose { cue, skipped, pair, axis, pose } = loose;
    let [number, passed] = [cue, skipped].map(|cue| &show.cue(cue).number);
    let [one, other] = pair.parties.map(|party| party.name(show));
    let because = show
        .pairs
        .iter()
        .filter(|listed| pair.parties.iter().all(|party| party.rig().is_some_and(|rig| listed.rigs.contains(&rig))))
        .find_map(|listed| listed.because.as_deref());
    let reason = because.map_or_else(|| "as their pair lets them".to_owned(), |because| format!("since {because}"));
    let (name, unit) = (show.axis_name(axis), show.axis(axis).unit.sign());
    let [expected, found] = [cue, skipped].map(|cue| shown(plan.cue(cue).start[axis.index()]));
    let message = format!(
        "cue {number} can be fired with cue {passed} skipped, and nothing written refuses it: {one} passes {other} as near \
         as {} m, {reason}; but then {name} stands at {found}{unit}, not at {expected}{unit}",
        shown(pair.value)
    );
    let condition = format!("{{ cue = \"{passed}\", state = \"done\" }}");
    let fix = match show.cue(cue).needs {
        None => format!("write in cue {number}: needs = {condition}; or guard the way by an interlock on {name}"),
        Some(_) => format!(
            "add to the needs of cue {number}, in an `all`: {condition}; or guard the way by an interlock on {name}"
        ),
    };
    let mut finding = Finding::new(Code::Skip, message)
        .at(show.cue(cue).place)
        .also(show.cue(skipped).place, "with this cue skipped")
        .cue(number)
        .cue(passed)
        .axis(name)
        .time(pair.time)
        .against(pair.value, show.settings.margin)
        .fix(fix);
    for rig in pair.parties.iter().filter_map(|party| party.rig()) {
        finding = finding.rig(&show.rig(rig).name);
    }
    finding.posed(pose)
}
