//! One take on several rigs at once.
//!
//! What was recorded together stays together: there is one clock for all rigs of a take, whose run-in and run-out are as long
//! as the rig needs that needs most. Were each to have its own, they would part by the difference of what those add.

use crate::motion::{Part, Performance, Rough, Trace, perform};
use crate::show::{Axis, AxisId, CueId, Playing, Show};

/// The axes of a rig as a take has them.
pub fn parts<'a>(show: &Show, playing: &'a Playing) -> Vec<Part<'a>> {
    playing.columns.iter().map(|column| part(show, playing, column)).collect()
}

fn part<'a>(show: &Show, playing: &'a Playing, &(axis, column): &(AxisId, usize)) -> Part<'a> {
    let Axis { tolerance, travel, run, .. } = *show.axis(axis);
    Part { trace: Trace { values: &playing.take.columns[column].values, tolerance, travel }, limits: run }
}

/// What a cue plays of the same recording by the same clock.
pub fn company<'a>(show: &'a Show, cue: CueId, playing: &'a Playing) -> impl Iterator<Item = &'a Playing> {
    let same = |other: &&Playing| {
        let one = (other.enter, other.stretch) == (playing.enter, playing.stretch);
        one && other.take.name == playing.take.name
    };
    show.cue(cue).moves.iter().filter_map(|step| step.playing.as_ref()).filter(same)
}

/// The path of a take on one rig, by the clock that it shares with the `company`, which it may be among.
///
/// # Errors
/// The first axis of the rig, by its index, that is no curve, and why. Of what is none of the company nothing is told here, and
/// the rig is led by itself.
pub fn perform_with<'a>(
    show: &Show,
    playing: &'a Playing,
    company: impl Iterator<Item = &'a Playing>,
) -> Result<Performance, (usize, Rough)> {
    let mut parts = parts(show, playing);
    let own = parts.len();
    let is_own = |axis: AxisId| playing.columns.iter().any(|&(known, _)| known == axis);
    for other in company {
        let theirs = other.columns.iter().filter(|&&(axis, _)| !is_own(axis));
        parts.extend(theirs.map(|column| part(show, other, column)));
    }
    let times = &playing.take.times;
    let together = match perform(times, &parts, playing.enter) {
        Err((index, _)) if index >= own => perform(times, &parts[..own], playing.enter)?,
        performed => performed?,
    };
    Ok(Performance { phrase: together.phrase.of_first(own), ..together })
}

#[cfg(test)]
mod tests {
    use crate::proof::{CuePlan, prove};
    use crate::show::fixture::show_of;

    const HEAD: &str = "[show]\nname = \"Together\"\nmargin = 0.1\nreact = 0.1\n";

    /// A cart in its own lane that may accelerate by so much.
    fn cart(lane: f64, acceleration: f64) -> String {
        format!(
            "kind = \"cart\"\nat = [0.0, {lane:?}, 0.0]\n[[axis]]\nname = \"travel\"\nunit = \"m\"\ntravel = [-9.0, 9.0]\n\
             start = 0.0\nspeed = 1.0\nacceleration = {acceleration:?}\njerk = 4.0\n\
             joint = {{ slide = \"x\", at = [0.0, 0.0, 0.0] }}\n"
        )
    }

    /// Both go on at a steady 0.2 m/s and turn round once, at the same time: recorded in motion.
    fn take() -> String {
        let sample = |k: u32| {
            let time = f64::from(k) * 0.02;
            let way = 0.2 * time + 0.05 * (0.9 * time).sin();
            format!("{time:.3},{way:.6},{:.6}\n", -way)
        };
        (0..400).map(sample).fold("time,quick.travel,slow.travel\n".to_owned(), |text, line| text + &line)
    }

    fn plan(moves: &str) -> CuePlan {
        let cue = format!("[[cue]]\nnumber = \"1\"\nname = \"1\"\nmove = [{moves}]\n");
        let [quick, slow] = [cart(0.0, 1.5), cart(3.0, 0.15)];
        let show = show_of(&[
            ("cues/all.toml", cue.as_str()),
            ("rigs/quick.toml", quick.as_str()),
            ("rigs/slow.toml", slow.as_str()),
            ("show.toml", HEAD),
            ("takes/duet.csv", take().as_str()),
        ]);
        let proof = prove(&show);
        assert_eq!(proof.findings, []);
        proof.plan.cues[0].clone()
    }

    const BOTH: &str = "{ rig = \"quick\", take = \"duet\" }, { rig = \"slow\", take = \"duet\" }";

    #[test]
    fn rigs_that_were_recorded_together_in_motion_stay_together_to_the_tick() {
        let plan = plan(BOTH);
        let [quick, slow] = &plan.moves[..] else { panic!("two moves") };
        assert_eq!(quick.duration(), slow.duration());
        let mut time = 0.0;
        while time <= plan.duration {
            // The recording has them at places that mirror each other, at every instant.
            let [quick, slow] = [quick, slow].map(|step| step.at(&step.axes[0], time).position);
            assert!((quick + slow).abs() < 1e-6, "{quick} and {slow} after {time} s");
            time += 0.002;
        }
    }

    #[test]
    fn the_clock_of_all_is_that_of_the_rig_which_needs_most() {
        let [alone, other] =
            ["quick", "slow"].map(|rig| plan(&format!("{{ rig = \"{rig}\", take = \"duet\" }}")).duration);
        let both = plan(BOTH).duration;
        assert!(both - alone > 0.2, "the quick one by itself takes {alone} s, both {both} s");
        assert!((both - other).abs() < 1e-9, "the slow one by itself takes {other} s, both {both} s");
    }
}
