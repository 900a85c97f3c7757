//! The search for an order of the legs.
//!
//! A set of rigs that have gone is a node; a leg that is clear leads to the set with one more. Rigs are tried in the
//! order preferred, depth-first, so that the first way found is the one nearest to that order. A set that leads nowhere
//! is kept in mind. Where the leg that led into it can bar no other leg that was clear before it, the set before it leads
//! nowhere either: so two rigs that block each other are found out without trying all orders of the rest.

use arrayvec::ArrayVec;

use super::ground::Ground;
use super::probe::{Answer, Question};
use super::{Bar, PRESET_RIGS_MAX, Task};
use crate::show::{RigId, Show};

/// Sets that lead nowhere, kept in mind.
const FAILED_MAX: usize = 8192;
/// Answers kept in mind at most.
const KNOWN_MAX: usize = 1 << 15;

/// What is to be done next.
pub enum Next {
    On,
    Ask(Question),
    Found,
    Barred,
}

/// What is not known yet.
struct Unknown(Question);

#[derive(Clone, Copy, Debug)]
struct Step {
    place: u8,
    way: u16,
}

#[derive(Clone, Debug)]
pub struct Search {
    path: ArrayVec<Step, PRESET_RIGS_MAX>,
    /// What is tried next from the end of the path.
    next: Step,
    /// The set at the end of the path leads nowhere.
    backing: bool,
    /// Whether rigs may go through their marks.
    through_marks: bool,
    /// In order.
    failed: Vec<u32>,
    /// In order of the questions.
    known: Vec<(Question, Answer)>,
    /// The largest set from which no straight leg leads on.
    deepest: u32,
    /// There was no room for what had to be kept in mind.
    full: bool,
}

impl Search {
    pub fn new(show: &Show) -> Search {
        let ways: usize = show.rigs.iter().map(|rig| 1 + rig.marks.len()).sum();
        // Twice for every other rig, there and gone, if none rides on another; and as much again.
        let known = (4 * ways * (show.rigs.len() + 1 + show.interlocks.len())).clamp(256, KNOWN_MAX);
        Search {
            path: ArrayVec::new(),
            next: FIRST,
            backing: false,
            through_marks: false,
            failed: Vec::with_capacity(FAILED_MAX),
            known: Vec::with_capacity(known),
            deepest: 0,
            full: false,
        }
    }

    pub fn begin(&mut self) {
        self.known.clear();
        (self.through_marks, self.full, self.deepest) = (false, false, 0);
        self.start_over();
    }

    fn start_over(&mut self) {
        self.path.clear();
        self.failed.clear();
        (self.next, self.backing) = (FIRST, false);
    }

    pub fn learn(&mut self, question: Question, answer: Answer) {
        if let Err(at) = self.known.binary_search_by_key(&question, |(asked, _)| *asked) {
            if self.known.len() == self.known.capacity() {
                self.full = true;
            } else {
                self.known.insert(at, (question, answer));
            }
        }
    }

    /// Whether it ended because there was no room to keep more in mind, not because all orders were ruled out.
    pub fn is_full(&self) -> bool {
        self.full
    }

    /// Places in the order and ways, as far as it has come.
    pub fn path(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        self.path.iter().map(|step| (usize::from(step.place), usize::from(step.way)))
    }

    pub fn step(&mut self, show: &Show, ground: &Ground, task: &Task) -> Next {
        if self.full {
            return Next::Barred;
        }
        let done = if self.backing { self.back(show, ground, task) } else { self.forth(show, ground, task) };
        done.unwrap_or_else(|Unknown(question)| Next::Ask(question))
    }

    fn forth(&mut self, show: &Show, ground: &Ground, task: &Task) -> Result<Next, Unknown> {
        let gone = self.gone();
        if gone == task.everyone() {
            return Ok(Next::Found);
        }
        let Step { place, way } = self.next;
        let Some(&rig) = task.order.get(usize::from(place)) else {
            if !self.through_marks && gone.count_ones() >= self.deepest.count_ones() {
                self.deepest = gone;
            }
            return Ok(self.fail(gone, show, task));
        };
        let with = gone | 1 << place;
        let past = usize::from(way) > self.ways_beside(show, rig);
        if gone == with || past || self.failed.binary_search(&with).is_ok() {
            self.next = Step { place: place + 1, way: 0 };
        } else if self.is_clear(ground, task, self.next, gone)? {
            self.path.push(self.next);
            self.next = FIRST;
        } else {
            self.next.way += 1;
        }
        Ok(Next::On)
    }

    /// From a set that leads nowhere to the one before it.
    fn back(&mut self, show: &Show, ground: &Ground, task: &Task) -> Result<Next, Unknown> {
        let Some(&last) = self.path.last() else { return Ok(Next::Barred) };
        let gone = self.gone() & !(1 << last.place);
        let harmless = self.is_harmless(show, ground, task, last.place, gone)?;
        self.path.pop();
        if harmless {
            return Ok(self.fail(gone, show, task));
        }
        self.backing = false;
        self.next = Step { place: last.place + 1, way: 0 };
        Ok(Next::On)
    }

    /// The set at the end of the path leads nowhere.
    fn fail(&mut self, gone: u32, show: &Show, task: &Task) -> Next {
        if !self.path.is_empty() {
            self.backing = true;
            self.full |= self.failed.len() == self.failed.capacity();
            if let (Err(at), false) = (self.failed.binary_search(&gone), self.full) {
                self.failed.insert(at, gone);
            }
            return Next::On;
        }
        let marks = task.order.iter().any(|&rig| !show.rig(rig).marks.is_empty());
        if self.through_marks || !marks {
            return Next::Barred;
        }
        self.start_over();
        self.through_marks = true;
        Next::On
    }

    fn gone(&self) -> u32 {
        self.path.iter().fold(0, |gone, step| gone | 1 << step.place)
    }

    /// How many ways a rig may try besides the straight one.
    fn ways_beside(&self, show: &Show, rig: RigId) -> usize {
        if self.through_marks { show.rig(rig).marks.len() } else { 0 }
    }

    fn answer(&self, question: Question) -> Result<&Answer, Unknown> {
        match self.known.binary_search_by_key(&question, |(asked, _)| *asked) {
            Ok(at) => Ok(&self.known[at].1),
            Err(_) => Err(Unknown(question)),
        }
    }

    /// Whether a leg is clear of everything while these have gone.
    fn is_clear(&self, ground: &Ground, task: &Task, step: Step, gone: u32) -> Result<bool, Unknown> {
        for question in questions(ground, task, step, gone) {
            if self.answer(question)?.is_some() {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Whether no leg that is clear with this rig where it was can be barred by it where it goes.
    fn is_harmless(
        &self,
        show: &Show,
        ground: &Ground,
        task: &Task,
        place: u8,
        gone: u32,
    ) -> Result<bool, Unknown> {
        let bit = 1 << place;
        let left = task.everyone() & !gone & !bit;
        for (other, &rig) in task.order.iter().enumerate().filter(|(other, _)| left >> other & 1 == 1) {
            for against in ground.others(rig) {
                let concerned = ground.concerned_bits(task, rig, *against);
                if concerned & bit == 0 {
                    continue;
                }
                if concerned & left != 0 {
                    // It depends on a third one too, wherever that will be then.
                    return Ok(false);
                }
                for way in 0..=self.ways_beside(show, rig) {
                    let question = |gone: u32| Question {
                        place: other as u8,
                        way: way as u16,
                        other: *against,
                        gone: gone & concerned,
                    };
                    if self.answer(question(gone))?.is_none() && self.answer(question(gone | bit))?.is_some() {
                        return Ok(false);
                    }
                }
            }
        }
        Ok(true)
    }

    /// Every question that was asked of the legs along the path.
    pub fn questions_of_path<'a>(
        &'a self,
        ground: &'a Ground,
        task: &'a Task,
    ) -> impl Iterator<Item = Question> + 'a {
        self.path
            .iter()
            .scan(0, move |gone, step| {
                let before = *gone;
                *gone |= 1 << step.place;
                Some(questions(ground, task, *step, before))
            })
            .flatten()
    }

    /// What is known to be in the way of the straight legs that the deepest set has left.
    pub fn bars<'a>(&'a self, ground: &'a Ground, task: &'a Task) -> impl Iterator<Item = Bar> + 'a {
        let left = task.everyone() & !self.deepest;
        let of = move |place: usize| {
            let straight = Step { place: place as u8, way: 0 };
            let mut asked = questions(ground, task, straight, self.deepest);
            asked.find_map(|question| self.answer(question).ok().copied().flatten())
        };
        (0..task.order.len()).filter(move |place| left >> place & 1 == 1).filter_map(of)
    }
}

const FIRST: Step = Step { place: 0, way: 0 };

fn questions<'a>(ground: &'a Ground, task: &'a Task, step: Step, gone: u32) -> impl Iterator<Item = Question> + 'a {
    let rig = task.order[usize::from(step.place)];
    ground.others(rig).iter().map(move |&other| Question {
        place: step.place,
        way: step.way,
        other,
        gone: gone & ground.concerned_bits(task, rig, other),
    })
}
