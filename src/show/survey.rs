//! A survey written into a rig's file: the two numbers of a travel, its home, whether it is surveyed, and not a byte else.
//!
//! The parser tells where each value stands, so the file need not be written anew from a tree: comments, blanks, order and
//! line ends stay as whoever wrote them left them.

use std::fmt;
use std::ops::Range;

use toml::Spanned;
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
    pub surveyed: bool,
    /// Its home: where it stands when the show opens.
    pub start: f64,
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
        surveyed: axis.surveyed.unwrap_or(true),
        start: axis.start.value.0,
        stop: limits_of(axis)[1],
    };
    Ok(file.axes.0.iter().map(|one| axis(&one.value)).collect())
}

/// What a survey has to say of one axis; what is `None` stays as it is.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Rewrite {
    pub travel: Option<[f64; 2]>,
    /// Its home: where it stands when the show opens.
    pub start: Option<f64>,
    pub surveyed: Option<bool>,
}

/// The file with another travel of an axis, which is surveyed from now on.
///
/// # Errors
/// No such axis, or none that is written as one.
pub fn with_travel(text: &str, axis: &str, travel: [f64; 2]) -> Result<String, SurveyError> {
    rewritten(text, axis, Rewrite { travel: Some(travel), surveyed: Some(true), start: None })
}

/// The file with what a survey has to say of an axis, and not a byte else: values are put in the place of values, and only
/// a `surveyed = false` that is not there yet takes a line of its own below the travel.
///
/// # Errors
/// No such axis, or none that is written as one.
pub fn rewritten(text: &str, axis: &str, rewrite: Rewrite) -> Result<String, SurveyError> {
    let form = || SurveyError::Form { axis: axis.to_owned() };
    let file = DeTable::parse(text).map_err(|_| form())?;
    let found = table_of(file.get_ref(), axis)?;
    let mut edits: Vec<(Range<usize>, String)> = Vec::new();
    if let Some(travel) = rewrite.travel {
        let ends = value(found, "travel").and_then(|ends| ends.get_ref().as_array()).ok_or_else(form)?;
        let spans: Vec<_> = ends.iter().map(|end| end.span()).collect();
        let spans = <[_; 2]>::try_from(spans).map_err(|_| form())?;
        edits.extend(spans.into_iter().zip(travel.map(number)));
    }
    if let Some(start) = rewrite.start {
        edits.push((value(found, "start").ok_or_else(form)?.span(), number(start)));
    }
    match (rewrite.surveyed, value(found, "surveyed")) {
        (Some(surveyed), Some(written)) => edits.push((written.span(), surveyed.to_string())),
        (Some(false), None) => {
            let (key, travel) = found.iter().find(|(key, _)| key.get_ref() == "travel").ok_or_else(form)?;
            edits.push(unsurveyed(text, key.span().start, travel.span().end));
        }
        (Some(true) | None, _) => {}
    }
    edits.sort_by_key(|(span, _)| span.start);
    let mut written = String::with_capacity(text.len() + 32);
    let mut at = 0;
    for (span, value) in edits {
        written.push_str(&text[at..span.start]);
        written.push_str(&value);
        at = span.end;
    }
    written.push_str(&text[at..]);
    // A file that is written in a way nobody foresaw is left alone.
    DeTable::parse(&written).map_err(|_| form())?;
    Ok(written)
}

fn number(value: f64) -> String {
    format!("{:?}", value + 0.0)
}

fn value<'a, 'i>(table: &'a DeTable<'i>, key: &str) -> Option<&'a Spanned<DeValue<'i>>> {
    table.get(key)
}

fn table_of<'a, 'i>(file: &'a DeTable<'i>, axis: &str) -> Result<&'a DeTable<'i>, SurveyError> {
    let form = || SurveyError::Form { axis: axis.to_owned() };
    let axes = value(file, "axis").and_then(|axes| axes.get_ref().as_array()).ok_or_else(form)?;
    let named =
        |one: &DeValue| one.as_table().and_then(|one| value(one, "name")?.get_ref().as_str()).map(str::to_owned);
    let Some(found) = axes.iter().find(|one| named(one.get_ref()).as_deref() == Some(axis)) else {
        let known = axes.iter().filter_map(|one| named(one.get_ref())).collect();
        return Err(SurveyError::NoAxis { axis: axis.to_owned(), known });
    };
    found.get_ref().as_table().ok_or_else(form)
}

/// Where `surveyed = false` goes, given where the travel's key begins and its value ends: below it, as far in, with the
/// line's own end; in a table within one line, behind it.
fn unsurveyed(text: &str, key: usize, end: usize) -> (Range<usize>, String) {
    let line = text[..key].rfind('\n').map_or(0, |at| at + 1);
    let indent = &text[line..key];
    if !indent.trim().is_empty() {
        return (end..end, ", surveyed = false".to_owned());
    }
    match text[end..].find('\n') {
        Some(rest) => {
            let newline = end + rest;
            let at = if text[..newline].ends_with('\r') { newline - 1 } else { newline };
            let ending = &text[at..=newline];
            (at..at, format!("{ending}{indent}surveyed = false"))
        }
        None => (text.len()..text.len(), format!("\n{indent}surveyed = false")),
    }
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
    fn a_survey_is_cleared_in_a_line_of_its_own_and_is_there_again_in_its_place() {
        let clear = Rewrite { surveyed: Some(false), ..Rewrite::default() };
        let swing = rewritten(RIG, "swing", clear).unwrap();
        assert_eq!(swing, RIG.replace("# surveyed in May\n", "# surveyed in May\nsurveyed = false\n"));
        assert!(!axes_written(&swing, Place::default()).unwrap()[0].surveyed);
        assert_eq!(rewritten(&swing, "swing", clear).unwrap(), swing);
        let again = with_travel(&swing, "swing", [-75.0, 10.0]).unwrap();
        assert_eq!(again, swing.replace("surveyed = false", "surveyed = true").replace("1_0.0", "10.0"));
        // Line ends and indents are kept, and a table within a line stays in it.
        let windows = "[[axis]]\r\n  name = \"a\"\r\n  travel = [1.0, 2.0] # so\r\n  start = 1.5\r\n";
        let cleared = windows.replace("# so\r\n", "# so\r\n  surveyed = false\r\n");
        assert_eq!(rewritten(windows, "a", clear).unwrap(), cleared);
        let wider = Rewrite { travel: Some([0.0, 3.0]), start: Some(1.0), surveyed: Some(false) };
        let inline = "axis = [{ name = \"a\", travel = [1.0, 2.0], start = 1.5 }]";
        let expected = "axis = [{ name = \"a\", travel = [0.0, 3.0], surveyed = false, start = 1.0 }]";
        assert_eq!(rewritten(inline, "a", wider).unwrap(), expected);
        let last = "[[axis]]\nname = \"a\"\nstart = 1\ntravel = [1.0, 2.0]";
        assert_eq!(rewritten(last, "a", clear).unwrap(), format!("{last}\nsurveyed = false"));
        assert_eq!(
            rewritten("[[axis]]\nname = \"a\"", "a", clear),
            Err(SurveyError::Form { axis: "a".to_owned() })
        );
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
