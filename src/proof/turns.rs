//! Axes that turn: a target that comes once a turn is made the one position that the move goes to, and what winds up a
//! cable is followed turn by turn. Nothing wraps by itself: every position counts its turns.

use super::plan::AxisPath;
use super::shown;
use crate::show::{Axis, AxisId, Code, CueId, Finding, Move, Round, Show, beyond_winding};

/// In whole turns: nearer than this is there, and two ways that differ by less are equally long.
const SAME: f64 = 1e-9;

/// The position to which an axis goes from `from`, in its unit, where its target comes once a turn. Tells two ways that
/// are equally long, and then takes the one up.
pub fn place_round(
    show: &Show,
    id: CueId,
    written: &Move,
    (axis, from): (AxisId, f64),
    (target, way): (f64, Round),
    findings: &mut Vec<Finding>,
) -> f64 {
    // Resolved: only what turns is given a way round.
    let Some(whole) = show.axis(axis).unit.whole_turn() else { return target };
    let [below, above] = either_way(from, target, whole);
    match way {
        Round::Up => above,
        Round::Down => below,
        Round::Shortest => {
            let longer = (above - from) - (from - below);
            if below != above && longer.abs() < SAME * whole {
                findings.push(told_half_turn(show, id, written, axis, [from, target]));
            }
            if longer < SAME * whole { above } else { below }
        }
    }
}

/// The nearest places of the target to either side; the same one twice where the axis is there already.
fn either_way(from: f64, target: f64, whole: f64) -> [f64; 2] {
    let place = |turns: f64| target + turns * whole;
    let turns = (from - target) / whole;
    if (turns - turns.round()).abs() < SAME {
        return [place(turns.round()); 2];
    }
    [place(turns.floor()), place(turns.ceil())]
}

fn told_half_turn(show: &Show, id: CueId, written: &Move, axis: AxisId, [from, target]: [f64; 2]) -> Finding {
    let (number, name, sign) = (&show.cue(id).number, show.axis_name(axis), show.axis(axis).unit.sign());
    let message = format!(
        "cue {number}: from {}{sign} to {}{sign} {name} has half a turn either way: expected one way to be the shortest",
        shown(from),
        shown(target)
    );
    Finding::new(Code::BadValue, message)
        .at(written.place)
        .cue(number)
        .rig(&show.rig(written.rig).name)
        .fix(format!("say which way round: round = {{ {} = \"up\" }}, or \"down\"", show.axis(axis).name))
        .axis(name)
}

/// What is wrong where a move ends past the turns that a cable allows.
pub fn winds_too_far(show: &Show, id: CueId, written: &Move, path: &AxisPath) -> Option<Finding> {
    let number = &show.cue(id).number;
    let name = show.axis_name(path.axis);
    let finding = beyond_winding(&name, &format!("cue {number}:"), show.axis(path.axis), path.to)?;
    let unwind = "unwind in a cue before it, or survey what the cable allows";
    let fix = other_way(show, written, path).map_or_else(|| unwind.into(), |other| format!("{other}, or {unwind}"));
    Some(finding.at(written.place).cue(number).fix(fix))
}

/// Where the place comes once a turn and is within reach the other way round: how to write that.
pub fn other_way(show: &Show, written: &Move, path: &AxisPath) -> Option<String> {
    let &(_, way) = written.round.iter().find(|&&(axis, _)| axis == path.axis)?;
    let axis = show.axis(path.axis);
    let whole = axis.unit.whole_turn()?;
    let goes_up = match way {
        Round::Up => true,
        Round::Down => false,
        Round::Shortest => path.to > path.from,
    };
    let (other, word) = if goes_up { (path.to - whole, "down") } else { (path.to + whole, "up") };
    let there = format!("{}{}", shown(other), axis.unit.sign());
    within_reach(axis, other)
        .then(|| format!("go round to {there} instead: round = {{ {} = \"{word}\" }}", axis.name))
}

fn within_reach(axis: &Axis, position: f64) -> bool {
    let [low, high] = axis.reach();
    (low..=high).contains(&position)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proof::{Proof, prove};
    use crate::show::fixture::reading_of;
    use proptest::prelude::*;

    /// A revolve that opens at 0, and cues that turn it.
    fn proved(winding: &str, moves: &[&str]) -> (Show, Proof) {
        let head = "[show]\nname = \"Round\"\nmargin = 0.1\nreact = 0.1\n";
        let axis = "name = \"turn\"\nunit = \"deg\"\ntravel = [-400.0, 800.0]\nstart = 0.0\nspeed = 20.0\n\
                    acceleration = 20.0\njerk = 40.0\njoint = { turn = \"z\", at = [0.0, 0.0, 0.0] }\n";
        let wheel = format!("kind = \"revolve\"\nat = [0.0, 0.0, 0.0]\n[[axis]]\n{axis}{winding}\n");
        let cue = |(index, step): (usize, &&str)| {
            format!(
                "[[cue]]\nnumber = \"{0}\"\nname = \"{0}\"\nmove = [{{ rig = \"wheel\", time = 60.0, {step} }}]\n",
                index + 1
            )
        };
        let cues: String = moves.iter().enumerate().map(cue).collect();
        let reading = reading_of(&[("show.toml", head), ("rigs/wheel.toml", &wheel), ("cues/all.toml", &cues)]);
        let show = reading.show.unwrap_or_else(|| panic!("{:#?}", reading.findings));
        let mut proof = prove(&show);
        proof.findings.extend(reading.findings);
        (show, proof)
    }

    fn places(proof: &Proof) -> Vec<f64> {
        proof.plan.cues.iter().map(|cue| cue.end[0]).collect()
    }

    #[test]
    fn a_place_that_comes_once_a_turn_is_met_the_way_that_is_asked_for() {
        let to = |degrees: &str, way: &str| format!("to = {{ turn = {degrees} }}, round = {{ turn = \"{way}\" }}");
        let moves = [
            to("350.0", "shortest"), // 10 back, past zero
            to("90.0", "up"),
            to("80.0", "up"), // nearly a whole turn
            to("0.0", "down"),
            to("0.0", "up"), // there already
            to("-720.0", "shortest"),
        ];
        let (_, proof) = proved("", &moves.each_ref().map(String::as_str));
        assert_eq!(proof.findings, []);
        assert_eq!(places(&proof), [-10.0, 90.0, 440.0, 360.0, 360.0, 360.0]);
    }

    #[test]
    fn half_a_turn_either_way_wants_a_word() {
        let (_, proof) = proved("", &["to = { turn = 180.0 }, round = { turn = \"shortest\" }"]);
        let [finding] = &proof.findings[..] else { panic!("{:#?}", proof.findings) };
        assert_eq!((finding.code, &finding.axes[..]), (Code::BadValue, &["wheel.turn".to_owned()][..]));
    }

    #[test]
    fn a_cable_counts_its_turns_until_they_are_unwound() {
        let by = |degrees: &str| format!("to = {{ turn = {degrees} }}, by = true");
        let (up, down) = (by("300.0"), by("-300.0"));
        let winding = "winding = [-0.5, 1.5]";
        let (_, unwound) = proved(winding, &[&up, &down, &up]);
        assert_eq!(unwound.findings, []);
        let (_, proof) = proved(winding, &[&up, &up]);
        let [finding] = &proof.findings[..] else { panic!("{:#?}", proof.findings) };
        assert_eq!((finding.code, &finding.cues[..]), (Code::Winding, &["2".to_owned()][..]));
        assert_eq!((finding.value.unwrap(), finding.limit), (600.0 / 360.0, Some(1.5)));
        assert!(finding.message.contains("expected -0.5 to 1.5 turns, found 1.667"), "{}", finding.message);
        // Within the travel all the same: without a cable nothing is wrong.
        assert_eq!(proved("", &[&up, &up]).1.findings, []);
    }

    #[test]
    fn the_way_that_the_cable_forbids_is_never_turned_round_in_silence() {
        let winding = "winding = [0.0, 1.0]";
        let (show, proof) = proved(winding, &["to = { turn = 350.0 }, round = { turn = \"shortest\" }"]);
        let [finding] = &proof.findings[..] else { panic!("{:#?}", proof.findings) };
        assert_eq!((finding.code, places(&proof)[0]), (Code::Winding, -10.0));
        let fix = finding.fix.as_deref().unwrap();
        assert!(fix.starts_with("go round to 350° instead: round = { turn = \"up\" }"), "{fix}");
        assert_eq!(show.axes[0].reach(), [0.0, 360.0]);
    }

    proptest! {
        #[test]
        fn every_way_round_ends_at_the_place_and_goes_no_further_than_a_turn(
            from in -5000.0..5000.0_f64, target in -5000.0..5000.0_f64,
        ) {
            let [below, above] = either_way(from, target, 360.0);
            for place in [below, above] {
                let turns = (place - target) / 360.0;
                prop_assert!((turns - turns.round()).abs() < 1e-9);
            }
            prop_assert!(below <= from + 1e-6 && above >= from - 1e-6);
            prop_assert!(above - below <= 360.0 + 1e-6);
        }
    }
    #[test]
    fn both_neighbours_of_a_place_are_a_turn_apart_and_one_where_it_is_there() {
        for (from, target, [below, above]) in [
            (10.0, 350.0, [-10.0, 350.0]),
            (-10.0, 350.0, [-10.0, -10.0]),
            (725.0, 0.0, [720.0, 1080.0]),
            (-725.0, 90.0, [-990.0, -630.0]),
            (90.0, 90.0 - 7200.0, [90.0, 90.0]),
        ] {
            assert_eq!(either_way(from, target, 360.0), [below, above], "{from} to {target}");
        }
    }
}
