//! Which rigs a take is of, when no cue says so.

use std::fmt;
use std::sync::Arc;

use super::Take;
use crate::show::id::{AxisId, RigId};
use crate::show::list::Playing;
use crate::show::model::Show;

/// Why it is not known on which rigs a take plays.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum CastError {
    /// A column that no axis of the show, or of that rig, is called by.
    NoAxis {
        column: String,
        rig: Option<String>,
    },
    NoRig {
        rig: String,
    },
    /// Columns without the name of a rig, which these rigs could play; maybe none.
    Which {
        columns: Vec<String>,
        rigs: Vec<String>,
    },
}

/// The rigs of a take, each with its columns, in the order of the columns. Those that name no rig are of `rig`, else of the
/// one rig on which the cue list plays it, else of the one that has all such axes.
///
/// # Errors
/// A name that the show has not, or columns that could be of several rigs or of none.
pub fn cast(show: &Show, take: &Arc<Take>, rig: Option<&str>) -> Result<Vec<(RigId, Playing)>, CastError> {
    let bare: Vec<&str> =
        take.columns.iter().map(|column| column.name.as_str()).filter(|name| !name.contains('.')).collect();
    let bare_rig = if bare.is_empty() { None } else { Some(rig_of(show, take, &bare, rig)?) };
    let mut parts: Vec<(RigId, Playing)> = Vec::new();
    for (index, column) in take.columns.iter().enumerate() {
        let unknown =
            |rig: Option<&str>| CastError::NoAxis { column: column.name.clone(), rig: rig.map(str::to_owned) };
        let axis = match (column.name.split_once('.'), bare_rig) {
            (None, Some(rig)) => {
                axis_of(show, rig, &column.name).ok_or_else(|| unknown(Some(&show.rig(rig).name)))?
            }
            (_, _) => show.axis_ids().find(|&axis| show.axis_name(axis) == column.name).ok_or(unknown(None))?,
        };
        let rig = show.axis(axis).rig;
        let known = parts.iter().position(|(known, _)| *known == rig);
        let part = known.unwrap_or_else(|| {
            let playing =
                Playing { take: take.clone(), columns: Vec::new(), enter: 0.0, stretch: 1.0, place: take.place };
            parts.push((rig, playing));
            parts.len() - 1
        });
        parts[part].1.columns.push((axis, index));
    }
    Ok(parts)
}

fn rig_of(show: &Show, take: &Take, bare: &[&str], rig: Option<&str>) -> Result<RigId, CastError> {
    if let Some(name) = rig {
        let named = show.rig_ids().find(|&rig| show.rig(rig).name == name);
        return named.ok_or(CastError::NoRig { rig: name.to_owned() });
    }
    let has_all = |rig: &RigId| bare.iter().all(|name| axis_of(show, *rig, name).is_some());
    let mut playing: Vec<RigId> = show.playing(&take.name).map(|(_, rig)| rig).filter(has_all).collect();
    playing.sort_by_key(|rig| rig.index());
    playing.dedup();
    let able: Vec<RigId> = show.rig_ids().filter(has_all).collect();
    match (&playing[..], &able[..]) {
        ([only], _) | ([], [only]) => Ok(*only),
        (several @ [_, _, ..], _) | ([], several) => Err(CastError::Which {
            columns: bare.iter().map(|name| (*name).to_owned()).collect(),
            rigs: several.iter().map(|&rig| show.rig(rig).name.clone()).collect(),
        }),
    }
}

fn axis_of(show: &Show, rig: RigId, name: &str) -> Option<AxisId> {
    show.rig(rig).axis_ids().find(|&axis| show.axis(axis).name == name)
}

impl fmt::Display for CastError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            CastError::NoAxis { column, rig: Some(rig) } => write!(f, "column `{column}`: {rig} has no such axis"),
            CastError::NoAxis { column, rig: None } => write!(f, "column `{column}`: the show has no such axis"),
            CastError::NoRig { rig } => write!(f, "the show has no rig '{rig}'"),
            CastError::Which { columns, rigs } if rigs.is_empty() => {
                write!(f, "no rig of the show has all of its axes: {}", columns.join(", "))
            }
            CastError::Which { columns, rigs } => {
                let (columns, rigs) = (columns.join(", "), rigs.join(", "));
                write!(f, "its columns {columns} could be of {rigs}: name one with --rig")
            }
        }
    }
}

impl std::error::Error for CastError {}
