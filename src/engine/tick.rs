//! One tick of the running show. (Being built.)

use std::sync::Arc;

use super::io::{RigCommand, Setpoint, TickInput, TickOutput};
use super::status::Status;
use crate::proof::Plan;
use crate::show::Show;

pub struct Engine {
    status: Status,
    rigs: Vec<RigCommand>,
    setpoints: Vec<Setpoint>,
}

impl Engine {
    pub fn new(show: Arc<Show>, plan: Arc<Plan>) -> Engine {
        let _ = plan;
        Engine {
            status: Status::at_rest(&show),
            rigs: vec![RigCommand::default(); show.rigs.len()],
            setpoints: vec![Setpoint::default(); show.axes.len()],
        }
    }

    pub fn tick(&mut self, input: TickInput<'_>) -> TickOutput<'_> {
        let _ = input;
        TickOutput { rigs: &self.rigs, setpoints: &self.setpoints, answers: &[], events: &[], status: &self.status }
    }
}
