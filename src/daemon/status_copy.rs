//! Copying a status without asking for memory.

use crate::engine::Status;

/// Writes `from` over `into`, whose lists have the same lengths and keep their memory. (`Clone::clone_from`, as
/// derived, would allocate.)
pub fn copy_status(into: &mut Status, from: &Status) {
    let Status {
        edition,
        tick,
        armed,
        master,
        rate,
        stop_bound,
        held,
        stopped,
        faults,
        standby,
        running,
        waiting,
        way,
        cues,
        rigs,
        axes,
        inputs,
        interlocks,
        ways_out,
    } = from;
    into.edition = *edition;
    into.tick = *tick;
    into.armed = *armed;
    into.master = *master;
    into.rate = *rate;
    into.stop_bound = *stop_bound;
    into.held = *held;
    into.stopped.clone_from(stopped);
    into.faults.clone_from(faults);
    into.standby.clone_from(standby);
    into.running.clone_from(running);
    into.waiting.clone_from(waiting);
    into.way.clone_from(way);
    into.cues.clone_from(cues);
    into.rigs.clone_from(rigs);
    into.axes.clone_from(axes);
    into.inputs.clone_from(inputs);
    into.interlocks.clone_from(interlocks);
    into.ways_out.clone_from(ways_out);
}
