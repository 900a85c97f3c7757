//! What a device says, and how that is written down in a recording.
//!
//! ```text
//! 0.000 device Two-Stick Pad
//! 0.000 lever x 128 0 255        the place, the least and the greatest
//! 0.500 button tl down
//! 0.900 button tl up
//! 1.200 lost
//! ```

use crate::show::hand::{Button, Lever};

#[derive(Clone, Debug, PartialEq)]
pub enum Heard {
    /// A device is there now, of this name.
    Found(String),
    Lever(Lever, Place),
    Button(Button, bool),
    /// The device is gone, and why.
    Lost(String),
    /// There will be no other.
    End,
    /// Why no device can be read at present.
    Trouble(String),
}

/// Where a lever stands between its ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    pub at: i32,
    pub least: i32,
    pub most: i32,
}

impl Place {
    /// From 0 to 1; none where it has no travel. What is beyond an end is at it.
    pub fn share(self) -> Option<f64> {
        let width = f64::from(self.most) - f64::from(self.least);
        let share = (f64::from(self.at) - f64::from(self.least)) / width;
        (width > 0.0).then(|| share.clamp(0.0, 1.0))
    }
}

impl Heard {
    /// As a line of a recording, s after its beginning; none for what is not of the device.
    pub fn line(&self, seconds: f64) -> Option<String> {
        let what = match self {
            Heard::Found(name) => format!("device {name}"),
            Heard::Lever(lever, Place { at, least, most }) => format!("lever {lever} {at} {least} {most}"),
            Heard::Button(button, down) => format!("button {button} {}", if *down { "down" } else { "up" }),
            Heard::Lost(_) => "lost".to_owned(),
            Heard::End | Heard::Trouble(_) => return None,
        };
        Some(format!("{seconds:.3} {what}\n"))
    }

    /// Reads a line of a recording; nothing of an empty one.
    ///
    /// # Errors
    /// What was expected.
    pub fn read(line: &str) -> Result<Option<(f64, Heard)>, &'static str> {
        let mut words = line.split_whitespace();
        let Some(seconds) = words.next() else { return Ok(None) };
        let seconds =
            seconds.parse().ok().filter(|s| (0.0..=86400.0).contains(s)).ok_or("expected seconds first")?;
        let rest: Vec<&str> = words.collect();
        let heard = match rest.as_slice() {
            ["device", name @ ..] => Heard::Found(name.join(" ")),
            ["lever", lever, numbers @ ..] => {
                let lever = Lever::named(lever).ok_or("expected the name of a lever, such as x or rz")?;
                let numbers: Vec<i32> = numbers.iter().filter_map(|number| number.parse().ok()).collect();
                let [at, least, most] = numbers[..] else {
                    return Err("expected a lever's place, least and greatest, whole numbers");
                };
                Heard::Lever(lever, Place { at, least, most })
            }
            ["button", button, way @ ("down" | "up")] => {
                let button = Button::named(button).ok_or("expected the name of a button, such as tl or south")?;
                Heard::Button(button, *way == "down")
            }
            ["lost"] => Heard::Lost("as it was recorded".to_owned()),
            _ => return Err("expected device, lever, button ... down, button ... up or lost"),
        };
        Ok(Some((seconds, heard)))
    }
}
