//! The stage at one instant, seen from one side, as SVG.

use glam::{DVec2, DVec3};
use maud::{Markup, html};

use super::scene::{Between, Other, Scene};
use super::sheet::{Labels, Sheet, WIDTH};
use super::view::{Outline, View, stage_word};
use crate::show::{Keep, RigId, Show, Zone};
use crate::stage::Solid;

/// m around what is shown.
const ROOM: f64 = 0.7;
/// m: no window is smaller; and from the gap a rig is shown no further than this.
const LEAST: f64 = 3.0;
const FAR: f64 = 7.5;
/// m: a deck that is no further below is shown too.
const DECK: f64 = 5.0;
/// m, before and behind a section, within which a zone is shown in it, and a rig by its name.
const DEPTH: f64 = 1.0;
/// Of the ring around a gap that is too small to be seen by itself, on paper.
const RING: f64 = 9.0;

/// What one drawing shows.
pub struct Drawing<'a> {
    pub show: &'a Show,
    pub scene: &'a Scene,
    pub view: View,
    /// For those who do not see it.
    pub title: String,
    /// What stands beside the gap.
    pub measure: Option<&'a str>,
    /// m, to each side of the gap and above and below it; else all of the rigs.
    pub close: Option<[f64; 2]>,
}

/// Patterns that the drawings are filled with; once a page.
pub fn patterns() -> Markup {
    let lines = |id: &str, turn: u32, step: u32, class: &str| {
        html! {
            pattern id=(id) width=(step) height=(step) patternUnits="userSpaceOnUse" patternTransform={ "rotate(" (turn) ")" } {
                path class=(class) d={ "M0 0V" (step) } {}
            }
        }
    };
    html! {
        svg.patterns width="0" height="0" aria-hidden="true" {
            defs {
                (lines("fill-one", 45, 5, "fill-one"))
                (lines("fill-two", 135, 3, "fill-two"))
                (lines("fill-zone", 45, 9, "fill-zone"))
                (lines("fill-blocked", 45, 4, "fill-blocked"))
                pattern id="fill-open" width="4" height="4" patternUnits="userSpaceOnUse" {
                    circle.fill-open cx="1.5" cy="1.5" r=".8" {}
                }
            }
        }
    }
}

impl Drawing<'_> {
    pub fn draw(&self) -> Markup {
        let sheet = self.sheet();
        let mut labels = Labels::new(DVec2::new(WIDTH, sheet.height));
        let words = self.words(&sheet, &mut labels);
        html! {
            svg.stage viewBox={ "0 0 " (WIDTH) " " (format!("{:.0}", sheet.height)) } role="img" aria-label=(self.title) {
                path.grid d=(grid(&sheet)) {}
                (self.zones(&sheet))
                @if self.is_section() { path.deck d=(level(&sheet, 0.0)) {} }
                @for (at, (rig, solid)) in self.scene.bodies.iter().enumerate() {
                    @if !self.scene.rigs.contains(rig) {
                        (self.body(&sheet, at, solid, if self.is_near(solid) { "other" } else { "far" }))
                    }
                }
                @for (at, (rig, solid)) in self.scene.bodies.iter().enumerate() {
                    @if let Some(place) = self.scene.rigs.iter().position(|known| known == rig) {
                        (self.body(&sheet, at, solid, if place == 0 { "one" } else { "two" }))
                    }
                }
                (words)
                (self.gap_mark(&sheet))
                (scale_bar(&sheet))
            }
        }
    }

    fn is_section(&self) -> bool {
        self.view.up == DVec3::Z
    }

    /// The window: the rigs that it is of, as far as they are near the gap.
    fn sheet(&self) -> Sheet {
        let focus = self.scene.gap.as_ref().map(|gap| self.view.point(gap.middle()));
        if let (Some(focus), Some(around)) = (focus, self.close.map(DVec2::from_array)) {
            return Sheet::showing(focus - around, focus + around);
        }
        let (mut low, mut high) = focus
            .map_or((DVec2::INFINITY, DVec2::NEG_INFINITY), |focus| (focus - LEAST / 2.0, focus + LEAST / 2.0));
        for (rig, solid) in &self.scene.bodies {
            if self.scene.rigs.contains(rig) {
                let [from, to] = self.view.outline(solid).bounds();
                (low, high) = (low.min(from), high.max(to));
            }
        }
        if let Some(focus) = focus {
            (low, high) = (low.max(focus - FAR), high.min(focus + FAR));
        }
        if self.is_section() && low.y > 0.0 && low.y < DECK {
            low.y = 0.0;
        }
        let missing = (DVec2::splat(LEAST) - (high - low)).max(DVec2::ZERO) / 2.0;
        Sheet::showing(low - missing - ROOM, high + missing + ROOM)
    }

    fn body(&self, sheet: &Sheet, at: usize, solid: &Solid, class: &str) -> Markup {
        let outline = self.view.outline(solid);
        if !is_in(&outline, sheet) {
            return html! {};
        }
        let path = outline.path(sheet.scale, |point| sheet.at(point));
        let concerned = self.scene.gap.as_ref().is_some_and(|gap| gap.body == at || gap.other == Other::Body(at));
        let gap = if concerned { " concerned" } else { "" };
        html! { path class={ "body " (class) (gap) } d=(path) {} }
    }

    fn zones(&self, sheet: &Sheet) -> Markup {
        html! {
            @for (index, zone) in self.show.zones.iter().enumerate() {
                @let outline = self.view.outline(&Solid::upright(zone.min, zone.max));
                @let concerned = self.scene.gap.as_ref().is_some_and(|gap| gap.other == Other::Zone(index));
                @if is_in(&outline, sheet) && self.shows(zone) {
                    path.zone.inside[zone.keep == Keep::In].concerned[concerned]
                        d=(outline.path(sheet.scale, |point| sheet.at(point))) {}
                }
            }
        }
    }

    /// The zones that its rigs must heed; of these a section shows those that it passes, or nearly.
    fn shows(&self, zone: &Zone) -> bool {
        let heeded = zone.rigs.iter().any(|rig| self.scene.rigs.contains(rig));
        heeded && self.is_near(&Solid::upright(zone.min, zone.max))
    }

    /// Whether a section passes it, or nearly.
    fn is_near(&self, solid: &Solid) -> bool {
        let Some(gap) = self.scene.gap.as_ref().filter(|_| self.is_section()) else { return true };
        let depth = self.view.depth();
        (gap.middle() - solid.core.centre()).dot(depth).abs() <= solid.reach(depth) + DEPTH
    }

    fn gap_mark(&self, sheet: &Sheet) -> Markup {
        let Some(gap) = &self.scene.gap else { return html! {} };
        let [from, to] = gap.points.map(|point| sheet.at(self.view.point(point)));
        let middle = (from + to) / 2.0;
        html! {
            @if gap.distance > 0.0 { path.gap d=(format!("M{:.1} {:.1}L{:.1} {:.1}", from.x, from.y, to.x, to.y)) {} }
            @else { path.gap d=(cross(middle)) {} }
            @if from.distance(to) < 2.0 * RING {
                circle.ring cx=(tenths(middle.x)) cy=(tenths(middle.y)) r=(tenths((from.distance(to) / 2.0 + 3.0).max(RING))) {}
            }
        }
    }

    /// The measure first, then the rigs that it is of, then the others, as far as there is room.
    fn words(&self, sheet: &Sheet, labels: &mut Labels) -> Markup {
        labels.reserve(DVec2::new(0.0, sheet.height - 16.0), DVec2::new(90.0, sheet.height));
        let ends = self.ends(sheet, labels);
        let measure = self.measure(sheet, labels);
        let mut names: Vec<RigId> = self.scene.rigs.clone();
        names.extend(self.show.rig_ids().filter(|rig| !self.scene.rigs.contains(rig)));
        let rigs: Vec<(DVec2, &str, bool)> = names
            .into_iter()
            .filter_map(|rig| {
                let name = self.show.rig(rig).name.as_str();
                let at = labels.place(name, self.anchor(sheet, rig)?, 2.0)?;
                Some((at, name, self.scene.rigs.contains(&rig)))
            })
            .collect();
        let zones: Vec<(DVec2, &str)> =
            self.show.zones.iter().enumerate().filter_map(|(at, _)| self.zone_name(sheet, labels, at)).collect();
        html! {
            (ends)
            @for (at, name) in &zones { text.zone-name x=(tenths(at.x)) y=(tenths(at.y)) { (name) } }
            @for (at, name, concerned) in &rigs {
                text.rig-name.concerned[*concerned] x=(tenths(at.x)) y=(tenths(at.y)) { (name) }
            }
            (measure)
        }
    }

    fn measure(&self, sheet: &Sheet, labels: &mut Labels) -> Markup {
        let (Some(gap), Some(text)) = (&self.scene.gap, self.measure) else { return html! {} };
        let middle = sheet.at(self.view.point(gap.middle()));
        labels.reserve(middle - 10.0, middle + 10.0);
        let Some(at) = labels.place(text, middle, 16.0) else { return html! {} };
        html! { text.measure x=(tenths(at.x)) y=(tenths(at.y)) { (text) } }
    }

    /// Where the name of a rig belongs: the middle of the first of its bodies that is in the window, the one of the gap
    /// before all others.
    fn anchor(&self, sheet: &Sheet, rig: RigId) -> Option<DVec2> {
        let of_gap = |at: usize| {
            self.scene
                .gap
                .as_ref()
                .is_some_and(|Between { body, other, .. }| *body == at || *other == Other::Body(at))
        };
        let concerned = self.scene.rigs.contains(&rig);
        let named = |solid: &Solid| concerned || self.is_near(solid);
        let bodies = self.scene.bodies.iter().enumerate().filter(|(_, (of, solid))| *of == rig && named(solid));
        let mut outlines: Vec<(bool, Outline)> =
            bodies.map(|(at, (_, solid))| (of_gap(at), self.view.outline(solid))).collect();
        outlines.sort_by_key(|(of_gap, _)| !of_gap);
        let (_, outline) = outlines.into_iter().find(|(_, outline)| is_in(outline, sheet))?;
        let ([low, high], [from, to]) = (outline.bounds(), sheet.window());
        Some(sheet.at((low.max(from) + high.min(to)) / 2.0))
    }

    fn zone_name<'s>(&'s self, sheet: &Sheet, labels: &mut Labels, index: usize) -> Option<(DVec2, &'s str)> {
        let zone = &self.show.zones[index];
        let outline = self.view.outline(&Solid::upright(zone.min, zone.max));
        if !is_in(&outline, sheet) || !self.shows(zone) {
            return None;
        }
        let ([low, high], [from, to]) = (outline.bounds(), sheet.window());
        let middle = sheet.at((low.max(from) + high.min(to)) / 2.0);
        labels.place(&zone.name, middle, 0.0).map(|at| (at, zone.name.as_str()))
    }

    /// What lies beyond the edges of the paper.
    fn ends(&self, sheet: &Sheet, labels: &mut Labels) -> Markup {
        let (right, left) = (stage_word(self.view.right), stage_word(-self.view.right));
        let (top, bottom) = if self.is_section() { (None, None) } else { (Some("upstage"), Some("the house")) };
        let corner = DVec2::new(WIDTH, sheet.height);
        labels.reserve(DVec2::ZERO, DVec2::new(80.0, 14.0));
        labels.reserve(DVec2::new(WIDTH - 80.0, 0.0), DVec2::new(WIDTH, 14.0));
        if top.is_some() {
            labels.reserve(DVec2::new(WIDTH / 2.0 - 24.0, 0.0), DVec2::new(WIDTH / 2.0 + 24.0, 14.0));
            labels
                .reserve(DVec2::new(WIDTH / 2.0 - 30.0, corner.y - 14.0), DVec2::new(WIDTH / 2.0 + 30.0, corner.y));
        }
        html! {
            text.end x="4" y="11" { "← " (left) }
            text.end x=(WIDTH - 4.0) y="11" text-anchor="end" { (right) " →" }
            @if let Some(top) = top { text.end x=(WIDTH / 2.0) y="11" text-anchor="middle" { (top) " ↑" } }
            @if let Some(bottom) = bottom {
                text.end x=(WIDTH / 2.0) y=(tenths(corner.y - 5.0)) text-anchor="middle" { (bottom) " ↓" }
            }
        }
    }
}

fn is_in(outline: &Outline, sheet: &Sheet) -> bool {
    let ([low, high], [from, to]) = (outline.bounds(), sheet.window());
    low.cmple(to).all() && high.cmpge(from).all()
}

fn tenths(value: f64) -> String {
    format!("{value:.1}")
}

/// A line each metre.
fn grid(sheet: &Sheet) -> String {
    let [low, high] = sheet.window();
    let metres = |from: f64, to: f64| (from.ceil() as i64..=to.floor() as i64).map(|metre| metre as f64);
    let upright =
        metres(low.x, high.x).map(|x| format!("M{:.1} 0V{:.0}", sheet.at(DVec2::new(x, 0.0)).x, sheet.height));
    let flat = metres(low.y, high.y).map(|y| level(sheet, y));
    upright.chain(flat).collect()
}

fn level(sheet: &Sheet, height: f64) -> String {
    format!("M0 {:.1}H{WIDTH}", sheet.at(DVec2::new(0.0, height)).y)
}

fn cross(at: DVec2) -> String {
    let (x, y) = (at.x, at.y);
    format!("M{:.1} {:.1}l8 8m0 -8l-8 8", x - 4.0, y - 4.0)
}

/// One metre, or as many as make it long enough to be seen.
fn scale_bar(sheet: &Sheet) -> Markup {
    let metres =
        [0.1, 0.5, 1.0, 2.0, 5.0, 10.0].into_iter().find(|metres| metres * sheet.scale >= 28.0).unwrap_or(20.0);
    let (left, length, y) = (6.0, metres * sheet.scale, sheet.height - 5.0);
    html! {
        path.bar-scale d=(format!("M{left} {:.1}v5h{length:.1}v-5", y - 5.0)) {}
        text.end x=(tenths(left + length + 4.0)) y=(tenths(y)) { (metres) " m" }
    }
}
