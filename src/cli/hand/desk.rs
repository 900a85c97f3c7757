//! What the operator's hands ask for: levers, buttons and the map, to what is said to the daemon. No clock, no socket.
//!
//! Nothing but zero is said unless the button to hold is held. A stick that stands pushed as it begins to count (the button is
//! pressed, the layer changes, the device is plugged in) has to be let go once first; whatever ends the holding says zero at
//! once, and lets go of the dials.

use std::collections::BTreeMap;

use super::heard::{Heard, Place};
use crate::motion::Response;
use crate::show::hand::{Button, Drive, DriveKind, FocusTo, HandMap, Lever};

/// What is said of one axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Say {
    /// A share of its full speed, -1 to 1.
    Stick(f64),
    /// A place in its travel, 0 to 1.
    Dial(f64),
    /// Its dial drives it no more.
    LetGo,
}

/// What the operator wants besides.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wish {
    Nothing,
    /// Something has to be said at once.
    Now,
    Stop,
}

pub struct Desk {
    map: HandMap,
    device: Option<String>,
    levers: BTreeMap<Lever, Place>,
    pressed: Vec<Button>,
    layer: usize,
    /// Whether sticks and dials count.
    held: bool,
    /// By the number of a drive: whether its stick has been let go since it counts.
    ready: Vec<bool>,
    /// By the number of a drive: what was said last.
    said: Vec<Option<Say>>,
    /// By the number of a focus button: the focus of its rig follows what that says.
    follows: Vec<bool>,
    /// What is still to be said of it.
    focus_due: Vec<(usize, bool)>,
}

impl Desk {
    pub fn new(map: HandMap) -> Desk {
        let (count, focuses) = (map.drives.len(), map.focuses.len());
        Desk {
            map,
            device: None,
            levers: BTreeMap::new(),
            pressed: Vec::new(),
            layer: 0,
            held: false,
            ready: vec![false; count],
            said: vec![None; count],
            follows: vec![false; focuses],
            focus_due: Vec::new(),
        }
    }

    pub fn map(&self) -> &HandMap {
        &self.map
    }

    pub fn device(&self) -> Option<&str> {
        self.device.as_deref()
    }

    pub fn layer(&self) -> usize {
        self.layer
    }

    pub fn is_held(&self) -> bool {
        self.held
    }

    pub fn levers(&self) -> impl Iterator<Item = (Lever, Place)> + '_ {
        self.levers.iter().map(|(lever, place)| (*lever, *place))
    }

    pub fn pressed(&self) -> &[Button] {
        &self.pressed
    }

    /// The drives of a lever in the present layer, with what was said of each last.
    pub fn drives_of(&self, lever: Lever) -> impl Iterator<Item = (&Drive, Option<Say>)> {
        let drives = self.map.drives.iter().zip(&self.said);
        drives
            .filter(move |(drive, _)| drive.lever == lever && drive.is_in(self.layer))
            .map(|(drive, said)| (drive, *said))
    }

    /// Takes in what the device says.
    pub fn hear(&mut self, heard: &Heard) -> Wish {
        match heard {
            Heard::Found(name) => {
                self.forget();
                self.device = Some(name.clone());
                Wish::Now
            }
            Heard::Lever(lever, place) => {
                self.levers.insert(*lever, *place);
                // Between two of the regular times only if it drives something.
                if self.held && self.drives_of(*lever).next().is_some() { Wish::Now } else { Wish::Nothing }
            }
            Heard::Button(button, true) => self.press(*button),
            Heard::Button(button, false) => {
                self.pressed.retain(|pressed| pressed != button);
                if *button == self.map.hold { self.let_go() } else { Wish::Nothing }
            }
            Heard::Lost(_) | Heard::End => {
                self.forget();
                Wish::Now
            }
            Heard::Trouble(_) => Wish::Nothing,
        }
    }

    fn press(&mut self, button: Button) -> Wish {
        if self.pressed.contains(&button) {
            return Wish::Nothing;
        }
        self.pressed.push(button);
        if Some(button) == self.map.stop {
            self.let_go();
            return Wish::Stop;
        }
        if button == self.map.hold {
            self.held = self.device.is_some();
            self.ready.fill(false);
            return Wish::Now;
        }
        if let Some(index) = self.map.focuses.iter().position(|focus| focus.button == button) {
            return self.press_focus(index);
        }
        let next = (Some(button) == self.map.next).then(|| (self.layer + 1) % self.map.layers.len());
        let own = self.map.layers.iter().position(|layer| layer.button == Some(button));
        match next.or(own) {
            Some(layer) if layer != self.layer => {
                self.layer = layer;
                self.ready.fill(false);
                Wish::Now
            }
            Some(_) | None => Wish::Nothing,
        }
    }

    /// One thing at a time for each rig; the same button again is nothing. It counts only while the button to hold is held.
    fn press_focus(&mut self, index: usize) -> Wish {
        if !self.held {
            return Wish::Nothing;
        }
        let follow = !self.follows[index];
        for other in 0..self.follows.len() {
            if self.map.focuses[other].rig == self.map.focuses[index].rig {
                self.follows[other] = follow && other == index;
            }
        }
        self.focus_due.push((index, follow));
        Wish::Now
    }

    /// What is to be said of focuses: of a rig, and what its focus follows from now on, if anything.
    pub fn focus_due(&mut self) -> Vec<(String, Option<FocusTo>)> {
        let focuses = &self.map.focuses;
        let told = |(index, follow): (usize, bool)| {
            let focus = &focuses[index];
            (focus.rig.clone(), follow.then(|| focus.on.clone()))
        };
        std::mem::take(&mut self.focus_due).into_iter().map(told).collect()
    }

    /// Zero, until the button is pressed again: the window lost its focus, the stop was asked for, or it was let go.
    pub fn let_go(&mut self) -> Wish {
        self.held = false;
        self.ready.fill(false);
        for index in 0..self.follows.len() {
            if std::mem::take(&mut self.follows[index]) {
                self.focus_due.push((index, false));
            }
        }
        Wish::Now
    }

    fn forget(&mut self) {
        self.let_go();
        self.device = None;
        self.levers.clear();
        self.pressed.clear();
    }

    /// What has to be said now, of which drive. Of what is held all of it, again and again: silence is zero. Of the rest only
    /// that it is over.
    pub fn due(&mut self) -> Vec<(usize, Say)> {
        let mut due = Vec::new();
        for index in 0..self.map.drives.len() {
            let counts = self.held && self.map.drives[index].is_in(self.layer);
            let say = if counts { self.asked(index) } else { self.over(index) };
            if let Some(say) = say {
                due.push((index, say));
                self.said[index] = Some(say);
            }
        }
        due
    }

    /// What a drive that counts asks for; nothing of a lever that has not said yet where it stands.
    fn asked(&mut self, index: usize) -> Option<Say> {
        let drive = &self.map.drives[index];
        let share = self.levers.get(&drive.lever).and_then(|place| place.share());
        match drive.kind {
            DriveKind::Stick { dead_band, taper } => {
                let response = Response::new(dead_band, taper, drive.reversed).ok()?;
                let shaped = response.shaped(2.0 * share? - 1.0)?;
                self.ready[index] |= shaped == 0.0;
                Some(Say::Stick(if self.ready[index] { shaped } else { 0.0 }))
            }
            DriveKind::Dial => share.map(|share| Say::Dial(if drive.reversed { 1.0 - share } else { share })),
        }
    }

    /// What ends a drive that counts no more, once.
    fn over(&self, index: usize) -> Option<Say> {
        match self.said[index]? {
            Say::Stick(0.0) | Say::LetGo => None,
            Say::Stick(_) => Some(Say::Stick(0.0)),
            Say::Dial(_) => Some(Say::LetGo),
        }
    }
}
