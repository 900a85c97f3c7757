//! cues/*.toml: the cue list, in any number of files.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};

use super::condition::Condition;
use super::ranges::{Coordinate, Position, Seconds, Softness, Stretch};
use crate::show::decode::{
    At, AtLeastOne, Decode, Found, Map, Name, Node, Text, Title, choice, describe, record, words,
};
use crate::show::finding::{Code, Finding};
use crate::show::list::{CueState, OnLinkLoss, Round};
use crate::show::number::CueNumber;

record! {
    /// cues/*.toml: cues, in any number of files, ordered by their numbers.
    CueFile, "a file of cues" {
        /// The cues.
        cues as "cue": Option<Vec<At<Cue>>>,
    }
}

record! {
    /// A cue, as called by the stage manager.
    Cue, "a cue" {
        /// Its number: dotted decimals compared part by part, as text. 12.5 is between 12 and 13, 12.10 after 12.9.
        number: At<Number>,
        /// Its name.
        name: Title,
        /// Page of the prompt book.
        page: Option<Title>,
        /// Words or action on which it is called.
        call: Option<Text>,
        /// Who has eyes on it.
        watch: Option<Text>,
        /// Anything else.
        notes: Option<Text>,
        /// s, planned from the call before.
        gap: Option<Seconds>,
        /// Makes it a follow: it starts by itself. Default: it starts on a GO.
        after: Option<At<After>>,
        /// Must be true at GO and all along; not true means hold.
        needs: Option<At<Condition>>,
        /// What happens when the client that fired it, and keeps a lease, is lost. Default hold.
        on_link_loss: Option<OnLinkLoss>,
        /// What each rig does; at least one.
        moves as "move": AtLeastOne<At<Move>>,
    }
}

record! {
    /// What one rig does in a cue: a straight line in the space of its joints, all its axes in proportion.
    Move, "a move" {
        /// Name of the rig.
        rig: At<Text>,
        /// Where to: a mark, or positions of some axes. May be left out beside `aim`.
        to: Option<At<Target>>,
        /// Marks passed in this order, exactly, without stopping. They may leave axes out, but name none that `to` leaves out.
        via: Option<At<Vec<At<Text>>>>,
        /// s. Default: as fast as the limits allow.
        time: Option<At<Seconds>>,
        /// s after the cue's start. Default 0.
        delay: Option<Seconds>,
        /// Whether `to` is relative to where the rig stands. Default false.
        by: Option<bool>,
        /// Axes that turn, for which `to` names a place that comes once a turn: which way round to it. Default: `to` is
        /// the very position, turns counted.
        round: Option<At<Map<At<Round>>>>,
        /// A recorded take, instead of `to`: NAME of takes/NAME.csv.
        take: Option<At<Text>>,
        /// Factor on the take's time, its run-in and run-out included. Default 1.
        stretch: Option<At<Stretch>>,
        /// s from the take's first sample, at which it is entered. Default 0.
        enter: Option<At<Seconds>>,
        /// A point that its lens is kept on: the two axes that aim it follow that while the others go where `to` says. What a mark
        /// says of the two is left to the aim. Without `to` they alone move.
        aim: Option<At<Aim>>,
        /// How softly it begins and ends: from 0, as sharply as the limits allow, to 1, as softly as can be. Softer
        /// needs more time. Default 0.
        shape: Option<Softness>,
    }
}

choice! {
    /// What the lens of a rig is kept on.
    Aim, "an aim" {
        /// A point of the stage.
        Point(AimAtPoint) by ["at"],
        /// A body of another rig, wherever it goes.
        Body(AimAtBody) by ["rig"],
    }
}

record! {
    /// A point of the stage that a lens is kept on.
    AimAtPoint, "an aim" {
        /// m, in stage axes.
        at: [Coordinate; 3],
        /// Whether the focus is kept on it too, by the lens's table. Default false.
        focus: Option<bool>,
        /// s from the start until it is on the point, and from where it leaves a point that goes on until it is at rest. Default: a
        /// quarter of the move, or all of it where neither the lens nor the point moves.
        ease: Option<At<Seconds>>,
    }
}

record! {
    /// A body of another rig that a lens is kept on.
    AimAtBody, "an aim" {
        /// Name of the other rig.
        rig: At<Text>,
        /// The axis of it on which the body hangs. Default: the last that carries bodies.
        axis: Option<At<Name>>,
        /// m, in the frame of that axis. Default: the middle of its bodies.
        point: Option<[Coordinate; 3]>,
        /// Whether the focus is kept on it too, by the lens's table. Default false.
        focus: Option<bool>,
        /// s from the start until it is on the point, and from where it leaves a point that goes on until it is at rest. Default: a
        /// quarter of the move, or all of it where neither the lens nor the point moves.
        ease: Option<At<Seconds>>,
    }
}

choice! {
    /// What starts a follow.
    After, "a follow" {
        /// Another cue.
        Cue(AfterCue) by ["cue"],
        /// A condition that becomes true.
        When(AfterWhen) by ["when"],
    }
}

record! {
    /// A follow of another cue.
    AfterCue, "a follow" {
        /// Number of the leading cue.
        cue: At<Number>,
        /// Its start or its end.
        from: Start,
        /// s; from `start` on the leading cue's own time, from `end` on the show's clock.
        wait: Seconds,
    }
}

record! {
    /// A follow that starts once a condition is true.
    AfterWhen, "a follow" {
        /// The condition.
        when: At<Condition>,
    }
}

/// What of the leading cue a follow waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Start {
    Start,
    End,
}

words! {
    Start { "start" = Start::Start, "end" = Start::End }
    Round { "shortest" = Round::Shortest, "up" = Round::Up, "down" = Round::Down }
    OnLinkLoss { "hold" = OnLinkLoss::Hold, "finish" = OnLinkLoss::Finish }
    CueState {
        "idle" = CueState::Idle,
        "standby" = CueState::Standby,
        "waiting" = CueState::Waiting,
        "running" = CueState::Running,
        "holding" = CueState::Holding,
        "returning" = CueState::Returning,
        "done" = CueState::Done,
        "stopped" = CueState::Stopped,
    }
}

/// Where a move goes: a mark, or positions of some axes.
#[derive(Clone, Debug, JsonSchema)]
#[schemars(untagged)]
pub enum Target {
    /// Name of a mark of the rig.
    Mark(Text),
    /// Positions by the names of axes, in their units.
    Pose(Map<At<Position>>),
}

impl Decode for Target {
    fn expected() -> String {
        "the name of a mark, or a table of axes and positions".into()
    }

    fn stand_in() -> Self {
        Target::Pose(Map(Vec::new()))
    }

    fn decode(node: Node<'_>, found: &mut Found) -> Self {
        if node.value.is_str() {
            Target::Mark(Decode::decode(node, found))
        } else if node.value.is_table() {
            Target::Pose(Decode::decode(node, found))
        } else {
            found.wrong(node)
        }
    }
}

/// A cue number; `None` if it could not be read.
#[derive(Clone, Debug)]
pub struct Number(pub Option<CueNumber>);

impl Decode for Number {
    fn expected() -> String {
        "a cue number as text, such as \"12.5\"".into()
    }

    fn stand_in() -> Self {
        Number(None)
    }

    fn decode(node: Node<'_>, found: &mut Found) -> Self {
        let Some(text) = node.value.as_str() else {
            let message = format!("`{}`: expected {}, found {}", node.key, Self::expected(), describe(node.value));
            found.push(Finding::new(Code::BadValue, message).at(node.place).fix("put the number in quotes"));
            return Number(None);
        };
        match text.parse() {
            Ok(number) => Number(Some(number)),
            Err(why) => {
                let head: String = text.chars().take(40).collect();
                let expected = Self::expected();
                let message = format!("`{}`: expected {expected}, found {head:?}: {why}", node.key);
                let fix = "write digits with dots between them";
                found.push(Finding::new(Code::BadValue, message).at(node.place).fix(fix));
                Number(None)
            }
        }
    }
}

impl JsonSchema for Number {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "CueNumber".into()
    }

    fn json_schema(_generator: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "type": "string",
            "pattern": r"^(0|[1-9][0-9]{0,8})(\.(0|[1-9][0-9]{0,8})){0,7}$",
            "examples": ["12.5"],
        })
    }
}
