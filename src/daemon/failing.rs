//! Faults of simulated rigs, injected while the show runs: to see for oneself what the table of faults says, and to let a
//! crew practise. A machine is never made to fail.

use std::sync::OnceLock;

use super::book::Book;
use super::house::House;
use crate::rig::{NoSuchFault, SimFault, SimFaultKind, SimFaults};
use crate::show::{AxisId, RigId, Show};
use crate::wire::{FaultAsk, nearest};

/// The switches of the simulated rigs, once the daemon has them.
#[derive(Debug, Default)]
pub struct Failing {
    switches: OnceLock<SimFaults>,
}

impl Failing {
    pub fn take(&self, switches: SimFaults) {
        let _ = self.switches.set(switches);
    }

    /// What is injected into a rig now, in words.
    pub fn of_rig(&self, show: &Show, rig: RigId) -> Vec<String> {
        let present = self.switches.get().into_iter().flat_map(SimFaults::present);
        present.filter(|fault| rig_of(show, *fault) == rig).map(|fault| told(show, fault)).collect()
    }
}

/// Injects what was asked, or ends it.
///
/// # Errors
/// No such rig, axis, kind or size; or a rig that is no simulation.
pub fn set(house: &House, book: &Book, client: &str, ask: &FaultAsk) -> Result<(), Vec<String>> {
    let show = &book.show;
    let fault = named(show, ask).map_err(|why| vec![why])?;
    let rig = rig_of(show, fault);
    let name = &show.rig(rig).name;
    if !house.board.status().rigs[rig.index()].simulated {
        return Err(vec![format!("{name} is real: only a simulated rig is made to fail")]);
    }
    let Some(switches) = house.failing.switches.get() else {
        return Err(vec!["the rigs of this run have no faults to inject".to_owned()]);
    };
    let what = told(show, fault);
    if ask.on {
        switches.inject(fault);
        tracing::warn!("{client} injects a fault into the simulated {name}: {what}");
    } else {
        switches.end(fault);
        tracing::warn!("{client} ends a fault of the simulated {name}: {what}");
    }
    Ok(())
}

fn named(show: &Show, ask: &FaultAsk) -> Result<SimFault, String> {
    let hint = |near: Option<&str>| near.map_or_else(String::new, |near| format!("; the nearest is {near}"));
    let rig = show.rig_ids().find(|&rig| show.rig(rig).name == ask.rig).ok_or_else(|| {
        let near = nearest(&ask.rig, show.rigs.iter().map(|rig| rig.name.as_str()));
        format!("there is no rig '{}'{}", ask.rig, hint(near))
    })?;
    let axis = ask.axis.as_deref().map(|name| axis_of(show, rig, name)).transpose()?;
    let kind = SimFaultKind::ALL.into_iter().find(|kind| kind.word() == ask.kind).ok_or_else(|| {
        let words = SimFaultKind::ALL.map(SimFaultKind::word);
        let near = nearest(&ask.kind, words.into_iter());
        format!("there is no fault '{}': expected {}{}", ask.kind, words.join(", "), hint(near))
    })?;
    // What ends needs no size: there is one of a kind at most.
    let size = if ask.on { ask.size } else { kind.size().map(|_| ask.size.unwrap_or(1.0)) };
    kind.of(show, rig, axis, size).map_err(|why| {
        let (name, word) = (&show.rig(rig).name, kind.word());
        match why {
            NoSuchFault::WhichAxis => format!("{word} is a fault of one axis, and {name} has several: say which"),
            NoSuchFault::WholeRig => format!("{word} is a fault of the whole rig: leave the axis out"),
            NoSuchFault::HowMuch(size) => format!("{word} needs a size: {}", size.meaning()),
            NoSuchFault::NoSize => format!("{word} has no size: leave it out"),
            NoSuchFault::BadSize(size) => format!("the size of {word}: expected {}", size.meaning()),
        }
    })
}

fn axis_of(show: &Show, rig: RigId, name: &str) -> Result<AxisId, String> {
    let rig_name = &show.rig(rig).name;
    show.rig(rig).axis_ids().find(|&axis| show.axis(axis).name == name).ok_or_else(|| {
        let known: Vec<&str> = show.rig(rig).axis_ids().map(|axis| show.axis(axis).name.as_str()).collect();
        format!("{rig_name} has no axis '{name}': expected {}", known.join(", "))
    })
}

fn rig_of(show: &Show, fault: SimFault) -> RigId {
    // A fault is of an axis or of a whole rig.
    fault.axis().map(|axis| show.axis(axis).rig).or(fault.whole_rig()).unwrap_or(RigId::new(0))
}

/// Such as `drift of height`.
fn told(show: &Show, fault: SimFault) -> String {
    let word = fault.kind().word();
    fault.axis().map_or_else(|| word.to_owned(), |axis| format!("{word} of {}", show.axis(axis).name))
}
