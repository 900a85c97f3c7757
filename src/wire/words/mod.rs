//! Everything that the engine says, as one plain sentence for someone in the dark: what, where, expected, found,
//! and what to do.

mod condition;
mod event;
mod fault_table;
mod hand;
mod numbers;
mod reason;
mod sim_fault;
mod survey;
#[cfg(test)]
mod tests;
mod trouble;

pub(crate) use numbers::{amount, plain, seconds};

use crate::engine::{ClientId, Owner, Status};
use crate::show::{AxisId, CueId, InputId, Show};

/// What sentences are made from.
#[derive(Clone, Copy)]
pub struct Words<'a> {
    show: &'a Show,
    clients: &'a dyn Fn(ClientId) -> String,
    status: Option<&'a Status>,
}

impl<'a> Words<'a> {
    /// `clients` names a client as people know it, such as "panel at 10.0.0.3".
    pub fn new(show: &'a Show, clients: &'a dyn Fn(ClientId) -> String) -> Words<'a> {
        Words { show, clients, status: None }
    }

    /// With what was found: sentences about conditions then tell where an axis stands, and how old an input is.
    pub fn seeing(self, status: &'a Status) -> Words<'a> {
        Words { status: Some(status), ..self }
    }

    pub fn show(&self) -> &'a Show {
        self.show
    }

    /// "cue 12.5", "the preset" or "the take".
    pub fn cue(&self, id: CueId) -> String {
        match self.show.listed(id) {
            Some(cue) => format!("cue {}", cue.number),
            None => format!("the {}", self.show.number_of(id)),
        }
    }

    /// "heron.swing".
    pub fn axis(&self, id: AxisId) -> String {
        self.show.axis_name(id)
    }

    pub fn client(&self, id: ClientId) -> String {
        (self.clients)(id)
    }

    /// "cue 12", a client's name, or nothing.
    pub fn owner(&self, owner: Owner) -> Option<String> {
        match owner {
            Owner::Nobody => None,
            Owner::Cue(cue) => Some(self.cue(cue)),
            Owner::Client(client) => Some(self.client(client)),
        }
    }

    /// "input 'cellar gate closed'".
    pub(crate) fn input(&self, id: InputId) -> String {
        format!("input '{}'", self.show.inputs[id.index()].name)
    }

    /// A position of an axis with its unit's sign.
    pub(crate) fn position(&self, axis: AxisId, value: f64) -> String {
        amount(value, self.show.axis(axis).unit)
    }

    /// Where the axis was last measured, if that is known here.
    fn measured(&self, axis: AxisId) -> Option<f64> {
        self.status.and_then(|status| status.axes[axis.index()].position)
    }
}
