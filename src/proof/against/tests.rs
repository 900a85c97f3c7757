//! Fingerprints and comparisons of the demo show, edited in memory.

use super::*;
use crate::proof::prove;
use crate::show::{AxisPart, CueNumber, Subject, read_files};
use crate::show::{Reading, Source};

fn demo() -> Vec<Source> {
    crate::show::read(&std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-show")).sources.files
}

fn edited(edits: &[(&str, &str, &str)]) -> Show {
    let mut files = demo();
    for (path, from, to) in edits {
        let file = files.iter_mut().find(|file| file.path == *path).expect("a file of the show");
        assert!(file.text.contains(from), "{path} has no {from:?}");
        file.text = file.text.replacen(from, to, 1);
    }
    let Reading { show, findings, .. } = read_files(&files);
    show.unwrap_or_else(|| panic!("{findings:#?}"))
}

/// The numbers of cues whose fingerprints differ, each with the parts that do.
fn unproven(old: &Show, new: &Show) -> Vec<(String, Vec<Part>)> {
    let [before, after] = [old, new].map(|show| {
        let plans = crate::proof::timelines(show);
        let of = |id: CueId| (show.number_of(id), Fingerprint::of(show, id, &plans[id.index()]));
        show.cue_ids().map(of).collect::<Vec<_>>()
    });
    let parts = after.iter().filter_map(|(number, now)| {
        let (_, was) = before.iter().find(|(other, _)| other == number)?;
        let parts = now.parts_beside(was);
        (!parts.is_empty()).then(|| (number.clone(), parts))
    });
    parts.collect()
}

fn compared(old: &Show, new: &Show) -> Against {
    let (was, now) = (prove(old), prove(new));
    let side = |show, proof| Side { show, proof, findings: &[] };
    compare(side(old, &was), side(new, &now))
}

const INSERTS: &str = "cues/inserts.toml";
/// A cue of the minnow in the midst of the list: it shifts the ids of all after it.
const INSERT: &str = "[[cue]]\nnumber = \"3.5\"\nname = \"More\"\n[[cue.move]]\nrig = \"minnow\"\nto = { travel = 1.5 }\ntime = 9.0\n\n[[cue]]\nnumber = \"21.5\"";

#[test]
fn an_inserted_cue_leaves_every_fingerprint_but_that_of_the_next_move_of_its_rig() {
    let (old, new) = (edited(&[]), edited(&[(INSERTS, "[[cue]]\nnumber = \"21.5\"", INSERT)]));
    let parts = unproven(&old, &new);
    assert!(parts.iter().all(|(_, parts)| *parts == [Part::Path]), "{parts:?}");
    let minnow = new.cues.iter().find(|cue| {
        cue.number > "3.5".parse::<CueNumber>().expect("a number")
            && cue.moves.iter().any(|step| new.rig(step.rig).name == "minnow")
    });
    let next = minnow.expect("minnow moves again").number.to_string();
    assert_eq!(parts.iter().map(|(number, _)| number.clone()).collect::<Vec<_>>(), [next]);
}

#[test]
fn each_part_of_a_fingerprint_answers_for_its_own_files() {
    let old = edited(&[]);
    let parts = |edit: (&'static str, &'static str, &'static str)| {
        let mut parts: Vec<Part> =
            unproven(&old, &edited(&[edit])).into_iter().flat_map(|(_, parts)| parts).collect();
        parts.sort();
        parts.dedup();
        parts
    };
    assert_eq!(parts(("show.toml", "margin = 0.30", "margin = 0.31")), []);
    assert_eq!(parts(("show.toml", "\"lift clear of wagon\"", "\"lift clear\"")), []);
    assert_eq!(parts(("cues/act1.toml", "page = \"2\"", "page = \"3\"")), []);
    assert_eq!(parts(("rigs/heron.toml", "[-75.0, 10.0]", "[-75.0, 11.0]")), [Part::Rigs]);
    assert_eq!(parts(("rigs/gull.toml", "at = [0.0, 0.5, 0.0]", "at = [0.0, 0.6, 0.0]")), [Part::Rigs]);
    // From elsewhere it looks at the skiff another way.
    let moved = ("rigs/heron.toml", "at = [-4.0, -5.2, 0.0]", "at = [-4.0, -5.3, 0.0]");
    assert_eq!(parts(moved), [Part::Path, Part::Rigs]);
    assert_eq!(
        parts(("rigs/heron.toml", "house-high = { swing = -20.0", "house-high = { swing = -21.0")),
        [Part::Path]
    );
    assert_eq!(parts((INSERTS, "past = 9.0", "past = 9.5")), [Part::Conditions]);
    assert_eq!(parts(("show.toml", "below = -3.3", "below = -3.2")), [Part::Conditions]);
    assert_eq!(parts(("cues/act1.toml", "time = 8.0", "time = 9.0")), [Part::Path]);
}

#[test]
fn a_cue_that_only_got_another_number_is_compared_with_itself() {
    let old = edited(&[]);
    let new = edited(&[("cues/act1.toml", "number = \"3\"", "number = \"3.1\"")]);
    let against = compared(&old, &new);
    let numbers: Vec<[String; 2]> =
        against.renumbered.iter().map(|&[was, now]| [old.number_of(was), new.number_of(now)]).collect();
    assert_eq!(numbers, [["3".to_owned(), "3.1".to_owned()]]);
    assert!(against.added.is_empty() && against.removed.is_empty());
    assert!(against.cues.is_empty(), "{:?}", against.cues);
    // One that was renamed as well is another cue: nobody knows.
    let new = edited(&[
        ("cues/act1.toml", "number = \"3\"", "number = \"3.1\""),
        ("cues/act1.toml", "Harbour wakes", "Dawn"),
    ]);
    let against = compared(&old, &new);
    assert_eq!((against.renumbered.len(), against.added.len(), against.removed.len()), (0, 1, 1));
}

#[test]
fn a_difference_is_laid_to_the_edit_that_it_comes_from_and_to_no_other() {
    let old = edited(&[]);
    let new = edited(&[
        ("rigs/heron.toml", "over-quay = { swing = 0.0", "over-quay = { swing = 4.0"),
        ("rigs/heron.toml", "[-75.0, 10.0]", "[-75.0, 9.0]"),
        ("rigs/gull.toml", "start = -3.6", "start = -3.5"),
    ]);
    let against = compared(&old, &new);
    let subject = |index: &usize| &against.changes[*index].subject;
    let of = |number: &str| {
        let now = new.find_cue(&number.parse().expect("a number")).expect("a cue");
        against.cues.iter().find(|cue| cue.now == now).expect("it differs")
    };
    let mark = Subject::Mark { rig: "heron".into(), mark: "over-quay".into() };
    assert_eq!(of("9").because.iter().map(subject).collect::<Vec<_>>(), [&mark]);
    let travel = Subject::Axis { rig: "heron".into(), axis: "swing".into(), part: AxisPart::Travel };
    assert_eq!(of("9").unproven_because.iter().map(subject).collect::<Vec<_>>(), [&travel, &mark]);
    assert_eq!(of("1").unproven_because.iter().map(subject).collect::<Vec<_>>(), [&travel]);
    let start = Subject::Axis { rig: "gull".into(), axis: "traverse".into(), part: AxisPart::Start };
    assert_eq!(of("3").because.iter().map(subject).collect::<Vec<_>>(), [&start], "it stands there meanwhile");
}

#[test]
fn findings_are_the_same_wherever_they_stand() {
    let show = edited(&[]);
    let proof = prove(&show);
    let finding =
        |cue: &str, message: &str| Finding::new(crate::show::Code::Clearance, message).cue(cue).rig("heron");
    let old = [finding("1", "comes within 0.2 m"), finding("2", "comes within 0.2 m")];
    let new = [finding("1", "comes within 0.1 m"), finding("1", "comes within 0.1 m"), finding("4", "touches")];
    let side = |findings| Side { show: &show, proof: &proof, findings };
    let against = compare(side(&old), side(&new));
    assert_eq!((against.new_findings, against.gone_findings), (vec![1, 2], vec![1]));
}
