//! Names as clients write them, to the indices of the show.

use core::net::IpAddr;
use core::ops::Range;

use super::misheard::{Misheard, quoted};
use crate::engine::{NoSuchFault, SimFault, SimFaultKind};
use crate::show::{AxisId, CueId, CueNumber, Input, InputId, Rig, RigId, Show};

/// The names that requests may use. Made once for a show; small, and shared by every road.
#[derive(Clone, Debug)]
pub struct Names {
    /// By `CueId`, rising.
    cues: Vec<CueNumber>,
    /// By `InputId`.
    inputs: Vec<String>,
    /// By `RigId`.
    rigs: Vec<RigNames>,
}

#[derive(Clone, Debug)]
struct RigNames {
    name: String,
    ids: Range<u16>,
    /// By `ids`.
    axes: Vec<String>,
    marks: Vec<(String, Vec<(AxisId, f64)>)>,
}

impl Names {
    pub fn new(show: &Show) -> Names {
        Names {
            cues: show.cues.iter().map(|cue| cue.number.clone()).collect(),
            inputs: show.inputs.iter().map(|input| input.name.clone()).collect(),
            rigs: show.rigs.iter().map(|rig| RigNames::new(show, rig)).collect(),
        }
    }

    /// # Errors
    /// Text that is no cue number, or the number of no cue.
    pub fn cue(&self, text: &str) -> Result<CueId, Misheard> {
        let number: CueNumber = text.parse().map_err(|why| Misheard::NotACueNumber { asked: quoted(text), why })?;
        self.cues.binary_search(&number).map(CueId::new).map_err(|_| Misheard::UnknownCue {
            asked: quoted(text),
            nearest: self.sounding_like(text).or_else(|| nearest(text, self.cues.iter().map(CueNumber::to_string))),
        })
    }

    /// What may stand on standby or run: a cue, or the preset or a take that is played back, which are in no list.
    ///
    /// # Errors
    /// As [`Names::cue`].
    pub fn cue_or_slot(&self, text: &str) -> Result<CueId, Misheard> {
        if text == "preset" { Ok(CueId::new(self.cues.len())) } else { self.cue_or_take(text) }
    }

    /// What has a start and a way back: a cue, or a take that is played back.
    ///
    /// # Errors
    /// As [`Names::cue`].
    pub fn cue_or_take(&self, text: &str) -> Result<CueId, Misheard> {
        if text == "take" { Ok(CueId::new(self.cues.len() + 1)) } else { self.cue(text) }
    }

    /// A teen heard as a ten, or the other way: 30 for 13, 16 for 60.
    fn sounding_like(&self, text: &str) -> Option<String> {
        let (first, rest) = text.split_at(text.find('.').unwrap_or(text.len()));
        let twin = match first.as_bytes() {
            [ten @ b'3'..=b'9', b'0'] => format!("1{}{rest}", char::from(*ten)),
            [b'1', teen @ b'3'..=b'9'] => format!("{}0{rest}", char::from(*teen)),
            _ => return None,
        };
        let number: CueNumber = twin.parse().ok()?;
        self.cues.binary_search(&number).is_ok().then_some(twin)
    }

    /// # Errors
    /// The name of no input.
    pub fn input(&self, name: &str) -> Result<InputId, Misheard> {
        let found = self.inputs.iter().position(|known| known == name).map(InputId::new);
        found.ok_or_else(|| Misheard::UnknownInput {
            asked: quoted(name),
            nearest: nearest(name, self.inputs.iter().cloned()),
        })
    }
}

impl Names {
    /// # Errors
    /// The name of no rig.
    pub fn rig(&self, name: &str) -> Result<RigId, Misheard> {
        self.rigs.iter().position(|rig| rig.name == name).map(RigId::new).ok_or_else(|| {
            let known: Vec<&str> = self.rigs.iter().map(|rig| rig.name.as_str()).collect();
            unknown("there is no rig", name, &known)
        })
    }

    /// # Errors
    /// The name of no rig, or of no axis of it.
    pub fn axis(&self, rig: &str, axis: &str) -> Result<AxisId, Misheard> {
        self.rigs[self.rig(rig)?.index()].axis(axis)
    }

    /// Where a mark of its rig has an axis.
    ///
    /// # Errors
    /// The name of no mark that has the axis.
    pub fn mark(&self, axis: AxisId, name: &str) -> Result<f64, Misheard> {
        let marks =
            self.rigs.iter().find(|rig| rig.ids.contains(&(axis.index() as u16))).map_or(&[][..], |rig| &rig.marks);
        let of_axis = |pose: &[(AxisId, f64)]| pose.iter().find(|(of, _)| *of == axis).map(|(_, at)| *at);
        let found = marks.iter().find(|(known, _)| known == name).and_then(|(_, pose)| of_axis(pose));
        found.ok_or_else(|| {
            let with_axis = marks.iter().filter(|(_, pose)| of_axis(pose).is_some());
            let known: Vec<&str> = with_axis.map(|(name, _)| name.as_str()).collect();
            unknown("there is no mark of that axis", name, &known)
        })
    }

    /// The fault of a simulated rig as a client writes it: to begin, or with `on` false to end.
    ///
    /// # Errors
    /// Names that are not known, or that make no fault together.
    pub fn sim_fault(&self, written: &SimFaultAsked) -> Result<SimFault, Misheard> {
        let SimFaultAsked { rig: asked, axis, kind, size, on } = written;
        let id = self.rig(asked)?;
        let rig = &self.rigs[id.index()];
        let axis = axis.as_deref().map(|axis| rig.axis(axis)).transpose()?;
        let sort = SimFaultKind::from_word(kind)
            .ok_or_else(|| unknown("there is no fault", kind, &SimFaultKind::ALL.map(SimFaultKind::word)))?;
        let made = match (on, size) {
            (true, _) => sort.of(id, &rig.ids, axis, *size),
            (false, None) => sort.ending(id, &rig.ids, axis),
            (false, Some(_)) => Err(NoSuchFault::NoSize),
        };
        made.map_err(|why| Misheard::NoSuchFault {
            kind: sort.word(),
            rig: rig.name.clone(),
            axes: rig.axes.join(", "),
            why,
        })
    }
}

/// A fault of a simulated rig, in a client's words.
#[derive(Clone, Debug, PartialEq)]
pub struct SimFaultAsked {
    pub rig: String,
    pub axis: Option<String>,
    pub kind: String,
    pub size: Option<f64>,
    pub on: bool,
}

impl RigNames {
    fn new(show: &Show, rig: &Rig) -> RigNames {
        let axes = rig.axis_ids().map(|axis| show.axis(axis).name.clone()).collect();
        let marks = rig.marks.iter().map(|mark| (mark.name.clone(), mark.pose.clone())).collect();
        RigNames { name: rig.name.clone(), ids: rig.axes.clone(), axes, marks }
    }

    fn axis(&self, name: &str) -> Result<AxisId, Misheard> {
        let found = self.ids.clone().zip(&self.axes).find(|(_, known)| *known == name);
        found.map(|(id, _)| AxisId(id)).ok_or_else(|| {
            let known: Vec<&str> = self.axes.iter().map(String::as_str).collect();
            unknown(&format!("{} has no axis", self.name), name, &known)
        })
    }
}

fn unknown(what: &str, asked: &str, known: &[&str]) -> Misheard {
    let known: Vec<String> = known.iter().map(|&name| name.to_owned()).collect();
    Misheard::unknown(what, asked, &known)
}

/// Whether an input may be set from an address: an input is believed from its one named source.
///
/// # Errors
/// Another source than the one that the show file names.
pub fn believes(input: &Input, sender: IpAddr) -> Result<(), Misheard> {
    let sender = sender.to_canonical();
    match &input.source {
        None => Ok(()),
        Some(source) if source.parse::<IpAddr>().is_ok_and(|source| source.to_canonical() == sender) => Ok(()),
        Some(source) => Err(Misheard::ForeignSource {
            input: input.name.clone(),
            expected: source.clone(),
            found: sender.to_string(),
        }),
    }
}

/// The known name that a slip of the finger most likely meant, if any is near.
pub(crate) fn nearest<Name: AsRef<str>>(asked: &str, known: impl Iterator<Item = Name>) -> Option<Name> {
    const ASKED_MAX: usize = 100;
    if asked.len() > ASKED_MAX {
        return None;
    }
    let asked = asked.to_lowercase();
    let near = (asked.chars().count() / 3).max(1);
    known
        .map(|name| (strsim::damerau_levenshtein(&asked, &name.as_ref().to_lowercase()), name))
        .filter(|&(distance, _)| distance <= near)
        .min_by_key(|&(distance, _)| distance)
        .map(|(_, name)| name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire::sample;

    #[test]
    fn a_cue_is_found_by_its_number_and_a_slip_is_pointed_out() {
        let names = sample::names();
        assert_eq!(names.cue("12.5"), Ok(CueId(3)));
        let nearest = |text: &str| match names.cue(text) {
            Err(Misheard::UnknownCue { nearest, .. }) => nearest,
            other => panic!("{text}: {other:?}"),
        };
        assert_eq!(nearest("30"), Some("13".into()));
        assert_eq!(nearest("40"), None);
        assert_eq!(nearest("123"), Some("12".into()));
        assert_eq!(nearest("400.17"), None);
        assert_eq!(names.cue_or_slot("preset"), Ok(CueId(5)), "one past the list");
        assert_eq!(names.cue_or_slot("take"), Ok(CueId(6)));
        assert_eq!(names.cue_or_take("take"), Ok(CueId(6)));
        assert!(names.cue_or_take("preset").is_err(), "a preset has no way back");
        for text in ["preset", "take", "", "12.", "012", "12,5", " 12", "12.5.", "1e1", "-1", &"9".repeat(5000)] {
            let Err(Misheard::NotACueNumber { asked, .. }) = names.cue(text) else { panic!("{text}") };
            assert!(asked.chars().count() <= 61);
        }
    }

    #[test]
    fn an_input_is_believed_from_its_one_source() {
        let show = sample::show();
        let address = |text: &str| text.parse().expect("an address");
        let [anyone, one] = &show.inputs[..] else { panic!("two inputs") };
        assert_eq!(believes(anyone, address("192.0.2.9")), Ok(()));
        assert_eq!(believes(one, address("10.0.0.7")), Ok(()));
        assert_eq!(believes(one, address("::ffff:10.0.0.7")), Ok(()));
        let why = believes(one, address("10.0.0.70")).expect_err("another source");
        assert_eq!(why.to_string(), "input 'deck clear' is believed from 10.0.0.7 only; this came from 10.0.0.70");
    }
}
