use std::fs;

use super::*;
use crate::show::Finding;
use crate::show::fixture::show_of;

fn reading(text: &str) -> MapReading {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(MAP_FILE);
    fs::write(&path, text).unwrap();
    read_map(&path)
}

fn findings(text: &str) -> Vec<(String, usize, Finding)> {
    let reading = reading(text);
    assert!(reading.map.is_none());
    let told = reading.findings.into_iter();
    told.map(|finding| {
        let place = finding.place.unwrap();
        let line = text[..place.start as usize].matches('\n').count() + 1;
        (finding.code.word().to_owned(), line, finding)
    })
    .collect()
}

const PAD: &str = r#"
device = "Two-Stick Pad"
hold = "tl"
stop = "mode"
next = "tr"

[[layer]]
name = "jib"
[[layer]]
name = "head"
button = "dpad-up"

[[stick]]
from = "x"
to = "heron.swing"
layer = "jib"
[[stick]]
from = "x"
to = "heron.pan"
layer = "head"
reversed = true
dead_band = 0.2
taper = 1
[[dial]]
from = "lever-40"
to = "heron.focus"
"#;

#[test]
fn a_map_says_what_drives_what() {
    let map = reading(PAD).map.unwrap();
    assert_eq!(map.device.as_deref(), Some("two-stick pad"));
    assert_eq!((map.hold, map.stop, map.next), (Button(0x136), Some(Button(0x13c)), Some(Button(0x137))));
    assert_eq!(map.rigs(), ["heron"]);
    let told: Vec<_> = map.drives.iter().map(|drive| (drive.lever, drive.axis.as_str(), drive.layer)).collect();
    assert_eq!(told, [(Lever(0), "swing", Some(0)), (Lever(0), "pan", Some(1)), (Lever(40), "focus", None)]);
    assert_eq!(map.drives[0].kind, DriveKind::Stick { dead_band: 0.1, taper: 0.3 });
    assert_eq!(map.drives[1].kind, DriveKind::Stick { dead_band: 0.2, taper: 1.0 });
    assert!(map.drives[1].reversed && map.drives[2].kind == DriveKind::Dial);
    assert!(map.drives[0].is_in(0) && !map.drives[0].is_in(1) && map.drives[2].is_in(1));
}

#[test]
fn a_button_has_a_focus_follow_a_rig_or_a_point() {
    let more = "[[focus]]\nbutton = \"south\"\nrig = \"heron\"\non = \"gull\"\n\
                [[focus]]\nbutton = \"east\"\nrig = \"minnow\"\nat = [0, 2.5, -1]\n";
    let map = reading(&format!("{PAD}{more}")).map.unwrap();
    let [one, other] = &map.focuses[..] else { panic!("{:?}", map.focuses) };
    assert_eq!((one.button, one.on.clone()), (Button(0x130), FocusTo::Rig("gull".into())));
    assert_eq!((other.rig.as_str(), other.on.clone()), ("minnow", FocusTo::Point([0.0, 2.5, -1.0])));
    assert_eq!(map.rigs(), ["heron", "minnow"], "a rig with a focus alone is taken in hand too");
    for (wrong, code) in [
        ("button = \"south\"\nrig = \"heron\"\n", "bad-value"),
        ("button = \"south\"\nrig = \"heron\"\non = \"gull\"\nat = [0, 0, 0]\n", "bad-value"),
        ("button = \"south\"\nrig = \"heron\"\nat = [0, 0]\n", "bad-value"),
        ("button = \"mode\"\nrig = \"heron\"\non = \"gull\"\n", "duplicate-name"),
        ("button = \"sooth\"\nrig = \"heron\"\non = \"gull\"\n", "unknown-name"),
    ] {
        let found = findings(&format!("{PAD}[[focus]]\n{wrong}"));
        assert_eq!(found.iter().map(|(code, ..)| code.as_str()).collect::<Vec<_>>(), [code], "{wrong}");
    }
}

#[test]
fn a_map_without_layers_has_one() {
    let map = reading("hold = \"tl\"\n[[stick]]\nfrom = \"y\"\nto = \"gull.height\"\n").map.unwrap();
    assert_eq!(map.layers, [Layer { name: None, button: None }]);
    assert!(map.device.is_none() && map.drives[0].is_in(0));
}

#[test]
fn slips_are_told_where_they_are_with_what_was_meant() {
    let found = findings(
        "hold = \"tll\"\nstop = \"tr\"\nnext = \"tr\"\n[[layer]]\nname = \"jib\"\n[[stick]]\nfrom = \"xx\"\n\
         to = \"heron\"\nlayer = \"jibb\"\ntapr = 0.3\ndead_band = 1.5\n",
    );
    let told: Vec<(&str, usize)> = found.iter().map(|(code, line, _)| (code.as_str(), *line)).collect();
    let expected = [
        ("unknown-name", 1),
        ("duplicate-name", 3),
        ("unknown-name", 7),
        ("bad-value", 8),
        ("unknown-name", 9),
        ("unknown-key", 10),
        ("bad-value", 11),
    ];
    assert_eq!(told, expected);
    assert!(found[0].2.fix.as_deref().unwrap().contains("`tl`"));
    assert!(found[5].2.fix.as_deref().unwrap().contains("`taper`"));
}

#[test]
fn an_axis_has_one_stick_in_a_layer_and_may_have_a_dial_beside_it() {
    let stick = |layer: &str| format!("[[stick]]\nfrom = \"x\"\nto = \"heron.swing\"\n{layer}");
    let head = "hold = \"tl\"\n[[layer]]\nname = \"a\"\n[[layer]]\nname = \"b\"\n";
    let dial = "[[dial]]\nfrom = \"rz\"\nto = \"heron.swing\"\n";
    let apart = format!("{head}{}{}{dial}", stick("layer = \"a\"\n"), stick("layer = \"b\"\n"));
    assert!(reading(&apart).map.is_some());
    for second in ["layer = \"a\"\n", ""] {
        let found = findings(&format!("{head}{}{}", stick("layer = \"a\"\n"), stick(second)));
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].0.as_str(), found[0].1), ("duplicate-name", 12));
    }
}

#[test]
fn what_is_no_map_is_told_and_never_panics() {
    assert_eq!(findings("")[0].0, "bad-value");
    assert_eq!(findings("hold = \"tl\"\n")[0].0, "bad-value");
    assert_eq!(findings("hold = [\n")[0].0, "syntax");
    for cut in 0..PAD.len() {
        reading(&PAD[..cut]);
    }
    let gone = read_map(std::path::Path::new("no/such/hand.toml"));
    assert!(gone.map.is_none() && gone.findings.len() == 1);
}

#[test]
fn names_of_levers_and_buttons_go_both_ways() {
    for name in Lever::names().chain(["lever-63", "lever-11"]) {
        assert_eq!(Lever::named(name).unwrap().to_string(), name);
    }
    for name in Button::names().chain(["button-300", "button-767"]) {
        assert_eq!(Button::named(name).unwrap().to_string(), name);
    }
    assert!(Lever::named("lever-64").is_none() && Button::named("button-768").is_none());
}

/// The schema knows the keys that the reader knows, and its example reads well.
#[test]
fn the_schema_is_of_what_is_read() {
    let schema = map_schema();
    assert_eq!(schema["required"], json!(["hold"]));
    assert_eq!(schema["additionalProperties"], false);
    let example: toml::Table = serde_json::from_value(schema["examples"][0].clone()).unwrap();
    let map = reading(&toml::to_string(&example).unwrap()).map.unwrap();
    assert_eq!(map.drives.len(), 4);
}

#[test]
fn beside_a_show_its_names_are_held_against_that() {
    let show = show_of(&[
        ("show.toml", "[show]\nname = \"S\"\nmargin = 0.1\nreact = 0.1\n"),
        (
            "rigs/heron.toml",
            "kind = \"jib\"\nat = [0.0, 0.0, 0.0]\n[[axis]]\nname = \"swing\"\nunit = \"deg\"\ntravel = [-9.0, 9.0]\n\
             start = 0.0\nspeed = 1.0\nacceleration = 1.0\njerk = 1.0\njoint = { turn = \"z\", at = [0.0, 0.0, 0.0] }\n",
        ),
    ]);
    let folder = tempfile::tempdir().unwrap();
    assert!(read_map_beside(folder.path(), Some(&show)).is_none(), "no map is no mistake");
    let text = "hold = \"tl\"\n[[stick]]\nfrom = \"x\"\nto = \"heron.swing\"\n[[stick]]\nfrom = \"y\"\nto = \"heron.swang\"\n\
                [[dial]]\nfrom = \"z\"\nto = \"hern.swing\"\n";
    fs::write(folder.path().join(MAP_FILE), text).unwrap();
    let reading = read_map_beside(folder.path(), Some(&show)).unwrap();
    let line = |finding: &Finding| text[..finding.place.unwrap().start as usize].matches('\n').count() + 1;
    let told: Vec<_> = reading
        .findings
        .iter()
        .map(|finding| (line(finding), finding.message.as_str(), finding.fix.as_deref()))
        .collect();
    let near = |name: &str| format!("the nearest known name is `{name}`");
    let (swing, heron) = (near("swing"), near("heron"));
    assert_eq!(
        told,
        [
            (7, "`to`: heron has no axis `swang`", Some(swing.as_str())),
            (10, "`to`: there is no rig `hern`", Some(heron.as_str())),
        ]
    );
    assert_eq!(reading.sources.files[0].path, MAP_FILE);
    assert!(
        read_map_beside(folder.path(), None).unwrap().findings.is_empty(),
        "a show that cannot be read says nothing of names"
    );
}
