use proptest::prelude::*;

use glam::DVec3;

use super::*;
use crate::show::{Code, Joint, JointKind, Source, Sources, Unit};

/// Ten samples of one axis, every 20 ms.
fn sound() -> String {
    let samples = (0..10).map(|k| format!("{:.3},{:.4}\n", f64::from(k) * 0.02, 0.1 + f64::from(k) * 1e-3));
    format!("time,travel\n{}", samples.collect::<String>())
}

/// Code, line and column of each finding, and its message.
fn told(text: &str) -> Vec<(Code, (u32, u32), String)> {
    let sources = Sources { files: vec![Source { path: "takes/x.csv".into(), text: text.into() }] };
    let (_, findings) = read_take("x", text, Place::default());
    let told = findings.into_iter().map(|one| (one.code, sources.line_column(one.place.unwrap()), one.message));
    told.collect()
}

#[test]
fn a_take_is_read_whatever_its_recorder_makes_of_lines_and_quotes() {
    let (plain, findings) = read_take("x", &sound(), Place::default());
    assert_eq!(findings, []);
    assert_eq!((plain.times.len(), plain.columns.len(), plain.columns[0].name.as_str()), (10, 1, "travel"));
    assert_eq!((plain.times[9], plain.columns[0].values[9]), (0.18, 0.109));
    let dressed = [
        format!("\u{feff}{}", sound()),
        sound().replace('\n', "\r\n"),
        sound().trim_end().to_owned(),
        format!("# by hand\n\n{}", sound().replace("0.020,", "# dropped\n\n 0.020 , ")),
        sound().replace("time,travel", "\"time\",\"travel\"").replace("0.040,0.1020", "\"0.040\",\"0.1020\""),
    ];
    for text in dressed {
        let (take, findings) = read_take("x", &text, Place::default());
        assert_eq!(findings, [], "{text}");
        assert!(take.same_recording(&plain), "{text}");
    }
}

/// What is replaced and by what; the code, the line and column, and a part of what is told.
type Mistake = (&'static str, &'static str, Code, (u32, u32), &'static str);

#[test]
fn each_mistake_of_a_take_is_told_with_its_line_and_column() {
    #[rustfmt::skip]
    let mistakes: &[Mistake] = &[
        ("0.060,0.1030", "0.060,NaN", Code::BadValue, (5, 7), "`travel`: expected a number from -1e6 to 1e6, found \"NaN\""),
        ("0.060,0.1030", "0.060,inf", Code::BadValue, (5, 7), "found \"inf\""),
        ("0.060,0.1030", "0.060, 1e300", Code::BadValue, (5, 8), "found \"1e300\""),
        ("0.060,0.1030", "0.060,", Code::BadValue, (5, 7), "found \"\""),
        ("0.060,0.1030", "soon,0.1030", Code::BadValue, (5, 1), "`time`: expected a number"),
        ("0.060,0.1030", "0.060", Code::BadValue, (5, 1), "a sample: expected 2 numbers, one a column, found 1"),
        ("0.060,0.1030", "0.060,0,1030", Code::BadValue, (5, 1), "found 3"),
        ("0.060,0.1030", "0.040,0.1030", Code::BadValue, (5, 1), "the time 0.04 is there twice"),
        ("0.060,0.1030", "0.010,0.1030", Code::BadValue, (5, 1), "the times: expected one later than 0.04, found 0.01"),
        ("0.060,0.1030", "0.04001,0.1030", Code::BadValue, (5, 1), "the times: expected one at least 0.0001 s after 0.04"),
        ("0.180,0.1090", "0.80,0.1090", Code::BadValue, (11, 1), "expected no more than 0.5 s from one to the next, found 0.640 s"),
        ("0.180,0.1090\n", "", Code::BadValue, (1, 1), "a take: expected at least 10 samples, found 9"),
        ("time,travel", "time,travel,", Code::BadValue, (1, 1), "found one that is empty"),
        ("time,travel", "travel,time", Code::BadValue, (1, 1), "the first column: expected `time`, in seconds, found \"travel\""),
        ("time,travel", "time;travel", Code::BadValue, (1, 1), "expected commas between them"),
        ("time,travel\n", "", Code::BadValue, (1, 1), "expected a line of names first"),
        ("time,travel", "time,travel,travel", Code::DuplicateName, (1, 13), "there are two columns `travel`"),
    ];
    for (from, to, code, place, says) in mistakes {
        let text = sound();
        assert!(text.contains(from), "{from}");
        let told = told(&text.replacen(from, to, 1));
        let [(found, at, message)] = &told[..] else { panic!("{to:?}: {told:?}") };
        assert_eq!((found, at), (code, place), "{to:?}: {message}");
        assert!(message.contains(says), "{to:?}: {message}");
    }
}

#[test]
fn what_is_no_take_at_all_is_told_once_and_a_spoilt_one_not_in_every_line() {
    for text in ["", "\n\n", "# nothing\n", "time\n0.0\n", "time,travel\n", "time,travel\n0.0,1.0\n"] {
        assert_eq!(told(text).len(), 1, "{text:?}: {:?}", told(text));
    }
    let spoilt = sound() + &"0.5,x\n".repeat(500);
    let told = told(&spoilt);
    assert_eq!(told.len(), 21);
    assert!(told[20].2.contains("more lines of the take are wrong"), "{told:?}");
}

/// As `sound`, with a head.
fn headed() -> String {
    let axis = Surveyed {
        unit: Unit::Metre,
        travel: [0.0, 3.0],
        joint: Some(Joint { kind: JointKind::Slide, direction: DVec3::X, at: DVec3::Z * 0.35, level: false }),
    };
    head(Some("2026-11-26T19:30:00Z"), &[("travel", axis)]) + &sound()
}

#[test]
fn the_head_tells_when_and_under_which_survey_and_other_comments_tell_nothing() {
    let text = headed();
    let expected = "#: recorded = 2026-11-26T19:30:00Z\n#: survey = \"f062445aeabc\"\n#: axes.\"travel\" = { unit = \"m\", \
                    travel = [0.0, 3.0], joint = { slide = \"x\", at = [0.0, 0.0, 0.35] } }\ntime,travel\n";
    assert!(text.starts_with(expected), "{text}");
    for text in [text.clone(), format!("\u{feff}# é: by hand\n\n{text}"), text.replace('\n', "\r\n")] {
        let (take, findings) = read_take("x", &text, Place::default());
        assert_eq!(findings, [], "{text}");
        assert_eq!(take.recorded.as_deref(), Some("2026-11-26T19:30:00Z"));
        let (surveyed, place) = take.columns[0].surveyed.as_ref().unwrap();
        assert_eq!((surveyed.unit, surveyed.travel), (Unit::Metre, [0.0, 3.0]));
        assert_eq!(&text[place.span()], "\"travel\"");
    }
    let plain = sound();
    let (take, findings) =
        read_take("x", &format!("# recorded = yesterday\n#axes.x = {{\n{plain}"), Place::default());
    assert_eq!((findings, take.recorded, take.columns[0].surveyed.clone()), (vec![], None, None));
}

#[test]
fn each_mistake_of_a_head_is_told_where_it_stands() {
    #[rustfmt::skip]
    let mistakes: &[Mistake] = &[
        ("2026-11-26T19:30:00Z", "2026-11-26", Code::BadValue, (1, 15), "expected a date and time with its offset"),
        ("recorded", "recordde", Code::UnknownKey, (1, 4), "unknown key `recordde`"),
        ("[0.0, 3.0]", "[0.0, 30]", Code::BadValue, (2, 13), "expected the survey"),
        ("[0.0, 3.0]", "[0.0]", Code::BadValue, (3, 43), "expected a list of 2"),
        ("\"m\"", "\"em\"", Code::BadValue, (3, 29), "`unit`: expected"),
        ("axes.\"travel\"", "axes.\"travle\"", Code::UnknownName, (3, 9), "the head tells of an axis that is no column, `travle`"),
        ("{ unit", "{{ unit", Code::Syntax, (3, 21), "this is not TOML"),
    ];
    for (from, to, code, place, says) in mistakes {
        let text = headed();
        assert!(text.contains(from), "{from}");
        let told = told(&text.replacen(from, to, 1));
        let Some((found, at, message)) = told.first() else { panic!("{to:?} is not told") };
        assert_eq!((found, at), (code, place), "{to:?}: {message}");
        assert!(message.contains(says), "{to:?}: {message}");
    }
}

#[test]
fn what_makes_a_recorded_position_another_place_is_a_difference_and_nothing_else() {
    let joint = Joint { kind: JointKind::Turn, direction: DVec3::Z, at: DVec3::ZERO, level: false };
    let was = Surveyed { unit: Unit::Degree, travel: [-75.0, 10.0], joint: Some(joint.clone()) };
    let with = |joint: Joint| Surveyed { joint: Some(joint), ..was.clone() };
    let tilted = DVec3::new(0.6, 0.0, 0.8);
    let others = [
        (Surveyed { unit: Unit::Turn, ..was.clone() }, "its unit was deg and is turn"),
        (Surveyed { travel: [-74.0, 11.0], ..was.clone() }, "its travel was -75° to 10° and is -74° to 11°"),
        (Surveyed { joint: None, ..was.clone() }, "it had a joint and has none"),
        (with(Joint { direction: -DVec3::Z, ..joint.clone() }), "its direction is reversed"),
        (
            with(Joint { direction: tilted, ..joint.clone() }),
            "its joint did turn about [0.0, 0.0, 1.0] and does turn about [0.6, 0.0, 0.8]",
        ),
        (
            with(Joint { at: DVec3::X, ..joint.clone() }),
            "its joint was at [0.0, 0.0, 0.0] m and is at [1.0, 0.0, 0.0] m",
        ),
        (with(Joint { level: true, ..joint }), "what it carries was kept not level and is kept level"),
    ];
    for (now, says) in others {
        let (same, told) = (was.differences(&was), was.differences(&now));
        assert_eq!((same.len(), &told[..told.len().min(1)]), (0, &[says.to_owned()][..]));
    }
}

#[test]
fn a_stretch_is_cut_out_to_the_letter() {
    let long = (0..200).map(|k| format!("{:.3}, 0.{k:03}\n", 3.0 + f64::from(k) * 0.02)).collect::<String>();
    let text = format!("# by hand\n{}# and on\n{long}", headed().split_inclusive('\n').take(4).collect::<String>());
    let cut = |ends| cut(&text, "walk", ends);
    let piece = cut([1.0, 2.0]).unwrap();
    let lines: Vec<&str> = piece.lines().collect();
    assert_eq!((lines[0], lines[4], lines[5]), ("# by hand", "# 1 s to 2 s of walk", "time,travel"));
    assert_eq!((lines[6], lines[7], lines.last().copied()), ("# and on", "4.000, 0.050", Some("5.000, 0.100")));
    let (take, findings) = read_take("x", &piece, Place::default());
    assert_eq!((findings, take.times.len(), take.survey_hash().is_some()), (vec![], 51, true));
    assert_eq!(cut([0.0, 3.98]).unwrap().lines().count(), text.lines().count() + 1, "all of it");
    for ends in [[-0.1, 2.0], [2.0, 1.0], [1.0, 4.0], [f64::NAN, 2.0], [1.0, f64::INFINITY]] {
        assert!(matches!(cut(ends), Err(CutError::Ends { .. })), "{ends:?}");
    }
    assert_eq!(cut([1.0, 1.1]), Err(CutError::Few { samples: 6 }));
}

#[test]
fn a_survey_that_is_put_into_a_take_leaves_everything_else_as_it_was() {
    let now = Surveyed { unit: Unit::Metre, travel: [-1.0, 2.0], joint: None };
    let text = headed().replace("time,", "# by hand\ntime,");
    let adopted = surveyed_anew(&text, Some("2026-11-26T19:30:00Z"), &[("travel", now.clone())]);
    let (take, findings) = read_take("x", &adopted, Place::default());
    assert_eq!((findings, take.recorded.as_deref()), (vec![], Some("2026-11-26T19:30:00Z")));
    assert_eq!(take.columns[0].surveyed.as_ref().map(|(surveyed, _)| surveyed), Some(&now));
    let rest =
        |text: &str| text.lines().filter(|line| !line.starts_with("#:")).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(rest(&adopted), rest(&text));
}

prop_compose! {
    fn any_survey()(
        unit in prop::sample::select(vec![Unit::Metre, Unit::Millimetre, Unit::Degree, Unit::Turn, Unit::Percent]),
        low in -1e6..1e6_f64, way in 1e-3..1e3_f64,
        joint in prop::option::of((any::<bool>(), any::<bool>(), [-1.0..1.0_f64, -1.0..1.0, 0.1..1.0], [-500.0..500.0_f64, -500.0..500.0, -500.0..500.0])),
    ) -> Surveyed {
        let joint = joint.map(|(turns, level, direction, at)| Joint {
            kind: if turns { JointKind::Turn } else { JointKind::Slide },
            direction: DVec3::from(direction).normalize(),
            at: DVec3::from(at),
            level,
        });
        Surveyed { unit, travel: [low, (low + way).min(1e6)], joint }
    }
}

proptest! {
    #[test]
    fn a_head_is_read_as_it_was_written(surveyed in any_survey(), inside in "[a-z\"\\\\é\\[ü-]{0,12}") {
        let name = format!("a{inside}z");
        let text = head(None, &[(&name, surveyed.clone())]) + &format!("time,{name}\n0.0,1\n");
        let (take, findings) = read_take("x", &text, Place::default());
        prop_assert_eq!(findings.len(), 1, "too short, and nothing else: {:?}", findings);
        let (read, _) = take.columns[0].surveyed.as_ref().expect("it is told");
        prop_assert_eq!(read.differences(&surveyed), Vec::<String>::new());
    }

    #[test]
    fn garbage_is_told_and_nothing_panics(text in "([\\x00-\\x7fé\u{feff}]|[0-9.,;\"#\n\r]|time,pan\n|0\\.[0-9]{3},[0-9]\n|nan,|1e999|-inf){0,60}") {
        let (take, findings) = read_take("x", &text, Place::default());
        let sources = Sources { files: vec![Source { path: String::new(), text: text.clone() }] };
        for finding in &findings {
            let place = finding.place.unwrap();
            prop_assert!(place.start <= place.end && place.end as usize <= text.len());
            prop_assert!(text.is_char_boundary(place.start as usize) && text.is_char_boundary(place.end as usize));
            sources.line_column(place);
        }
        if findings.is_empty() {
            prop_assert!(take.times.len() >= 10 && take.times.windows(2).all(|pair| pair[0] < pair[1]));
            prop_assert!(take.columns.iter().all(|column| column.values.len() == take.times.len()));
        }
    }
}
