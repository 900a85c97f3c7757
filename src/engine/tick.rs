//! The engine and its tick, in nine phases.

use std::sync::Arc;

use arrayvec::ArrayVec;

use super::detect::Faults;
use super::elsewhere::Rulings;
use super::event::EventKind;
use super::fault::{Cause, Fault};
use super::fire::Wait;
use super::groups::Groups;
use super::hand::{Hand, InVain};
use super::hold::Holds;
use super::in_hand::InHand;
use super::invariants::Breach;
use super::io::{RigCommand, Setpoint, TickInput, TickOutput};
use super::outbox::Outbox;
use super::react::Standstill;
use super::reason::Reason;
use super::repeats::Repeats;
use super::request::STANDBY_MAX;
use super::requests::StandbyCue;
use super::status::{Status, WAITING_MAX};
use super::stop::StopLatch;
use super::world::World;
use crate::motion::Regime;
use crate::proof::{Bonds, Plan, PresetPlanner, empty_way, meet};
use crate::show::{CueId, CueState, InterlockId, Nanos, Show};

/// A standby that became ready stands as such after so long, s: at a threshold, noise tells one thing and then another.
const READY_FOR: f64 = 0.1;

/// The running show. `tick` is its only way in.
#[derive(Clone, Debug)]
pub struct Engine {
    pub(super) show: Arc<Show>,
    /// With slots for the preset and for a take past the end of the list.
    pub(super) plan: Plan,
    pub(super) edition: u32,
    /// This engine has followed another, and has not said so yet.
    pub(super) replaced_show: bool,
    /// The cue that the preset in the slot leads to.
    pub(super) preset_to: Option<CueId>,
    /// The mark at which the preset in the slot ends, if it has to go on from there by another.
    pub(super) preset_mark: Option<usize>,
    /// Works out presets; and the cue to which it does.
    pub(super) route: PresetPlanner,
    pub(super) route_to: Option<CueId>,
    /// By `AxisId`, to write on.
    pub(super) stands: Vec<f64>,
    /// Live proofs of cues beside rigs that stand elsewhere.
    pub(super) rulings: Rulings,
    /// The tick's length.
    pub(super) period: Nanos,
    pub(super) tick: u64,
    pub(super) armed: bool,
    pub(super) master: f64,
    pub(super) world: World,
    pub(super) faults: Faults,
    pub(super) late: Nanos,
    pub(super) unrecorded: bool,
    pub(super) latch: StopLatch,
    pub(super) standstill: Standstill,
    /// The tick by which a stop has its setpoints at rest.
    pub(super) rest_by: Option<u64>,
    pub(super) standby: ArrayVec<StandbyCue, STANDBY_MAX>,
    pub(super) last_go: Option<u64>,
    pub(super) groups: Groups,
    pub(super) bonds: Bonds,
    pub(super) holds: Holds,
    pub(super) hand: Option<Hand>,
    pub(super) in_vain: InVain,
    pub(super) in_hand: InHand,
    pub(super) waits: ArrayVec<Wait, WAITING_MAX>,
    /// What hung on stopped cues, for those that are carried on.
    pub(super) parked_waits: ArrayVec<Wait, WAITING_MAX>,
    /// By `CueId`: its latest run came to its end.
    pub(super) done: Vec<bool>,
    /// By `CueId`: the tick of that end.
    pub(super) done_at: Vec<u64>,
    /// By `CueId`: the tick at which it last came back to its start.
    pub(super) back_at: Vec<u64>,
    pub(super) cues: Vec<CueState>,
    /// By `CueId`: the cues that own an axis of it, or a joint of its carriage.
    pub(super) shares_axes: Vec<Vec<CueId>>,
    /// By `RigId`.
    pub(super) has_bodies: Vec<bool>,
    pub(super) disabled: Vec<bool>,
    /// By `RigId`: the tick of the last enabling.
    pub(super) enabled_at: Vec<u64>,
    pub(super) commands: Vec<RigCommand>,
    pub(super) setpoints: Vec<Setpoint>,
    before: Vec<Setpoint>,
    /// By `AxisId`: its setpoint was put where the axis stands in this tick.
    pub(super) replaced: Vec<bool>,
    /// By `AxisId`: the widest limits that applied in this tick or at its beginning.
    pub(super) regimes: Vec<Regime>,
    pub(super) repeats: Repeats,
    pub(super) outbox: Outbox,
    pub(super) stop_bound: f64,
    pub(super) breach: Option<Breach>,
    pub(super) status: Status,
}

/// The plan of the list, and past its end the slots of the preset and of a take that is played back.
fn with_slots(plan: &Plan, show: &Show) -> Plan {
    // A list copied by `clone` has no room to spare: the slots bring their own.
    let slots = [empty_way(show), empty_way(show)];
    Plan { cues: plan.cues.iter().cloned().chain(slots).collect(), maps: plan.maps.clone() }
}

impl Engine {
    /// Disarmed, with nothing known of any rig. All memory that it will ever use is taken here.
    pub fn new(show: Arc<Show>, plan: Arc<Plan>) -> Engine {
        let owns = |cue: CueId| plan.cue(cue).moves.iter().flat_map(|step| step.axes.iter().map(|path| path.axis));
        let shares = |a: CueId| -> Vec<CueId> {
            show.cue_ids().filter(|&b| owns(a).any(|one| owns(b).any(|other| meet(&show, one, other)))).collect()
        };
        // A preset and a take give up every cue that was stopped, and any cue that starts gives up those that were.
        let with_slots_too = |mut shared: Vec<CueId>| {
            shared.extend([show.preset_id(), show.take_id()]);
            shared
        };
        let every: Vec<CueId> = show.cue_ids().collect();
        let shares_axes = show.cue_ids().map(shares).chain([every.clone(), every]).map(with_slots_too).collect();
        let plan = with_slots(&plan, &show);
        let has_bodies = show
            .rigs
            .iter()
            .map(|rig| !rig.bodies.is_empty() || rig.axis_ids().any(|axis| !show.axis(axis).bodies.is_empty()));
        let setpoints: Vec<Setpoint> =
            show.axes.iter().map(|axis| Setpoint { position: axis.start, ..Setpoint::default() }).collect();
        Engine {
            edition: 1,
            replaced_show: false,
            preset_to: None,
            preset_mark: None,
            route: PresetPlanner::new(&show),
            route_to: None,
            stands: vec![0.0; show.axes.len()],
            rulings: Rulings::new(&show, &plan),
            period: show.settings.tick,
            tick: 0,
            armed: false,
            master: 1.0,
            world: World::new(&show),
            faults: Faults::new(&show),
            late: Nanos::ZERO,
            unrecorded: false,
            latch: StopLatch::default(),
            standstill: Standstill::Reached,
            rest_by: None,
            standby: ArrayVec::new(),
            last_go: None,
            groups: Groups::new(&show, &plan),
            bonds: Bonds::new(&show, &plan),
            holds: Holds::default(),
            hand: None,
            in_vain: InVain::default(),
            in_hand: InHand::new(&show),
            waits: ArrayVec::new(),
            parked_waits: ArrayVec::new(),
            done: vec![false; plan.cues.len()],
            done_at: vec![0; plan.cues.len()],
            back_at: vec![0; plan.cues.len()],
            cues: vec![CueState::Idle; plan.cues.len()],
            shares_axes,
            has_bodies: has_bodies.collect(),
            disabled: vec![false; show.rigs.len()],
            enabled_at: vec![0; show.rigs.len()],
            commands: vec![RigCommand::default(); show.rigs.len()],
            before: setpoints.clone(),
            setpoints,
            replaced: vec![false; show.axes.len()],
            regimes: vec![Regime::Running; show.axes.len()],
            repeats: Repeats::new(),
            outbox: Outbox::new(plan.cues.len() + show.inputs.len() + show.interlocks.len() + show.axes.len()),
            stop_bound: 0.0,
            breach: None,
            status: Status::at_rest(&show),
            plan,
            show,
        }
    }

    /// One tick: everything that came in, once, in an order that is fixed here.
    pub fn tick(&mut self, input: TickInput<'_>) -> TickOutput<'_> {
        self.tick += 1;
        self.outbox.begin(self.tick);
        self.before.copy_from_slice(&self.setpoints);
        self.tell_of_succession();
        self.replaced.fill(false);
        self.regimes.fill(Regime::Running);
        self.note_regimes();

        // 1. The stop, before anything else and whatever else came.
        for lane in self.latch.read(input.stop) {
            self.stop(Cause::Request(lane));
        }

        // 2. What the rigs say.
        self.world.feel(&self.show, &input);

        // 3. Deadlines: inputs that have grown old, hands that have let go, offers that nobody took.
        self.judge_conditions();
        self.miss_hand();
        self.miss_offers();

        // 4. Faults, each found anew.
        self.find_faults(&input);
        self.heed_journal(input.unrecorded);

        // 5. The worst reaction; then what conditions no longer permit.
        self.react();
        self.supervise();

        // 6. Requests, in the order in which they came; then sticks, which those may have made to count.
        for request in input.requests {
            self.take_request(request);
        }
        self.hear_sticks(input.sticks);

        // 7. Setpoints, once what the requests set going has been through the interlocks too.
        self.supervise();
        self.move_on();

        // 8. Status.
        self.watch_standstill();
        self.command_rigs();
        self.derive_states();
        self.work_on_preset();
        self.look_at_hands();
        self.work_on_live_proof();
        self.judge_standby();
        self.fill_status();

        // 9. Invariants.
        if let Some(breach) = self.breach(&self.before, input.requests.len()) {
            self.break_down(breach);
        }

        TickOutput {
            rigs: &self.commands,
            setpoints: &self.setpoints,
            answers: &self.outbox.answers,
            events: &self.outbox.events,
            status: &self.status,
        }
    }

    /// The first promise that the engine broke; `None` as long as it works.
    pub fn broken(&self) -> Option<Breach> {
        self.breach
    }

    /// As after the last tick.
    pub fn status(&self) -> &Status {
        &self.status
    }

    /// By `AxisId`, the widest limits that applied in the last tick: while a hold or a stop brakes, the stopping ones.
    pub fn regimes(&self) -> &[Regime] {
        &self.regimes
    }

    fn judge_conditions(&mut self) {
        let (groups, states) = (&self.groups, &self.cues);
        let now = |cue: CueId| {
            let member = groups.member(cue).or_else(|| groups.parked_member(cue));
            (states[cue.index()], member.map(|member| member.time))
        };
        self.world.judge(&self.show, self.tick, now);
        for (index, &truth) in self.world.interlocks.iter().enumerate() {
            // The status still holds the tick before.
            if truth != self.status.interlocks[index] {
                let interlock = InterlockId::new(index);
                self.outbox.event(EventKind::Interlock { interlock, truth });
            }
        }
    }

    fn command_rigs(&mut self) {
        let powered = self.armed || !self.is_at_rest();
        for (command, disabled) in self.commands.iter_mut().zip(&self.disabled) {
            *command = RigCommand { enable: powered && !disabled, heartbeat: !disabled };
        }
    }

    /// Standby cues judged anew: one that was ready and whose pose, condition or interlock has changed is dropped,
    /// and with it what stood behind it.
    fn judge_standby(&mut self) {
        for index in 0..self.standby.len() {
            let (cue, start) = (self.standby[index].cue, self.standby[index].start);
            let reasons = self.reasons_against(cue, start);
            let entry = &mut self.standby[index];
            let ready = reasons.is_empty();
            let drops = entry.was_ready && reasons.reasons.iter().any(Reason::drops_standby);
            if ready != entry.reasons.is_empty() {
                self.outbox.event(EventKind::Standby { cue, ready });
            }
            let entry = &mut self.standby[index];
            entry.ready_ticks = if ready { entry.ready_ticks + 1 } else { 0 };
            entry.was_ready |= f64::from(entry.ready_ticks) * self.period.seconds() >= READY_FOR;
            entry.reasons = reasons;
            if drops {
                let reasons = self.standby[index].reasons.clone();
                self.outbox.event(EventKind::Dropped { cue, reasons });
                self.standby.truncate(index);
                return;
            }
        }
    }

    /// An invariant broke: everything stops and loses power, and only a new start of the program helps.
    fn break_down(&mut self, breach: Breach) {
        if self.breach.is_none() {
            self.breach = Some(breach);
            self.faults.add(Fault::Engine);
            self.outbox.event(EventKind::Fault { fault: Fault::Engine });
        }
        self.stop(Cause::Fault(Fault::Engine));
        self.disabled.fill(true);
        self.command_rigs();
        self.fill_status();
    }
}
