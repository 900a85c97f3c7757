//! Faults that simulated rigs are asked to show.

use super::Words;
use super::numbers::{amount, seconds};
use crate::engine::{SimFault, Size};

impl Words<'_> {
    /// What is wrong with a rig: "link-lost", "drift of height, -0.4 m/s".
    pub fn sim_fault(&self, fault: SimFault) -> String {
        let what = self.unsized_sim_fault(fault);
        let Some((measures, size)) = fault.kind().size().zip(fault.size()) else { return what };
        let in_unit = || fault.axis().map_or(String::new(), |axis| amount(size, self.show.axis(axis).unit));
        match measures {
            Size::Seconds => format!("{what}, {}", seconds(size)),
            Size::Way | Size::Inwards => format!("{what}, {}", in_unit()),
            Size::Speed => format!("{what}, {}/s", in_unit()),
        }
    }

    /// Without its size: what has ended has ended whatever that was.
    fn unsized_sim_fault(&self, fault: SimFault) -> String {
        let kind = fault.kind().word();
        fault.axis().map_or(kind.to_owned(), |axis| format!("{kind} of {}", self.show.axis(axis).name))
    }

    pub(super) fn sim_fault_event(&self, fault: SimFault, on: bool, by: &str) -> String {
        let rig = fault.rig(self.show).map_or("rig", |rig| &self.show.rig(rig).name);
        if on {
            format!("{by} injects a fault into the simulated {rig}: {}", self.sim_fault(fault))
        } else {
            format!("{by} ends a fault of the simulated {rig}: {}", self.unsized_sim_fault(fault))
        }
    }
}
