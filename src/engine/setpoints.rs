//! The clocks of the groups run on, and the axes with them.

use super::groups::Member;
use super::io::Setpoint;
use super::tick::Engine;
use crate::motion::Regime;
use crate::show::AxisId;

impl Engine {
    /// The rate of the show's clock, by which waits go in whose group nothing runs: the master's, at once.
    pub(super) fn show_rate(&self) -> f64 {
        if self.latch.is_latched() || !self.armed || self.holds.bare() { 0.0 } else { self.master }
    }

    pub(super) fn desired_rate(&self, member: &Member) -> f64 {
        if self.latch.is_latched() || !self.armed || self.is_held(member.cue) {
            0.0
        } else if member.returning {
            -self.show.settings.return_rate * self.master * self.groups.pace(member.group)
        } else {
            self.master * self.groups.pace(member.group)
        }
    }

    /// Lets the clocks of the groups run on, and the axes with them.
    pub(super) fn move_on(&mut self) {
        for index in 0..self.groups.members.len() {
            self.groups.unite(self.groups.members[index].group);
        }
        let mut purse = self.groups.purse(|member| self.desired_rate(member), self.tick);
        for index in 0..self.groups.members.len() {
            let desired = self.desired_rate(&self.groups.members[index]);
            self.groups.steer(&self.show, &self.plan, index, desired, self.tick, &mut purse);
        }
        for index in 0..self.groups.members.len() {
            let desired = self.desired_rate(&self.groups.members[index]);
            self.groups.admit(&self.show, &self.plan, index, desired);
        }
        self.note_regimes();
        self.groups.advance(self.period.seconds());
        self.groups.work_on_brakes(&self.show, &self.plan, &mut purse);
        self.place_setpoints();
        self.drive_hands();
        self.finish_members();
        let stopped = self.latch.is_latched() || !self.armed;
        if stopped && self.groups.at_rest() {
            self.rest_setpoints();
            self.park();
        }
        for index in 0..self.groups.members.len() {
            let Member { cue, group, returning, .. } = self.groups.members[index];
            if returning && self.groups.group_at_rest(group) && self.is_held(cue) {
                // Held on its way back, a cue goes on only as somebody asks for then.
                self.groups.members[index].returning = false;
            }
        }
        if !stopped {
            self.run_waits();
        }
    }

    fn place_setpoints(&mut self) {
        for index in 0..self.setpoints.len() {
            if self.is_in_hand(AxisId::new(index)) {
                continue;
            }
            let setpoint = &mut self.setpoints[index];
            (setpoint.speed, setpoint.acceleration, setpoint.jerk) = (0.0, 0.0, 0.0);
        }
        for member in self.groups.members.iter().filter(|member| member.joined) {
            let clock = self.groups.clock(member);
            let (rate, drift, bend) = if clock.at_rest() { (0.0, 0.0, 0.0) } else { clock.rate() };
            for step in &self.plan.cue(member.cue).moves {
                let time = member.time - step.delay;
                let along = step.profile.at(time);
                for path in &step.axes {
                    let at = path.bent(self.groups.ways.of(path.axis), along, time);
                    self.setpoints[path.axis.index()] = Setpoint {
                        position: at.position,
                        speed: at.speed * rate,
                        acceleration: at.acceleration * rate * rate + at.speed * drift,
                        jerk: at.jerk * rate * rate * rate + 3.0 * at.acceleration * rate * drift + at.speed * bend,
                    };
                }
            }
        }
    }

    fn rest_setpoints(&mut self) {
        for index in 0..self.setpoints.len() {
            if !self.is_in_hand(AxisId::new(index)) {
                let setpoint = &mut self.setpoints[index];
                *setpoint = Setpoint { position: setpoint.position, ..Setpoint::default() };
            }
        }
    }

    /// Whether nothing moves that the engine moves: no cue is under way, and what is in hand stands.
    pub(super) fn is_at_rest(&self) -> bool {
        self.groups.members.is_empty() && self.hands_rest()
    }

    /// While the clock of a cue brakes, the stopping limits hold for its axes.
    pub(super) fn note_regimes(&mut self) {
        self.note_regimes_of_hands();
        let brakes = |member: &&Member| self.groups.clock(member).regime() == Regime::Stopping;
        for member in self.groups.members.iter().filter(brakes) {
            for path in self.plan.cue(member.cue).moves.iter().flat_map(|step| &step.axes) {
                self.regimes[path.axis.index()] = Regime::Stopping;
            }
        }
    }
}
