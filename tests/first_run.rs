//! The demo show's cues from top to bottom, in virtual time.

mod hall;

use bellwire::show::CueState;
use hall::Hall;

#[test]
fn the_demo_show_runs_from_top_to_bottom() {
    let mut hall = Hall::demo();
    for number in ["1", "3", "4", "5", "7", "8", "9"] {
        hall.fire(number);
        let duration = hall.plan.cue(hall.cue(number)).duration;
        hall.run_until(number, CueState::Done, duration + 0.1);
        // Its follows, too.
        hall.run(14.0);
    }
    for number in ["1", "2", "3", "4", "5", "6", "7", "8", "9", "10"] {
        assert_eq!(hall.state(number), CueState::Done, "cue {number}");
    }
    for (axis, end) in
        [("heron.swing", 0.0), ("gull.height", 7.0), ("millwheel.turn", 180.0), ("tide.height", -2.4)]
    {
        assert_eq!(hall.setpoint(axis), end, "{axis}");
    }
}
