//! A survey written into a rig's file: the two numbers of a travel, and not a byte else.
//!
//! The parser tells where each value stands, so the file need not be written anew from a tree: comments, blanks, order and
//! line ends stay as whoever wrote them left them.

use std::fmt;

use toml::de::{DeTable, DeValue};

use super::decode::Found;
use super::finding::Finding;
use super::model::Limits;
use super::read::parse;
use super::resolve::limits_of;
use super::source::Place;
use super::units::Unit;
use super::written::RigFile;

/// Why a travel was not written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SurveyError {
    /// The file is not TOML, or has no such travel of two numbers.
    Form {
        axis: String,
    },
    NoAxis {
        axis: String,
        known: Vec<String>,
    },
}

/// An axis as a rig's file has it, whatever else of the show reads well.
#[derive(Clone, Debug, PartialEq)]
pub struct AxisWritten {
    pub name: String,
    pub unit: Unit,
    pub travel: [f64; 2],
    /// While stopping, from its top speed.
    pub stop: Limits,
}

/// The axes of a rig's file, in its order.
///
/// # Errors
/// What cannot be read of it.
pub fn axes_written(text: &str, place: Place) -> Result<Vec<AxisWritten>, Vec<Finding>> {
    let mut found = Found::default();
    let (file, _) = parse::<RigFile>(text, place, false, &mut found);
    let findings = found.finish();
    if !findings.is_empty() {
        return Err(findings);
    }
    let axis = |axis: &super::written::Axis| AxisWritten {
        name: axis.name.value.0.clone(),
        unit: axis.unit.value,
        travel: axis.travel.value.map(|end| end.0),
        stop: limits_of(axis)[1],
    };
    Ok(file.axes.0.iter().map(|one| axis(&one.value)).collect())
}

/// The file with another travel of an axis.
///
/// # Errors
/// No such axis, or none that is written as one.
pub fn with_travel(text: &str, axis: &str, travel: [f64; 2]) -> Result<String, SurveyError> {
    let form = || SurveyError::Form { axis: axis.to_owned() };
    let file = DeTable::parse(text).map_err(|_| form())?;
    let axes = file.get_ref().get("axis").and_then(|axes| axes.get_ref().as_array()).ok_or_else(form)?;
    let named =
        |one: &DeValue| one.as_table().and_then(|one| one.get("name")?.get_ref().as_str()).map(str::to_owned);
    let Some(found) = axes.iter().find(|one| named(one.get_ref()).as_deref() == Some(axis)) else {
        let known = axes.iter().filter_map(|one| named(one.get_ref())).collect();
        return Err(SurveyError::NoAxis { axis: axis.to_owned(), known });
    };
    let ends =
        found.get_ref().as_table().and_then(|one| one.get("travel")?.get_ref().as_array()).ok_or_else(form)?;
    let spans: Vec<_> = ends.iter().map(|end| end.span()).collect();
    let [low, high] = <[_; 2]>::try_from(spans).map_err(|_| form())?;
    let [below, above] = travel.map(|end| format!("{:?}", end + 0.0));
    Ok([&text[..low.start], &below, &text[low.end..high.start], &above, &text[high.end..]].concat())
}

impl Unit {
    /// Decimals of a travel: a millimetre, a hundredth of a degree, a tenth of a per cent.
    pub fn survey_decimals(self) -> u32 {
        match self {
            Unit::Metre => 3,
            Unit::Millimetre => 0,
            Unit::Degree => 2,
            Unit::Turn => 4,
            Unit::Percent => 1,
        }
    }
}

impl fmt::Display for SurveyError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            SurveyError::Form { axis } => {
                write!(
                    f,
                    "expected `travel = [low, high]` of {axis}, found none that could be written: mend the file first"
                )
            }
            SurveyError::NoAxis { axis, known } => {
                write!(f, "there is no axis {axis}; its axes are {}", known.join(", "))
            }
        }
    }
}

impl std::error::Error for SurveyError {}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const RIG: &str = "# é the jib\r\nkind = \"jib\"\nat = [0.0, 0.0, 0.0]\n\n[[axis]] # one\nname = \"swing\"\nunit = \"deg\"\n\
                       travel = [ # low\n  -75.0 , # and\n\t1_0.0,\n] # surveyed in May\nstart = 0.0\nspeed = 9.0\n\
                       acceleration = 4.5\njerk = 9.0\nshare = 0.5\n[[axis]]\ntravel=[0,3]\nname=\"reach\"\nunit='m'\nstart=1\n\
                       speed=1\nacceleration=1\njerk=1\n[marks]\nfar = { swing = 9.0 } # travel = [-75.0, 10.0]";

    #[test]
    fn the_two_numbers_are_written_and_not_a_byte_else() {
        let swing = with_travel(RIG, "swing", [-74.5, 9.25]).unwrap();
        assert_eq!(swing, RIG.replace("-75.0 ,", "-74.5 ,").replace("1_0.0", "9.25"));
        let reach = with_travel(&swing, "reach", [-0.0, 2.875]).unwrap();
        assert_eq!(reach, swing.replace("[0,3]", "[0.0,2.875]"));
        let inline = "axis = [{ name = \"a\", travel = [1.0, 2.0] }]";
        assert_eq!(with_travel(inline, "a", [1.5, 1.75]).unwrap(), inline.replace("1.0, 2.0", "1.5, 1.75"));
        assert_eq!(
            with_travel(RIG, "boom", [0.0, 1.0]),
            Err(SurveyError::NoAxis { axis: "boom".into(), known: vec!["swing".into(), "reach".into()] })
        );
        for text in
            ["axis = 3", "[[axis]]\nname = \"swing\"", "[[axis]]\nname = \"swing\"\ntravel = [1.0]", "[[axis"]
        {
            assert_eq!(
                with_travel(text, "swing", [0.0, 1.0]),
                Err(SurveyError::Form { axis: "swing".into() }),
                "{text}"
            );
        }
    }

    #[test]
    fn an_axis_is_read_though_a_mark_lies_outside_its_travel() {
        let axes = axes_written(&RIG.replace("9.0 } #", "90.0 } #"), Place::default()).unwrap();
        assert_eq!((axes[0].name.as_str(), axes[0].unit, axes[0].travel), ("swing", Unit::Degree, [-75.0, 10.0]));
        assert_eq!(axes[0].stop, Limits { speed: 4.5, acceleration: 6.75, jerk: 36.0 });
        assert_eq!(axes_written(&RIG.replace("speed=1", "sped=1"), Place::default()).unwrap_err().len(), 1);
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_again_and_the_old_travel_brings_the_old_file_back(
            low in -1e6..1e6_f64, width in 1e-6..1e5_f64, remark in "[ a-zé,#=\\[\\]\"]{0,12}",
        ) {
            let text = RIG.replace("# and", &format!("#{remark}")).replace("1_0.0", "10.0");
            let travel = [low, (low + width).min(1e6)];
            let written = with_travel(&text, "swing", travel).unwrap();
            let axes = axes_written(&written, Place::default()).unwrap();
            prop_assert_eq!((axes[0].travel, axes[1].travel), (travel, [0.0, 3.0]));
            prop_assert_eq!(with_travel(&written, "swing", [-75.0, 10.0]).unwrap(), text);
        }
    }
}
