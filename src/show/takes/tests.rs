use proptest::prelude::*;

use super::*;
use crate::show::{Code, Source, Sources};

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

proptest! {
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
