//! Numbers for people.

use crate::show::{Nanos, Unit};

/// With the unit's sign: "-43.2°", "3.412 m". At least one decimal, and no more than the eye can use.
pub(crate) fn amount(value: f64, unit: Unit) -> String {
    format!("{}{}", plain(value, unit), unit.sign())
}

/// Without the sign.
pub(crate) fn plain(value: f64, unit: Unit) -> String {
    trimmed(value, decimals(unit))
}

/// A hundred times as fine as [`amount`]: for what is too small for the eye.
pub(crate) fn finely(value: f64, unit: Unit) -> String {
    format!("{}{}", trimmed(value, decimals(unit) + 2), unit.sign())
}

fn decimals(unit: Unit) -> usize {
    match unit {
        Unit::Metre | Unit::Turn => 3,
        Unit::Degree | Unit::Percent => 2,
        Unit::Millimetre => 1,
    }
}

/// "0.85 s".
pub(crate) fn seconds(value: f64) -> String {
    format!("{} s", trimmed(value, 2))
}

/// "0.85 s"; a span that was never measured is "never".
pub(crate) fn span(value: Nanos) -> String {
    if value == Nanos::NEVER { "never".into() } else { seconds(value.seconds()) }
}

/// At most so many decimals, and at least one; what rounds to zero has no sign.
fn trimmed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "unknown".into();
    }
    let text = format!("{value:.decimals$}");
    let text = text.trim_end_matches('0');
    let text = if text.ends_with('.') { format!("{text}0") } else { text.to_owned() };
    if text == "-0.0" { "0.0".into() } else { text }
}
