//! The takes of the show's folder: which there are, what would become of one, a stretch of one as another.
//!
//! They are read anew each time: one that was kept just now is there, though the show in force was read before it.

use std::sync::Arc;

use serde_json::{Value, json};

use super::recording::Folder;
use crate::proof::take_alone;
use crate::report::{self, TakePart, TakeTold};
use crate::show::{
    self, AxisId, Place, Playing, RigId, Severity, Show, Source, Sources, Surveyed, Take, cast, is_name, read_take,
};

/// A take as it was read.
pub struct Read {
    pub take: Arc<Take>,
    source: Source,
}

/// What is asked of a take that is looked at.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct View {
    /// s of it, from its first sample, between which it is looked at as if it were cut there.
    pub ends: Option<[f64; 2]>,
    /// Factor on its time.
    pub stretch: Option<f64>,
    /// Which plays the columns that name none.
    pub rig: Option<String>,
}

/// Every take of the folder, by name. What is wrong with one stands beside it.
///
/// # Errors
/// The folder cannot be read.
pub fn list(folder: &Folder, show: &Show) -> Result<Value, String> {
    let names = folder.names()?;
    Ok(json!({ "takes": names.iter().map(|name| entry(folder, show, name)).collect::<Value>() }))
}

fn entry(folder: &Folder, show: &Show, name: &str) -> Value {
    let read = match read(folder, name) {
        Ok(read) => read,
        Err(reasons) => return json!({ "name": name, "trouble": reasons }),
    };
    let take = &read.take;
    let cast = cast(show, take, None);
    let parts = cast.as_deref().unwrap_or_default();
    let mut cues: Vec<String> = show.playing(name).map(|(cue, _)| show.number_of(cue)).collect();
    cues.dedup();
    json!({
        "name": name,
        "recorded": take.recorded,
        "survey": take.survey_hash(),
        "length": take.length(),
        "rigs": parts.iter().map(|(rig, _)| show.rig(*rig).name.as_str()).collect::<Value>(),
        "axes": take.columns.iter().map(|column| column.name.as_str()).collect::<Value>(),
        "differences": differences(show, take, parts),
        "cues": cues,
        "trouble": cast.err().map(|why| why.to_string()).into_iter().collect::<Vec<String>>(),
    })
}

/// What is surveyed otherwise now, axis by axis, in words; nothing if every recorded position is the same place still.
fn differences(show: &Show, take: &Take, parts: &[(RigId, Playing)]) -> Vec<String> {
    let of = |&(axis, column): &(AxisId, usize)| -> Vec<String> {
        let Some((was, _)) = &take.columns[column].surveyed else { return Vec::new() };
        let told = was.differences(&Surveyed::of(show.axis(axis)));
        told.into_iter().map(|one| format!("{}: {one}", show.axis_name(axis))).collect()
    };
    parts.iter().flat_map(|(_, playing)| &playing.columns).flat_map(of).collect()
}

/// Reads one.
///
/// # Errors
/// There is none of that name, or it does not read well; for people.
pub fn read(folder: &Folder, name: &str) -> Result<Read, Vec<String>> {
    if !is_name(name) {
        return Err(vec![format!("'{name}': expected the name of a take")]);
    }
    let text = std::fs::read_to_string(folder.file_of(name)).map_err(|error| match error.kind() {
        std::io::ErrorKind::NotFound => vec![format!("there is no take {name} in this show")],
        _ => vec![format!("take {name} could not be read: {error}")],
    })?;
    read_text(name, text)
}

fn read_text(name: &str, text: String) -> Result<Read, Vec<String>> {
    let (take, findings) = read_take(name, &text, Place::default());
    let source = Source { path: format!("takes/{name}.csv"), text };
    if findings.is_empty() {
        return Ok(Read { take: Arc::new(take), source });
    }
    let sources = Sources { files: vec![source] };
    Err(findings.iter().map(|finding| report::line(finding, &sources)).collect())
}

/// The rigs of a take.
///
/// # Errors
/// It is not known which; for people.
pub fn parts(show: &Show, read: &Read, rig: Option<&str>) -> Result<Vec<(RigId, Playing)>, Vec<String>> {
    cast(show, &read.take, rig).map_err(|why| vec![format!("take {}: {why}", read.take.name)])
}

/// What a take holds, how it would be played and what stands against that; see [`report::take_preview`]. Takes some time.
///
/// # Errors
/// As [`read`] and [`parts`], or ends that it does not have.
pub fn preview(folder: &Folder, show: &Show, name: &str, view: &View) -> Result<Value, Vec<String>> {
    let mut of = read(folder, name)?;
    let whole = of.take.length();
    if let Some(ends) = view.ends {
        let text = show::cut(&of.source.text, name, ends).map_err(|why| vec![why.to_string()])?;
        of = read_text(name, text)?;
    }
    let mut parts = parts(show, &of, view.rig.as_deref())?;
    let stretch = view.stretch.unwrap_or(1.0);
    parts.iter_mut().for_each(|(_, playing)| playing.stretch = stretch);
    let mut findings = Vec::new();
    let mut told = Vec::new();
    for (rig, playing) in &parts {
        let (played, against) = take_alone(show, (*rig, playing), &parts, None);
        findings.extend(against);
        told.push(TakePart { rig: *rig, playing: playing.clone(), played });
    }
    let mut json =
        report::take_preview(TakeTold { show, take: &of.take, parts: &told, findings: &findings }, stretch);
    json["whole"] = whole.into();
    json["differences"] = differences(show, &of.take, &parts).into();
    let wrong = findings.iter().filter(|finding| finding.severity == Severity::Error);
    json["against"] = wrong.map(|finding| finding.message.as_str()).collect();
    Ok(json)
}

/// The moves that play a take in a cue; nothing, if it is not known on which rigs.
pub fn lines(folder: &Folder, show: &Show, name: &str) -> Option<String> {
    let of = read(folder, name).ok()?;
    let parts = parts(show, &of, None).ok()?;
    let part = |(rig, playing): &(RigId, Playing)| TakePart { rig: *rig, playing: playing.clone(), played: None };
    let parts: Vec<TakePart> = parts.iter().map(part).collect();
    Some(report::cue_lines(TakeTold { show, take: &of.take, parts: &parts, findings: &[] }, 1.0))
}

/// Writes a stretch of a take as another, whose name must be free. The samples stay as they were recorded, to the letter.
///
/// # Errors
/// As [`read`]; ends that it does not have; a name that is none, or taken; the disk. For people.
pub fn trim(folder: &Folder, name: &str, ends: [f64; 2], new: &str) -> Result<(), Vec<String>> {
    let of = read(folder, name)?;
    let text = show::cut(&of.source.text, name, ends).map_err(|why| vec![why.to_string()])?;
    folder.add(new, &text).map_err(|why| vec![why])
}
