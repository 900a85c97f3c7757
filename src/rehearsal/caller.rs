//! The caller: puts each cue on standby in the order of the list and gives its GO when it is due and ready.

use std::ops::ControlFlow;

use super::floor::{CALLER, Floor, Flow, OPERATOR};
use super::hands::Hands;
use super::operator::Operator;
use super::record::{Ending, Options, Outcome};
use crate::engine::{EventKind, Reason, Refusal, StopLane, Verb};
use crate::show::{After, CueId, CueState};

/// s that nothing must have moved before what is not ready is taken for refused.
const SETTLE: f64 = 2.0;
/// s between two standbys of a cue that was dropped, and between two tries to resume or to reset.
const AGAIN: f64 = 0.5;
/// s for which the crew tries to get a held or stopped show going again.
const PATIENCE: f64 = 10.0;
/// s at most that a caller at random lets a ready cue wait.
const DAWDLE: f64 = 5.0;

pub struct Caller<'a, 'b> {
    pub floor: &'b mut Floor<'a>,
    options: &'b Options,
    operator: Option<Operator>,
    hands: Option<Hands>,
    first: CueId,
    last: CueId,
    /// By `CueId`: what will not be called again, other than for being done.
    given_up: Vec<Option<Outcome>>,
    /// A fault has stopped the show, or a rig in hand was left elsewhere: rigs may stand beside their paths, and a crew presets
    /// them.
    stopped: bool,
    /// By `CueId`: its rigs were preset once.
    preset: Vec<bool>,
    /// Events that were read for refused follows.
    read: usize,
    /// When the last GO was given.
    called: Option<f64>,
    /// Since when nothing runs and nothing is about to.
    quiet_since: Option<f64>,
}

impl<'a, 'b> Caller<'a, 'b> {
    pub fn new(floor: &'b mut Floor<'a>, options: &'b Options, scope: [CueId; 2]) -> Caller<'a, 'b> {
        Caller {
            given_up: vec![None; floor.show.cues.len()],
            preset: vec![false; floor.show.cues.len()],
            stopped: false,
            operator: options.seed.map(|seed| Operator::new(seed, options.master)),
            hands: options.seed.map(Hands::new),
            floor,
            options,
            first: scope[0],
            last: scope[1],
            read: 0,
            called: None,
            quiet_since: None,
        }
    }

    /// Calls the whole list; afterwards everything stands.
    pub fn call_all(&mut self) -> Flow {
        loop {
            match self.next() {
                Some(cue) => self.call(cue)?,
                None if self.quiet_for() > SETTLE => return Flow::Continue(()),
                None => self.pass()?,
            }
        }
    }

    /// Writes down how every cue came out that did not come to its end.
    pub fn settle(&mut self) {
        for cue in self.scope() {
            let given_up = self.given_up[cue.index()].take();
            let leading = self.leader(cue);
            let waits = self.floor.status().cues[cue.index()] == CueState::Waiting;
            let leader_missing = leading.is_some_and(|leading| {
                self.in_scope(leading)
                    && match self.floor.watch.cues[leading.index()].outcome {
                        Outcome::Refused(_) | Outcome::NoLeader { .. } | Outcome::NoCondition => true,
                        Outcome::Done | Outcome::OnItsWay | Outcome::NotReached => false,
                    }
            });
            let under_way = self.floor.watch.is_under_way(cue);
            let record = &mut self.floor.watch.cues[cue.index()];
            record.outcome = match (given_up, record.ended, leading) {
                (Some(outcome), ..) => outcome,
                (None, Some(_), _) if !under_way => Outcome::Done,
                (None, ..) if under_way => Outcome::OnItsWay,
                (None, ..) if waits => Outcome::NoCondition,
                (None, _, Some(leading)) if leader_missing => Outcome::NoLeader { leading },
                (None, ..) => Outcome::NotReached,
            };
        }
    }

    fn scope(&self) -> impl Iterator<Item = CueId> + use<> {
        (self.first.index()..=self.last.index()).map(CueId::new)
    }

    fn in_scope(&self, cue: CueId) -> bool {
        (self.first..=self.last).contains(&cue)
    }

    /// The first cue of the list that somebody has to call now.
    fn next(&self) -> Option<CueId> {
        self.scope().find(|&cue| self.wants_a_call(cue))
    }

    fn wants_a_call(&self, cue: CueId) -> bool {
        if self.given_up[cue.index()].is_some() {
            return false;
        }
        let record = &self.floor.watch.cues[cue.index()];
        match self.floor.status().cues[cue.index()] {
            CueState::Done | CueState::Waiting | CueState::Running | CueState::Holding | CueState::Returning => {
                false
            }
            CueState::Stopped => true,
            // A standby before it takes the mark of having been done away.
            CueState::Idle | CueState::Standby if record.ended.is_some() => self.floor.watch.is_under_way(cue),
            CueState::Idle | CueState::Standby => match self.leader(cue) {
                // A follow whose leader was run and that does not wait any longer lost its chain to a stop.
                Some(leading) if self.in_scope(leading) => self.floor.watch.cues[leading.index()].ended.is_some(),
                Some(_) | None => true,
            },
        }
    }

    /// The cue that a follow hangs on.
    fn leader(&self, cue: CueId) -> Option<CueId> {
        match &self.floor.show.cue(cue).after {
            Some(After::Start { cue: leading, .. } | After::End { cue: leading, .. }) => Some(*leading),
            // Of a condition: it waits from the start of the cue before it in the list.
            Some(After::When(_)) => Some(CueId::new(cue.index().saturating_sub(1))).filter(|&before| before != cue),
            None => None,
        }
    }

    /// Standby, and GO when it is due and ready; or its refusal. Returns early when another cue comes first now.
    fn call(&mut self, cue: CueId) -> Flow {
        let due = self.due(cue);
        self.floor.watch.cues[cue.index()].due = due;
        let (early, dawdle) = self.mood();
        let mut ready_since = None;
        let mut asked = f64::NEG_INFINITY;
        let mut seen = self.floor.watch.events.len();
        loop {
            let events = self.floor.watch.events.len();
            if std::mem::replace(&mut seen, events) != events && self.next() != Some(cue) {
                return Flow::Continue(());
            }
            let now = self.floor.time();
            let quiet = self.quiet_for();
            let standby = self.floor.status().standby.first();
            let ready = standby.is_some_and(|entry| entry.cue == cue && entry.ready);
            if standby.is_none_or(|entry| entry.cue != cue) && now >= asked + AGAIN {
                asked = now;
                self.place_again(cue)?;
                let (cues, skip) = ([cue].into_iter().collect(), self.passes_over(cue));
                self.floor.ask(CALLER, Verb::Standby { cues, skip })?.ok();
                continue;
            }
            // Even a hasty caller lets a follow come that waits: a call past it would break its chain.
            let early = early && self.floor.status().waiting.is_empty() && !self.breaks_a_chain(cue);
            let is_due = due.map_or(early || quiet > 0.0, |due| now >= due);
            let ready_at = *ready_since.get_or_insert(now);
            if !ready {
                ready_since = None;
            }
            let guard = self.called.is_none_or(|called| now > called + self.floor.show.settings.guard.seconds());
            let in_the_mood = ready && now >= ready_at + dawdle;
            if is_due && guard && (in_the_mood || quiet > SETTLE) {
                return self.go(cue);
            }
            self.pass()?;
        }
    }

    /// Whether a cue that follows this one moves a rig that another cue still has: no caller gives that GO early.
    fn breaks_a_chain(&self, cue: CueId) -> bool {
        let show = &self.floor.show;
        let rigs = |cue: CueId| show.listed(cue).into_iter().flat_map(|cue| cue.moves.iter().map(|step| step.rig));
        let running = &self.floor.status().running;
        let busy = |follow: CueId| {
            rigs(follow).any(|rig| running.iter().any(|one| rigs(one.cue).any(|other| other == rig)))
        };
        show.cue_ids().any(|follow| self.leader(follow) == Some(cue) && busy(follow))
    }

    /// After chance has had an earlier cue done again, those behind it that were done before are marked so once more.
    fn place_again(&mut self, cue: CueId) -> Flow {
        let status = self.floor.status();
        let forgotten = |&before: &CueId| {
            status.cues[before.index()] == CueState::Idle && self.floor.watch.cues[before.index()].ended.is_some()
        };
        let at_rest = status.running.is_empty() && status.waiting.is_empty();
        if self.operator.is_some()
            && at_rest
            && self.scope().take_while(|&before| before < cue).any(|before| forgotten(&before))
        {
            self.floor.ask(OPERATOR, Verb::Place { cue })?.ok();
        }
        Flow::Continue(())
    }

    fn go(&mut self, cue: CueId) -> Flow {
        // Not ready, it may not even stand by: its standby says why.
        let unready = self.floor.status().standby.first().filter(|entry| entry.cue == cue && !entry.ready);
        let unready = unready.map(|entry| entry.reasons.clone());
        let given = self.floor.time();
        match self.floor.ask(CALLER, Verb::Go { cue: Some(cue) })? {
            Ok(_) => (self.called, self.quiet_since) = (Some(given), None),
            Err(reasons) => {
                let reasons = unready.unwrap_or(reasons);
                let displaced = reasons
                    .reasons
                    .iter()
                    .all(|reason| reason.offers_preset() || matches!(reason, Reason::WayInWork { .. }));
                if self.stopped && displaced && !std::mem::replace(&mut self.preset[cue.index()], true) {
                    return self.preset(cue);
                }
                self.given_up[cue.index()] = Some(Outcome::Refused(self.floor.seeing(reasons)));
                self.count_settled();
            }
        }
        Flow::Continue(())
    }

    /// After a fault has left rigs beside their paths: takes them to where the cue starts, which is then called again.
    fn preset(&mut self, cue: CueId) -> Flow {
        self.floor.ask(OPERATOR, Verb::Preset { cue, held: false })?.ok();
        self.floor.wait(self.floor.show.settings.guard.seconds())?;
        if self.floor.ask(OPERATOR, Verb::Go { cue: None })?.is_ok() {
            let slot = self.floor.show.preset_id();
            while self.floor.status().running.iter().any(|running| running.cue == slot) {
                self.pass()?;
            }
        }
        self.quiet_since = None;
        // The rigs trail their setpoints a little.
        self.floor.wait(AGAIN)
    }

    /// When its gap has it called; none if it is called as soon as everything before has ended.
    fn due(&self, cue: CueId) -> Option<f64> {
        let gap = self.floor.show.cue(cue).gap.filter(|_| self.options.gaps && self.operator.is_none())?;
        let again = self.floor.watch.is_under_way(cue);
        self.called.filter(|_| !again).map(|called| called + gap)
    }

    /// A caller at random calls before everything has ended, or lets it wait.
    fn mood(&mut self) -> (bool, f64) {
        let Some(operator) = &mut self.operator else { return (false, 0.0) };
        let early = operator.chance.uniform() < 0.5;
        (early, operator.chance.between(0.0, DAWDLE))
    }

    /// Cues passed over are those that were refused or stopped, which nobody overlooks here, or lie before the first.
    fn passes_over(&self, cue: CueId) -> bool {
        let status = self.floor.status();
        cue.index() > 0 && matches!(status.cues[cue.index() - 1], CueState::Idle | CueState::Standby)
    }

    /// s since nothing runs and nothing waits for a time.
    fn quiet_for(&self) -> f64 {
        self.quiet_since.map_or(0.0, |since| self.floor.time() - since)
    }

    /// One tick, and whatever comes between.
    fn pass(&mut self) -> Flow {
        self.floor.tick()?;
        if let Some(operator) = &mut self.operator {
            operator.act(self.floor)?;
        }
        if let Some(hands) = &mut self.hands {
            self.stopped |= hands.act(self.floor)?;
        }
        self.hear_refused_follows();
        let status = self.floor.status();
        if status.stopped.is_some() {
            self.recover()?;
        } else if status.held {
            self.resume()?;
        }
        let status = self.floor.status();
        let busy = status.running.iter().any(|running| running.state != CueState::Stopped)
            || status.waiting.iter().any(|waiting| waiting.left.is_some());
        self.quiet_since = if busy { None } else { self.quiet_since.or(Some(self.floor.time())) };
        Flow::Continue(())
    }

    fn hear_refused_follows(&mut self) {
        let events = &self.floor.watch.events;
        if self.read == events.len() {
            return;
        }
        let mut refused: Vec<(CueId, Refusal)> = Vec::new();
        for (_, event) in &events[self.read..] {
            if let EventKind::Refused { request: None, cue: Some(cue), reasons, .. } = &event.kind {
                refused.push((*cue, reasons.clone()));
            }
        }
        self.read = events.len();
        if self.operator.is_some() {
            // Chance may let a follow come beside cues that the list never has it meet; a crew calls it by hand then.
            refused.retain(|(_, reasons)| !reasons.reasons.iter().all(is_company));
        }
        for (cue, reasons) in refused {
            self.given_up[cue.index()] = Some(Outcome::Refused(self.floor.seeing(reasons)));
        }
        self.count_settled();
    }

    fn count_settled(&mut self) {
        let settled = |&cue: &CueId| {
            self.given_up[cue.index()].is_some() || self.floor.watch.cues[cue.index()].ended.is_some()
        };
        let count = self.scope().filter(settled).count();
        self.floor.settled = (count, self.scope().count());
    }

    /// After a stop that nobody here asked for: the crew waits for standstill and resets it once its cause is gone.
    fn recover(&mut self) -> Flow {
        self.stopped = true;
        let begun = self.floor.time();
        let mut refused = Refusal::default();
        while self.floor.time() < begun + PATIENCE {
            self.floor.wait(AGAIN)?;
            match self.floor.ask(OPERATOR, Verb::Reset)? {
                Ok(_) => return self.floor.wait(AGAIN),
                Err(reasons) => refused = reasons,
            }
        }
        ControlFlow::Break(Ending::Stopped(self.floor.seeing(refused)))
    }

    /// Held by a condition: resumed once it is true again.
    fn resume(&mut self) -> Flow {
        let begun = self.floor.time();
        let mut refused = Refusal::default();
        while self.floor.time() < begun + PATIENCE {
            match self.floor.ask(OPERATOR, Verb::Resume { cue: None })? {
                Ok(_) => return Flow::Continue(()),
                Err(reasons) => refused = reasons,
            }
            self.floor.wait(AGAIN)?;
            let status = self.floor.status();
            if status.stopped.is_some() || !status.held {
                return Flow::Continue(());
            }
        }
        if self.operator.is_some() {
            self.start_over()
        } else {
            ControlFlow::Break(Ending::Held(self.floor.seeing(refused)))
        }
    }

    /// What chance has brought to where it can neither go on nor back: the crew stops, resets, and brings the rigs to where
    /// the first of what ran starts; from there it is called again.
    fn start_over(&mut self) -> Flow {
        let Some(first) = self.floor.status().running.iter().map(|running| running.cue).min() else {
            return Flow::Continue(());
        };
        self.floor.press_stop(StopLane::Rpc)?;
        self.recover()?;
        let preset = self.floor.show.preset_id();
        if self.floor.ask(OPERATOR, Verb::Preset { cue: first, held: false })?.is_err() {
            return Flow::Continue(());
        }
        self.floor.wait(self.floor.show.settings.guard.seconds() + AGAIN)?;
        let gone = self.floor.ask(OPERATOR, Verb::Go { cue: Some(preset) })?;
        while gone.is_ok()
            && self.floor.status().running.iter().any(|running| running.cue == preset && running.rate != 0.0)
        {
            self.floor.tick()?;
        }
        Flow::Continue(())
    }
}

/// What may stand in the way of a follow is another cue, which will have ended by and by.
fn is_company(reason: &Reason) -> bool {
    matches!(reason, Reason::NotProvedTogether { .. } | Reason::InTheWay { .. })
}
