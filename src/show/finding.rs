//! What the check has to say to the person who edits the files.

use serde::{Deserialize, Serialize};

use super::source::Place;

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    Error,
    Warning,
    Note,
}

impl Severity {
    pub fn word(self) -> &'static str {
        match self {
            Severity::Error => "error",
            Severity::Warning => "warning",
            Severity::Note => "note",
        }
    }
}

/// The contract's codes; scripts depend on the words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Code {
    Syntax,
    UnknownKey,
    UnknownName,
    DuplicateName,
    BadValue,
    NotSupported,
    Travel,
    Speed,
    Acceleration,
    Jerk,
    TooFast,
    Untimed,
    Take,
    StartPose,
    Ownership,
    Clearance,
    Overlap,
    Stall,
    Skip,
    InterlockCycle,
    InterlockBlocked,
    Follow,
    StopDistance,
    Winding,
    Unsurveyed,
}

impl Code {
    pub fn word(self) -> &'static str {
        match self {
            Code::Syntax => "syntax",
            Code::UnknownKey => "unknown-key",
            Code::UnknownName => "unknown-name",
            Code::DuplicateName => "duplicate-name",
            Code::BadValue => "bad-value",
            Code::NotSupported => "not-supported",
            Code::Travel => "travel",
            Code::Speed => "speed",
            Code::Acceleration => "acceleration",
            Code::Jerk => "jerk",
            Code::TooFast => "too-fast",
            Code::Untimed => "untimed",
            Code::Take => "take",
            Code::StartPose => "start-pose",
            Code::Ownership => "ownership",
            Code::Clearance => "clearance",
            Code::Overlap => "overlap",
            Code::Stall => "stall",
            Code::Skip => "skip",
            Code::InterlockCycle => "interlock-cycle",
            Code::InterlockBlocked => "interlock-blocked",
            Code::Follow => "follow",
            Code::StopDistance => "stop-distance",
            Code::Winding => "winding",
            Code::Unsurveyed => "unsurveyed",
        }
    }

    /// The severity of the code in the contract; `overlap` is an error where a follow runs into it.
    pub fn severity(self) -> Severity {
        match self {
            Code::Untimed => Severity::Note,
            Code::Overlap | Code::Stall | Code::Skip | Code::Unsurveyed => Severity::Warning,
            Code::Syntax
            | Code::UnknownKey
            | Code::UnknownName
            | Code::DuplicateName
            | Code::BadValue
            | Code::NotSupported
            | Code::Travel
            | Code::Speed
            | Code::Acceleration
            | Code::Jerk
            | Code::TooFast
            | Code::Take
            | Code::StartPose
            | Code::Ownership
            | Code::Clearance
            | Code::InterlockCycle
            | Code::InterlockBlocked
            | Code::Follow
            | Code::StopDistance
            | Code::Winding => Severity::Error,
        }
    }
}

/// One thing that the check has to say. The message says what, expected and found; `fix` says what to do.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    pub code: Code,
    pub severity: Severity,
    pub message: String,
    pub fix: Option<String>,
    pub place: Option<Place>,
    /// Another place that belongs to it, and why.
    pub also: Option<(Place, String)>,
    /// Cue numbers.
    pub cues: Vec<String>,
    pub rigs: Vec<String>,
    /// `rig.axis`.
    pub axes: Vec<String>,
    /// s, on the first cue's clock.
    pub time: Option<f64>,
    pub other_time: Option<f64>,
    pub value: Option<f64>,
    pub limit: Option<f64>,
    /// `rig.axis` and its position, where the finding is about how some axes stand.
    pub stands: Vec<(String, f64)>,
    /// Where everything stands at that instant, by `AxisId`, if that is beside the cues' paths: for a drawing.
    pub pose: Option<Vec<f64>>,
}

impl Finding {
    pub fn new(code: Code, message: impl Into<String>) -> Finding {
        Finding {
            code,
            severity: code.severity(),
            message: message.into(),
            fix: None,
            place: None,
            also: None,
            cues: Vec::new(),
            rigs: Vec::new(),
            axes: Vec::new(),
            time: None,
            other_time: None,
            value: None,
            limit: None,
            stands: Vec::new(),
            pose: None,
        }
    }

    /// The same where so many files stand before those that it was found in.
    pub fn after_files(mut self, before: u16) -> Finding {
        let places = self.place.iter_mut().chain(self.also.iter_mut().map(|(place, _)| place));
        places.for_each(|place| place.file += before);
        self
    }

    pub fn at(mut self, place: Place) -> Finding {
        self.place = Some(place);
        self
    }

    pub fn also(mut self, place: Place, why: impl Into<String>) -> Finding {
        self.also = Some((place, why.into()));
        self
    }

    pub fn fix(mut self, fix: impl Into<String>) -> Finding {
        self.fix = Some(fix.into());
        self
    }

    pub fn cue(mut self, number: impl ToString) -> Finding {
        self.cues.push(number.to_string());
        self
    }

    pub fn rig(mut self, name: impl Into<String>) -> Finding {
        self.rigs.push(name.into());
        self
    }

    pub fn axis(mut self, name: impl Into<String>) -> Finding {
        self.axes.push(name.into());
        self
    }

    pub fn time(mut self, seconds: f64) -> Finding {
        self.time = Some(seconds);
        self
    }

    pub fn against(mut self, value: f64, limit: f64) -> Finding {
        self.value = Some(value);
        self.limit = Some(limit);
        self
    }

    pub fn posed(mut self, pose: Vec<f64>) -> Finding {
        self.pose = Some(pose);
        self
    }
}
