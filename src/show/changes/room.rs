//! What changed of show.toml: settings, zones, pairs, inputs, interlocks.

use super::cues::spelt;
use super::{Change, Subject};
use crate::show::model::{Input, Interlock, Pair, Settings, Show, Zone};

pub fn tell(old: &Show, new: &Show, told: &mut Vec<Change>) {
    if old.name != new.name {
        told.push(Change::new(Subject::Setting("name"), format!("the show is now called {}", new.name)));
    }
    tell_settings(&old.settings, &new.settings, told);
    listed(
        &old.zones,
        &new.zones,
        |zone| zone.name.clone(),
        zone_change(old, new),
        |name, what| {
            told.push(Change::new(Subject::Zone(name.clone()), format!("zone '{name}' {what}")));
        },
    );
    tell_pairs(old, new, told);
    listed(
        &old.inputs,
        &new.inputs,
        |input| input.name.clone(),
        input_change,
        |name, what| {
            told.push(Change::new(Subject::Input(name.clone()), format!("input '{name}' {what}")));
        },
    );
    listed(
        &old.interlocks,
        &new.interlocks,
        |one| one.name.clone(),
        interlock_change(old, new),
        |name, what| {
            told.push(Change::new(Subject::Interlock(name.clone()), format!("interlock '{name}' {what}")));
        },
    );
}

fn tell_settings(a: &Settings, b: &Settings, told: &mut Vec<Change>) {
    let mut compare = |key: &'static str, same: bool, text: String| {
        if !same {
            told.push(Change::new(Subject::Setting(key), text));
        }
    };
    let seconds = |what: &str, a: super::super::Nanos, b: super::super::Nanos| {
        format!("{what} {} s becomes {} s", a.seconds(), b.seconds())
    };
    compare("tick", a.tick == b.tick, seconds("the tick of", a.tick, b.tick));
    compare("margin", a.margin == b.margin, format!("the margin of {} m becomes {} m", a.margin, b.margin));
    compare("react", a.react == b.react, seconds("react of", a.react, b.react));
    compare("guard", a.guard == b.guard, seconds("the GO guard time of", a.guard, b.guard));
    compare(
        "trigger_age",
        a.trigger_age == b.trigger_age,
        seconds("the trigger age of", a.trigger_age, b.trigger_age),
    );
    let rate = format!("the return rate of {} becomes {}", a.return_rate, b.return_rate);
    compare("return_rate", a.return_rate == b.return_rate, rate);
    let glide = format!("the factor on every glide of {} becomes {}", a.glide, b.glide);
    compare("glide", a.glide == b.glide, glide);
    compare("named_go", a.named_go == b.named_go, format!("named_go becomes {}", b.named_go));
}

/// Things with names: what is gone, new or another, told with the name and what became of it.
fn listed<T>(
    old: &[T],
    new: &[T],
    name: impl Fn(&T) -> String,
    change: impl Fn(&T, &T) -> Vec<&'static str>,
    mut tell: impl FnMut(String, &str),
) {
    for before in old {
        if !new.iter().any(|now| name(now) == name(before)) {
            tell(name(before), "is gone");
        }
    }
    for now in new {
        match old.iter().find(|before| name(before) == name(now)) {
            None => tell(name(now), "is new"),
            Some(before) => match &change(before, now)[..] {
                [] => {}
                parts => tell(name(now), &format!("changed: {}", parts.join(", "))),
            },
        }
    }
}

/// The parts that are not the same, in words.
fn differing<const N: usize>(parts: [(&'static str, bool); N]) -> Vec<&'static str> {
    parts.into_iter().filter(|(_, same)| !same).map(|(word, _)| word).collect()
}

fn zone_change<'a>(old: &'a Show, new: &'a Show) -> impl Fn(&Zone, &Zone) -> Vec<&'static str> + 'a {
    let rigs =
        |show: &Show, zone: &Zone| zone.rigs.iter().map(|&rig| show.rig(rig).name.clone()).collect::<Vec<_>>();
    // A zone without a margin of its own has the show's, of which is told elsewhere.
    let margin = |show: &Show, zone: &Zone| Some(zone.margin).filter(|margin| *margin != show.settings.margin);
    move |a, b| {
        differing([
            ("whether to keep in or out", a.keep == b.keep),
            ("its box", a.min == b.min && a.max == b.max),
            ("its rigs", rigs(old, a) == rigs(new, b)),
            ("its margin", a.margin == b.margin || margin(old, a) == margin(new, b)),
        ])
    }
}

fn tell_pairs(old: &Show, new: &Show, told: &mut Vec<Change>) {
    let rigs = |show: &Show, pair: &Pair| {
        let mut rigs = pair.rigs.map(|rig| show.rig(rig).name.clone());
        rigs.sort();
        rigs
    };
    let find = |show: &Show, of: &[String; 2]| show.pairs.iter().find(|pair| rigs(show, pair) == *of).cloned();
    let mut tell = |of: [String; 2], what: String| {
        let text = format!("pair {} and {} {what}", of[0], of[1]);
        told.push(Change::new(Subject::Pair(of), text));
    };
    for pair in &old.pairs {
        let of = rigs(old, pair);
        if find(new, &of).is_none() {
            tell(of, format!("is gone: its margin was {} m", pair.margin));
        }
    }
    for pair in &new.pairs {
        let of = rigs(new, pair);
        match find(old, &of) {
            None => tell(of, format!("is new, with a margin of {} m", pair.margin)),
            Some(before) if before.margin != pair.margin => {
                tell(of, format!("margin {} m becomes {} m", before.margin, pair.margin));
            }
            Some(before) if before.because != pair.because => tell(of, "has another reason".to_owned()),
            Some(_) => {}
        }
    }
}

fn input_change(a: &Input, b: &Input) -> Vec<&'static str> {
    differing([
        ("its age limit", a.max_age == b.max_age),
        ("whether it trips", a.trips == b.trips),
        ("its source", a.source == b.source),
    ])
}

fn interlock_change<'a>(old: &'a Show, new: &'a Show) -> impl Fn(&Interlock, &Interlock) -> Vec<&'static str> + 'a {
    let guards = |show: &Show, one: &Interlock| {
        one.guards.iter().map(|guard| (show.axis_name(guard.axis), guard.direction)).collect::<Vec<_>>()
    };
    move |a, b| {
        differing([
            ("what it guards", guards(old, a) == guards(new, b)),
            ("what it needs", spelt(old, &a.needs) == spelt(new, &b.needs)),
            ("what it does", a.otherwise == b.otherwise),
        ])
    }
}
