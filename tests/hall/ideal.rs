//! An engine on rigs that are exactly where they are told to be; cheap enough to be stopped at every tick, on a copy.

use std::sync::Arc;

use bellwire::engine::*;
use bellwire::proof::Plan;
use bellwire::show::{AxisId, CueId, InputId, Nanos, Show};

use super::CALLER;

#[derive(Clone)]
pub struct Ideal {
    pub show: Arc<Show>,
    pub engine: Engine,
    pub setpoints: Vec<Setpoint>,
    /// Of a rig without power it stays what it was.
    measured: Vec<AxisReport>,
    pub stop: StopCalls,
    /// Of the last tick.
    pub events: Vec<Event>,
    /// What every input is told, again and again.
    pub inputs: Option<bool>,
    next: u64,
}

impl Ideal {
    pub fn new(show: &Arc<Show>, plan: &Arc<Plan>) -> Ideal {
        Ideal {
            show: show.clone(),
            engine: Engine::new(show.clone(), plan.clone()),
            setpoints: vec![Setpoint::default(); show.axes.len()],
            measured: show.axes.iter().map(|axis| AxisReport { position: axis.start, speed: 0.0 }).collect(),
            stop: StopCalls::default(),
            events: Vec::new(),
            inputs: None,
            next: 0,
        }
    }

    /// Armed, the rigs where a cue finds them, every cue before it done.
    pub fn before(show: &Arc<Show>, plan: &Arc<Plan>, cue: CueId, inputs: bool) -> Ideal {
        Ideal::standing(show, plan, cue, inputs, &plan.cue(cue).start)
    }

    /// The same with the rigs anywhere, by `AxisId`.
    pub fn standing(show: &Arc<Show>, plan: &Arc<Plan>, cue: CueId, inputs: bool, pose: &[f64]) -> Ideal {
        let mut ideal = Ideal { inputs: Some(inputs), ..Ideal::new(show, plan) };
        for (report, position) in ideal.measured.iter_mut().zip(pose) {
            report.position = *position;
        }
        ideal.run(150);
        ideal.tick(&[Verb::Arm]);
        ideal.tick(&[Verb::Place { cue }]);
        ideal.run(1);
        ideal
    }

    /// One tick with requests that must all be accepted.
    pub fn tick(&mut self, verbs: &[Verb]) -> Status {
        let (status, answers) = self.turn(verbs);
        for answer in answers {
            assert!(answer.outcome.is_ok(), "{:?}", answer.outcome);
        }
        status
    }

    /// The answer to one request, given in a tick of its own.
    pub fn ask(&mut self, verb: Verb) -> Result<Accepted, Refusal> {
        let (_, mut answers) = self.turn(&[verb]);
        answers.pop().expect("an answer").outcome
    }

    pub fn run(&mut self, ticks: u64) -> Status {
        (1..ticks).for_each(|_| drop(self.turn(&[])));
        self.turn(&[]).0
    }

    fn turn(&mut self, verbs: &[Verb]) -> (Status, Vec<Answer>) {
        let mut all = Vec::new();
        if let Some(value) = self.inputs
            && self.engine.status().tick.is_multiple_of(50)
        {
            all.extend((0..self.show.inputs.len()).map(|input| Verb::Input { input: InputId::new(input), value }));
        }
        let told = all.len();
        all.extend_from_slice(verbs);
        let request = |verb: Verb| {
            self.next += 1;
            let id = RequestId(self.next);
            Request { id, client: CALLER, role: Role::Operator, edition: 0, key: None, age: None, verb }
        };
        let requests: Vec<Request> = all.into_iter().map(request).collect();
        let report = RigReport { age: Nanos::ZERO, enabled: true, fault: false, simulated: true };
        let rigs = vec![report; self.show.rigs.len()];
        let input = TickInput {
            stop: self.stop,
            requests: &requests,
            sticks: &[],
            rigs: &rigs,
            axes: &self.measured,
            late: Nanos::ZERO,
            unrecorded: false,
        };
        let output = self.engine.tick(input);
        let answers = output.answers[told..].to_vec();
        self.setpoints.copy_from_slice(output.setpoints);
        self.events.clear();
        self.events.extend_from_slice(output.events);
        for (index, (axis, setpoint)) in self.show.axes.iter().zip(output.setpoints).enumerate() {
            if output.rigs[axis.rig.index()].enable {
                self.measured[index] = AxisReport { position: setpoint.position, speed: setpoint.speed };
            }
        }
        let status = output.status.clone();
        assert_eq!(self.engine.broken(), None);
        (status, answers)
    }

    /// An axis without power is moved by so much.
    pub fn nudge(&mut self, axis: AxisId, by: f64) {
        self.measured[axis.index()].position += by;
    }

    pub fn measured(&self, axis: AxisId) -> f64 {
        self.measured[axis.index()].position
    }

    pub fn at_rest(&self) -> bool {
        self.setpoints.iter().all(|setpoint| setpoint.speed == 0.0)
    }
}
