//! The slips of unlucky operators, and what they are told: expected, found and what to do, word for word.

use crate::spoilt::Copy;
use bellwire::proof::prove;
use bellwire::show::Finding;

struct Slip {
    file: &'static str,
    from: &'static str,
    to: &'static str,
    message: &'static str,
    fix: &'static str,
}

const SKIFF: &str = "rigs/skiff.toml";
const HERON: &str = "rigs/heron.toml";
const CUES: &str = "cues/act1.toml";

/// Millimetres for metres, and the other way round.
const UNITS: [Slip; 7] = [
    Slip {
        file: SKIFF,
        from: "travel = [-7.5, 5.5]",
        to: "travel = [-7500, 5500]",
        message: "`travel`: expected ends within 200 m of zero, found -7500 m",
        fix: "if it is in millimetres write [-7.5, 5.5], and the limits in metres too",
    },
    Slip {
        file: SKIFF,
        from: "speed = 0.4",
        to: "speed = 400",
        message: "`speed`: expected skiff.travel to need at least 0.1 s for its travel, found 0.0325 s at 400 m/s",
        fix: "if it is in millimetres write 0.4, and the other limits in metres too",
    },
    Slip {
        file: SKIFF,
        from: "speed = 0.4",
        to: "speed = 0.0004",
        message: "`speed`: expected skiff.travel to go through its travel within an hour, found 32500 s",
        fix: "see whether travel and limits are in the axis's unit",
    },
    Slip {
        file: SKIFF,
        from: "unit = \"m\"",
        to: "unit = \"mm\"",
        message: "`unit`: expected a travel of at least 20 mm, found 13 mm",
        fix: "if it is in metres write unit = \"m\"; a slide as short as this is written in metres too",
    },
    Slip {
        file: SKIFF,
        from: "at = [0.0, 1.2, 0.0]",
        to: "at = [0.0, 1200.0, 0.0]",
        message: "`at`: expected a number from -500.0 to 500.0 (metres), found 1200",
        fix: "bring it into the range; see whether it is in the unit that is expected",
    },
    Slip {
        file: "show.toml",
        from: "margin = 0.30",
        to: "margin = 300",
        message: "`margin`: expected a number from 0.0 to 20.0 (metres), found 300",
        fix: "bring it into the range; see whether it is in the unit that is expected",
    },
    Slip {
        file: CUES,
        from: "to = \"harbour\"",
        to: "to = { travel = 2400 }",
        message: "the target of cue 3 is outside the travel of minnow.travel: expected 0 m to 3 m, found 2400 m",
        fix: "if it is in millimetres write 2.4; else bring it to 3 m, or survey the axis again",
    },
];

/// Names, numbers of cues and what belongs together.
const NAMES: [Slip; 9] = [
    Slip {
        file: CUES,
        from: "rig = \"minnow\"",
        to: "rig = \"minow\"",
        message: "there is no rig `minow`",
        fix: "the nearest known name is `minnow`",
    },
    Slip {
        file: CUES,
        from: "rig = \"minnow\"",
        to: "rig = \"camera two\"",
        message: "there is no rig `camera two`",
        fix: "known here: gull, heron, millwheel, minnow, skiff, tide",
    },
    Slip {
        file: CUES,
        from: "to = \"over-quay\"",
        to: "to = \"over-the-quay\"",
        message: "heron has no mark `over-the-quay`",
        fix: "the nearest known name is `over-quay`",
    },
    Slip {
        file: CUES,
        from: "number = \"4\"",
        to: "number = \"3\"",
        message: "there are two cues `3`: expected one",
        fix: "keep one; give the other another name or number, or remove it",
    },
    Slip {
        file: CUES,
        from: "number = \"10\"",
        to: "number = 10.0",
        message: "`number`: expected a cue number as text, such as \"12.5\", found the number 10.0",
        fix: "put the number in quotes",
    },
    Slip {
        file: CUES,
        from: "after = { cue = \"5\"",
        to: "after = { cue = \"5.5\"",
        message: "cue 6 follows cue 5.5: expected a cue of the show, found none",
        fix: "the nearest known number is 5; or remove `after`",
    },
    Slip {
        file: CUES,
        from: "state = \"done\"",
        to: "state = \"finished\"",
        message: "`state`: expected \"idle\", \"standby\", \"waiting\", \"running\", \"holding\", \"returning\", \
                  \"done\" or \"stopped\", found the text \"finished\"",
        fix: "write one of these",
    },
    Slip {
        file: "show.toml",
        from: "guards = [\"tide.height\"]",
        to: "guards = [\"tide\"]",
        message: "`direction`: expected only rig.axis in `guards`, found the rig `tide`",
        fix: "guard \"tide.height\" instead, or remove `direction`",
    },
    Slip {
        file: "show.toml",
        from: "{ axis = \"skiff.travel\", below = -3.3 }",
        to: "{ axis = \"skiff.travel\" }",
        message: "`any`: expected a condition with `above`, `below` or `within` beside `axis`, found none",
        fix: "add one of them beside `axis`",
    },
];

/// The craft of the machines.
const MACHINES: [Slip; 5] = [
    Slip {
        file: HERON,
        from: "turn = \"z\"",
        to: "slide = \"z\"",
        message: "`joint`: expected the unit m or mm for a joint that slides, found deg",
        fix: "change the joint or the unit; an axis in percent has no joint",
    },
    Slip {
        file: HERON,
        from: "boom = 28.0",
        to: "boom = 38.0",
        message: "mark `house-high` is outside the travel of heron.boom: expected -4° to 34°, found 38°",
        fix: "bring it to 34°, or survey the axis again; the mark is used in cues 1 and 12",
    },
    Slip {
        file: "rigs/tide.toml",
        from: "stop_category = 1\n",
        to: "",
        message: "`stop_category` is missing: expected 1 or 2, since tide.height has gravity = true, found nothing",
        fix: "write `stop_category = 1` above the axes if brakes hold the load without power, else 2",
    },
    Slip {
        file: CUES,
        from: "to = \"harbour\"\ntime = 10.0",
        to: "to = \"harbour\"\ntime = 3.0",
        message: "cue 3: expected at least 7.267 s for minnow, which minnow.travel needs; found 3 s",
        fix: "write time = 7.27 or more",
    },
    Slip {
        file: CUES,
        from: "to = \"harbour\"",
        to: "by = true\nto = { travel = 4.0, pan = 35.0 }",
        message: "cue 3 takes minnow.travel outside its travel: expected 0 m to 3 m, found 4 m",
        fix: "end the move at 3 m, or survey the axis again",
    },
];

/// The hand on the keys.
const KEYS: [Slip; 7] = [
    Slip {
        file: CUES,
        from: "time = 10.0",
        to: "time = 10,0",
        message: "this is not TOML: unexpected key or value, expected newline, `#`",
        fix: "write a decimal point, not a comma",
    },
    Slip {
        file: CUES,
        from: "time = 10.0",
        to: "time = \"10 s\"",
        message: "`time`: expected a number from 0.0 to 86400.0 (seconds), found the text \"10 s\"",
        fix: "write the number alone, without quotes or a unit",
    },
    Slip {
        file: CUES,
        from: "time = 10.0",
        to: "time = \"10.0\"",
        message: "`time`: expected a number from 0.0 to 86400.0 (seconds), found the text \"10.0\"",
        fix: "remove the quotes",
    },
    Slip {
        file: CUES,
        from: "to = \"harbour\"",
        to: "to = harbour",
        message: "this is not TOML: string values must be quoted, expected literal string",
        fix: "put a text in quotes",
    },
    Slip {
        file: CUES,
        from: "name = \"Mill turns\"",
        to: "name = \"Mill turns",
        message: "this is not TOML: invalid basic string, expected `\"`",
        fix: "close the quotes on the same line",
    },
    Slip {
        file: CUES,
        from: "name = \"Mill turns\"",
        to: "name = 4",
        message: "`name`: expected a text of 1 to 200 characters on one line, found the number 4",
        fix: "put a text in quotes",
    },
    Slip {
        file: "show.toml",
        from: "trips = true",
        to: "trips = \"yes\"",
        message: "`trips`: expected true or false, found the text \"yes\"",
        fix: "write true or false, without quotes",
    },
];

/// What the check tells of a show, files and proof.
fn findings(copy: &Copy) -> Vec<Finding> {
    let reading = copy.read();
    let proof = reading.show.as_ref().map(prove);
    reading.findings.into_iter().chain(proof.into_iter().flat_map(|proof| proof.findings)).collect()
}

fn tell(slips: &[Slip]) {
    for Slip { file, from, to, message, fix } in slips {
        let found = findings(&Copy::new().edit(file, from, to));
        let told: Vec<(&str, &str)> =
            found.iter().map(|finding| (finding.message.as_str(), finding.fix.as_deref().unwrap_or(""))).collect();
        assert_eq!(told, [(*message, *fix)], "{file}: {to}");
        assert!(found[0].place.is_some(), "{file}: {to}");
    }
}

#[test]
fn a_slip_of_the_unit_is_told_before_anything_moves() {
    tell(&UNITS);
}

#[test]
fn a_name_that_nothing_has_is_told_with_those_that_there_are() {
    tell(&NAMES);
}

#[test]
fn what_a_machine_cannot_do_is_told_with_what_it_can() {
    tell(&MACHINES);
}

#[test]
fn a_slip_of_the_hand_is_told_with_its_cure() {
    tell(&KEYS);
}

#[test]
fn a_list_begun_as_a_table_is_told_twice_and_not_for_every_cue() {
    let found = findings(&Copy::new().edit(CUES, "[[cue]]", "[cue]"));
    let fixes: Vec<&str> = found.iter().filter_map(|finding| finding.fix.as_deref()).collect();
    assert_eq!(
        fixes,
        [
            "write [[cue]] with double brackets, or a list [{ ... }]",
            "it is there already: remove one; of a list of tables each begins with [[name]]",
        ]
    );
}
