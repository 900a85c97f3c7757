//! Every finding, with where it is, what to do, and the stage at its instant.

use glam::DVec3;
use maud::{Markup, html};

use super::scene::{Between, Other, Scene, cues, scene};
use super::stage_drawing::Drawing;
use super::view::{View, stage_word};
use super::windows;
use crate::proof::{CueMap, Proof};
use crate::report::findings::printable;
use crate::show::{Code, CueId, Finding, Reading, Severity, Show};
use crate::stage::{Core, Solid, Stage};

/// Findings whose stage is drawn at most.
const DRAWN_MAX: usize = 40;
/// m; a smaller gap is drawn once more, from close by: so far around it.
const CLOSE: f64 = 0.35;
const AROUND: [f64; 2] = [0.9, 0.55];

/// The section, and the pairs of cues whose maps stand in it.
pub fn findings(reading: &Reading, proof: Option<&Proof>, findings: &[Finding]) -> (Markup, Vec<(CueId, CueId)>) {
    let (notes, serious): (Vec<&Finding>, Vec<&Finding>) =
        findings.iter().partition(|finding| finding.severity == Severity::Note);
    let stage = reading.show.as_ref().map(Stage::new);
    let mut drawn: Vec<(CueId, CueId)> = Vec::new();
    let mut left = DRAWN_MAX;
    let mut articles = Vec::new();
    for finding in serious {
        let figures = match (&reading.show, proof, &stage) {
            (Some(show), Some(proof), Some(stage)) if left > 0 => {
                let figures = figures(show, proof, stage, finding, &mut drawn);
                left -= usize::from(figures.is_some());
                figures
            }
            (_, _, _) => None,
        };
        articles.push(article(reading, finding, figures));
    }
    let markup = html! {
        @if !articles.is_empty() {
            section {
                h2 { "What was found" }
                @if left < DRAWN_MAX {
                    p.note {
                        "The ring marks where the two are nearest. A section is seen along the floor, square to that gap; what                          lies well before or behind it is pale."
                        @if left == 0 { " The stage is drawn for the first " (DRAWN_MAX) " of these." }
                    }
                }
                @for article in &articles { (article) }
            }
        }
        @if !notes.is_empty() {
            section {
                h2 { "Notes" }
                ul.notes { @for note in notes { li { (printable(&note.message)) (where_it_is(reading, note)) (advice(note)) } } }
            }
        }
    };
    (markup, drawn)
}

fn article(reading: &Reading, finding: &Finding, figures: Option<Markup>) -> Markup {
    html! {
        article class={ "finding " (finding.severity.word()) } {
            div.told {
                h3 { span.severity { (finding.severity.word()) } " " span.code { (finding.code.word()) } }
                p.message { (printable(&finding.message)) }
                (where_it_is(reading, finding))
                (advice(finding))
            }
            @if let Some(figures) = figures { (figures) }
        }
    }
}

fn where_it_is(reading: &Reading, finding: &Finding) -> Markup {
    let words = |place| {
        let (line, column) = reading.sources.line_column(place);
        format!("{}:{line}:{column}", reading.sources.path(place))
    };
    html! {
        @if let Some(place) = finding.place {
            p.place { (words(place)) @if let Some((also, why)) = &finding.also { "; " (why) ": " (words(*also)) } }
        }
    }
}

fn advice(finding: &Finding) -> Markup {
    html! { @if let Some(fix) = &finding.fix { p.fix { b { "What to do: " } (printable(fix)) } } }
}

/// The stage at the finding's instant and the map of its two cues, as far as it has them.
fn figures(
    show: &Show,
    proof: &Proof,
    stage: &Stage,
    finding: &Finding,
    drawn: &mut Vec<(CueId, CueId)>,
) -> Option<Markup> {
    let scene = scene(show, proof, stage, finding);
    let map = map_of(show, proof, finding).filter(|map| !drawn.contains(&(map.pair.first, map.pair.second)));
    drawn.extend(map.map(|map| (map.pair.first, map.pair.second)));
    if scene.is_none() && map.is_none() {
        return None;
    }
    let instant = map.and_then(|map| instant(show, finding, map));
    Some(html! {
        div.figures {
            @if let Some(scene) = &scene { (views(show, finding, scene)) }
            @if let Some(map) = map { (windows::figure(show, map, instant)) }
        }
    })
}

fn map_of<'a>(show: &Show, proof: &'a Proof, finding: &Finding) -> Option<&'a CueMap> {
    let [one, other] = cues(show, finding).try_into().ok()?;
    finding.other_time?;
    proof.plan.maps.of(one.min(other), one.max(other)).filter(|map| !map.blocked.is_empty())
}

/// By the map's own order of the two.
fn instant(show: &Show, finding: &Finding, map: &CueMap) -> Option<[f64; 2]> {
    let (time, other) = (finding.time?, finding.other_time?);
    let turned = cues(show, finding).first() != Some(&map.pair.first);
    Some(if turned { [other, time] } else { [time, other] })
}

fn views(show: &Show, finding: &Finding, scene: &Scene) -> Markup {
    let measure = measure(finding, scene);
    let section = section_of(scene);
    let drawing = |view: View, title: String, close: Option<[f64; 2]>| {
        Drawing { show, scene, view, title, measure: measure.as_deref(), close }.draw()
    };
    let when = when(finding);
    let close = scene.gap.as_ref().filter(|gap| gap.distance < CLOSE).map(|_| AROUND);
    html! {
        figure {
            figcaption { b { "Plan" } " " (when) }
            (drawing(View::PLAN, format!("plan of the stage {when}"), None))
            figcaption.note { (who(show, scene)) (how_near(finding, scene)) }
        }
        figure {
            figcaption { b { "Section" } ", seen towards " (stage_word(section.depth())) }
            (drawing(section, format!("section of the stage {when}"), None))
        }
        @if close.is_some() {
            figure {
                figcaption { b { "Section" } ", from close by" }
                (drawing(section, format!("the same section from close by, {when}"), close))
            }
        }
    }
}

/// "3.2 s into cue 21 and 1.0 s into cue 21.5"; of a rig that stalls, "heron 3.2 s into cue 21, all others 3.4 s into it".
fn when(finding: &Finding) -> String {
    if let ([cue], [rig, ..], Some(time), Some(other_time)) =
        (&finding.cues[..], &finding.rigs[..], finding.time, finding.other_time)
    {
        return format!("{rig} {time:.1} s into cue {cue}, all others {other_time:.1} s into it");
    }
    let of = |index: usize, time: Option<f64>| {
        finding.cues.get(index).zip(time).map(|(cue, time)| format!("{time:.1} s into cue {cue}"))
    };
    let times: Vec<String> = [of(0, finding.time), of(1, finding.other_time)].into_iter().flatten().collect();
    times.join(" and ")
}

/// "0.12 m, 0.3 m wanted"; of a skip, which is told by how near the list lets the two come, what is drawn.
fn measure(finding: &Finding, scene: &Scene) -> Option<String> {
    let drawn = scene.gap.as_ref()?.distance;
    let wanted = finding.limit.filter(|_| finding.code != Code::Skip);
    let found = finding.value.filter(|_| wanted.is_some()).unwrap_or(drawn);
    let found = if found == 0.0 { "touch".to_owned() } else { format!("{} m", (found * 1e3).round() / 1e3) };
    Some(wanted.map_or(found.clone(), |wanted| format!("{found}, {wanted} m wanted")))
}

fn who(show: &Show, scene: &Scene) -> Markup {
    let fills = ["widely hatched", "closely hatched"];
    html! {
        @for (rig, fill) in scene.rigs.iter().zip(fills) { (show.rig(*rig).name) " is " (fill) ". " }
        @if let Some(Between { other: Other::Zone(zone), .. }) = &scene.gap { "Zone '" (show.zones[*zone].name) "'. " }
    }
}

/// What the drawing measures, beside what the finding says.
fn how_near(finding: &Finding, scene: &Scene) -> Markup {
    let Some(gap) = &scene.gap else { return html! {} };
    let drawn = if gap.distance == 0.0 { "they touch".to_owned() } else { format!("{:.2} m apart", gap.distance) };
    let nearer = finding.value.is_some_and(|value| value < gap.distance - 0.005);
    let why = match (finding.code, nearer) {
        (Code::Skip, _) => match finding.cues.get(1) {
            Some(skipped) => format!(", with cue {skipped} skipped"),
            None => String::new(),
        },
        (Code::Clearance | Code::Overlap, true) => "; the finding counts the start tolerances too".to_owned(),
        (_, true) if finding.pose.is_none() => ", each on its way; the finding follows them off it".to_owned(),
        (_, _) => String::new(),
    };
    html! { "As drawn: " (drawn) (why) ". " }
}

/// The side from which the gap is seen at full length; where that is upright, the two bodies.
fn section_of(scene: &Scene) -> View {
    let along = |solid: &Solid| match solid.core {
        Core::Segment([from, to]) => to - from,
        Core::Point(_) | Core::Block { .. } => DVec3::ZERO,
    };
    let mut wanted = Vec::new();
    if let Some(gap) = &scene.gap {
        let body = &scene.bodies[gap.body].1;
        wanted.extend(gap.direction);
        if let Other::Body(other) = gap.other {
            let other = &scene.bodies[other].1;
            wanted.extend([other.core.centre() - body.core.centre(), along(other)]);
        }
        wanted.push(along(body));
    }
    wanted.into_iter().find_map(View::section).unwrap_or(View { right: DVec3::X, up: DVec3::Z })
}
