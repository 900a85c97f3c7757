//! A take for a panel: what a table of it says, and what is drawn of it. Everything is worked out here; who draws only draws.

use serde_json::{Value, json};

use super::document::take;
use super::{TakePart, TakeTold};
use crate::motion::{Phrase, Sample};
use crate::proof::Rendition;
use crate::report::rounded;
use crate::show::Limits;

/// Samples and points of the path that are drawn of an axis.
const DRAWN: usize = 240;
/// Slices of its time, of each of which it is told how much stretch it asks for.
const SLICES: usize = 160;

/// What [`super::take_json`] says of a take under `take`, with `drawn` beside it: for each axis some of its samples and of
/// its path, over s of the path; and `asks`, slice by slice of its time, how much stretch its limits ask for. The greatest of them
/// is the least stretch.
pub fn take_preview(told: TakeTold, stretch: f64) -> Value {
    let least = told.parts.iter().filter_map(|part| part.played.as_ref()).map(|(_, rendition)| rendition.least());
    let least = least.fold(0.0, f64::max);
    let axes: Vec<Value> = told.parts.iter().flat_map(|part| drawn(told, part)).collect();
    let lasts = told.parts.iter().filter_map(|part| part.played.as_ref());
    let lasts = lasts.map(|(_, rendition)| rendition.performance.phrase.duration()).fold(0.0, f64::max);
    let mut json = take(told);
    json["least_stretch"] = rounded(least).into();
    json["stretch"] = stretch.into();
    json["plays_in"] = rounded(lasts * stretch.max(least)).into();
    json["drawn"] = json!({ "lasts": rounded(lasts), "asks": asked(told), "axes": axes });
    json["lines"] = cue_lines(told, stretch.max(if least > 1.0 { least } else { 0.0 })).into();
    json
}

/// To four decimals, never a little less.
fn rounded_up(value: f64) -> f64 {
    (value * 1e4 - 1e-6).ceil() / 1e4
}

/// The moves that play it in a cue, as the cue list has them.
pub fn cue_lines(told: TakeTold, stretch: f64) -> String {
    let stretch = if stretch == 1.0 { String::new() } else { format!("  stretch = {}\n", rounded_up(stretch)) };
    let (show, name) = (told.show, &told.take.name);
    let lines = |part: &TakePart| {
        format!("  [[cue.move]]\n  rig = \"{}\"\n  take = \"{name}\"\n{stretch}", show.rig(part.rig).name)
    };
    told.parts.iter().map(lines).collect()
}

/// By slice, the most that any axis of any rig asks for.
fn asked(told: TakeTold) -> Vec<f64> {
    let mut most = vec![0.0_f64; SLICES];
    for part in told.parts {
        let Some((_, Rendition { performance, .. })) = &part.played else { continue };
        for (index, &(axis, _)) in part.playing.columns.iter().enumerate() {
            slices(&performance.phrase, index, told.show.axis(axis).run, &mut most);
        }
    }
    most.into_iter().map(rounded).collect()
}

/// Over the time of an axis, slice by slice, the factor on the time at which what it does there keeps its limits.
fn slices(phrase: &Phrase, axis: usize, limits: Limits, most: &mut [f64]) {
    let width = phrase.duration() / most.len() as f64;
    for (state, ends) in phrase.states[axis].iter().zip(phrase.times.windows(2)) {
        let (first, last) = ((ends[0] / width) as usize, (ends[1] / width) as usize);
        for (slice, most) in most.iter_mut().enumerate().take(last + 1).skip(first) {
            let from = ends[0].max(slice as f64 * width);
            let to = ends[1].min((slice + 1) as f64 * width);
            for at in [from, to].into_iter().filter(|_| from <= to) {
                *most = most.max(asks(state.after(at - ends[0]), limits));
            }
        }
    }
}

/// See [`crate::motion::tightest`].
fn asks(state: Sample, limits: Limits) -> f64 {
    let speed = state.speed.abs() / limits.speed;
    let acceleration = (state.acceleration.abs() / limits.acceleration).sqrt();
    speed.max(acceleration).max((state.jerk.abs() / limits.jerk).cbrt())
}

fn drawn(told: TakeTold, part: &TakePart) -> Vec<Value> {
    let Some((_, Rendition { performance, .. })) = &part.played else { return Vec::new() };
    let (phrase, times) = (&performance.phrase, &told.take.times);
    let every = times.len().div_ceil(DRAWN).max(1);
    let axis = |(index, &(axis, column)): (usize, &(crate::show::AxisId, usize))| {
        let values = &told.take.columns[column].values;
        let samples = times.iter().zip(values).step_by(every);
        let samples: Vec<[f64; 2]> =
            samples.map(|(time, value)| [performance.played(time - times[0]), *value].map(rounded)).collect();
        let point = |k: usize| {
            let time = phrase.duration() * k as f64 / DRAWN as f64;
            [time, phrase.at(index, time).position].map(rounded)
        };
        json!({
            "axis": told.show.axis_name(axis),
            "unit": told.show.axis(axis).unit.word(),
            "travel": told.show.axis(axis).travel,
            "samples": samples,
            "path": (0..=DRAWN).map(point).collect::<Vec<[f64; 2]>>(),
        })
    };
    part.playing.columns.iter().enumerate().map(axis).collect()
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::proof::take_alone;
    use crate::report::TakePart;
    use crate::show::fixture::show_of;
    use crate::show::{Place, cast, read_take};

    const CART: &str = "kind = \"cart\"\nat = [0.0, 0.0, 0.0]\n[[axis]]\nname = \"travel\"\nunit = \"m\"\n\
                        travel = [-2.0, 2.0]\nstart = 0.5\nspeed = 0.3\nacceleration = 0.5\njerk = 1.0\n";

    #[test]
    fn the_most_that_is_asked_for_anywhere_is_the_least_stretch_where_the_peak_is() {
        let show = show_of(&[
            ("rigs/cart.toml", CART),
            ("show.toml", "[show]\nname = \"T\"\nmargin = 0.1\nreact = 0.1\n"),
        ]);
        // 1 m by the least jerk from 1 s to 7 s: 1.875·D/T = 0.3125 m/s (Flash and Hogan, 1985), of 0.3, at 4 s.
        let sample = |k: u32| {
            let (time, x) = (f64::from(k) * 0.05, ((f64::from(k) - 20.0) / 120.0).clamp(0.0, 1.0));
            format!("{time:.3},{:.5}\n", x * x * x * (10.0 - 15.0 * x + 6.0 * x * x))
        };
        let text: String = (0..=160).map(sample).fold("time,travel\n".to_owned(), |text, line| text + &line);
        let take = Arc::new(read_take("hand", &text, Place::default()).0);
        let cast = cast(&show, &take, None).unwrap();
        let part = |(rig, playing): &(crate::show::RigId, crate::show::Playing)| TakePart {
            rig: *rig,
            playing: playing.clone(),
            played: take_alone(&show, (*rig, playing), &cast, None).0,
        };
        let parts: Vec<TakePart> = cast.iter().map(part).collect();
        let json = take_preview(TakeTold { show: &show, take: &take, parts: &parts, findings: &[] }, 1.0);
        let asks: Vec<f64> =
            json["drawn"]["asks"].as_array().unwrap().iter().map(|one| one.as_f64().unwrap()).collect();
        let (at, most) = asks.iter().copied().enumerate().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
        let least = json["least_stretch"].as_f64().unwrap();
        assert!((least - 0.3125 / 0.3).abs() < 0.005, "{least}");
        assert!((most - least).abs() < 2e-3, "{most} and {least}");
        let lasts = json["drawn"]["lasts"].as_f64().unwrap();
        assert!((lasts * (at as f64 + 0.5) / asks.len() as f64 - 4.0).abs() < 0.3, "slice {at}");
        assert!(json["plays_in"].as_f64().unwrap() > lasts * 1.03);
        assert_eq!(
            json["lines"],
            format!("  [[cue.move]]\n  rig = \"cart\"\n  take = \"hand\"\n  stretch = {}\n", rounded_up(least))
        );
        let path = json["drawn"]["axes"][0]["path"].as_array().unwrap();
        for (at, wanted) in [(0, 0.0), (DRAWN, 1.0)] {
            assert!((path[at][1].as_f64().unwrap() - wanted).abs() < 5e-3, "{}", path[at]);
        }
    }
}
