//! The operator's gamepad or joystick, read on a thread of its own.
//!
//! From the kernel's event devices under /dev/input. A device that goes is waited for, and found again.

use std::fs::File;
use std::io;
use std::path::PathBuf;
use std::thread;
use std::time::Duration;

use evdev::{AbsoluteAxisCode, Device, EventSummary, KeyCode};
use tokio::sync::mpsc::UnboundedSender;

use super::heard::{Heard, Place};
use crate::show::hand::{Button, Lever};

const FOLDER: &str = "/dev/input";
const LOOK_EVERY: Duration = Duration::from_secs(1);

/// Reads the first device whose name has this part, until nobody listens any more.
pub fn listen(part: Option<String>, heard: UnboundedSender<Heard>) {
    thread::spawn(move || {
        let mut told = None;
        loop {
            match find(part.as_deref()) {
                Ok(device) => {
                    told = None;
                    let why = read(device, &heard);
                    let _ = heard.send(Heard::Lost(why.to_string()));
                }
                // Told once.
                Err(why) if told.as_ref() == Some(&why) => {}
                Err(why) => {
                    let _ = heard.send(Heard::Trouble(why.clone()));
                    told = Some(why);
                }
            }
            if heard.is_closed() {
                return;
            }
            thread::sleep(LOOK_EVERY);
        }
    });
}

/// The first gamepad or joystick of that name; or why there is none.
fn find(part: Option<&str>) -> Result<Device, String> {
    let mut others = Vec::new();
    for (_, device) in evdev::enumerate().filter(|(_, device)| has_sticks(device)) {
        let name = device.name().unwrap_or_default();
        if part.is_none_or(|part| name.to_lowercase().contains(part)) {
            return Ok(device);
        }
        others.push(name.to_owned());
    }
    if let (Some(part), false) = (part, others.is_empty()) {
        return Err(format!("no device has `{part}` in its name; there are: {}", others.join(", ")));
    }
    match closed() {
        Some(path) => Err(format!(
            "no gamepad or joystick is to be seen, and {} may not be opened: add yourself to the group `input`, and log in \
             again",
            path.display()
        )),
        None => Err("no gamepad or joystick is plugged in".to_owned()),
    }
}

/// A gamepad or joystick: something to push, and a button of their kind.
fn has_sticks(device: &Device) -> bool {
    let pushes = device.supported_absolute_axes().is_some_and(|axes| axes.contains(AbsoluteAxisCode::ABS_X));
    let kinds = [KeyCode::BTN_SOUTH, KeyCode::BTN_TRIGGER, KeyCode(0x2c0)];
    pushes && device.supported_keys().is_some_and(|keys| kinds.into_iter().any(|kind| keys.contains(kind)))
}

/// An event device that we are not permitted to read.
fn closed() -> Option<PathBuf> {
    let entries = std::fs::read_dir(FOLDER).ok()?.filter_map(Result::ok);
    let events = entries.map(|entry| entry.path()).filter(|path| path.to_string_lossy().contains("/event"));
    let mut closed =
        events.filter(|path| File::open(path).is_err_and(|error| error.kind() == io::ErrorKind::PermissionDenied));
    closed.next()
}

/// Reads a device until it fails, which is told.
fn read(mut device: Device, heard: &UnboundedSender<Heard>) -> io::Error {
    match begin(&device, heard) {
        Ok(mut places) => loop {
            let events = match device.fetch_events() {
                Ok(events) => events,
                Err(error) => return error,
            };
            for event in events {
                if let Some(event) = translate(event.destructure(), &mut places)
                    && heard.send(event).is_err()
                {
                    return io::ErrorKind::BrokenPipe.into();
                }
            }
        },
        Err(error) => error,
    }
}

/// Where everything stands as it is found. By the number of a lever.
fn begin(device: &Device, heard: &UnboundedSender<Heard>) -> io::Result<Vec<(Lever, Place)>> {
    let mut places = Vec::new();
    let closed = |_| io::Error::from(io::ErrorKind::BrokenPipe);
    heard.send(Heard::Found(device.name().unwrap_or("a device without a name").to_owned())).map_err(closed)?;
    for (code, info) in device.get_absinfo()? {
        let place = Place { at: info.value(), least: info.minimum(), most: info.maximum() };
        places.push((Lever(code.0), place));
        heard.send(Heard::Lever(Lever(code.0), place)).map_err(closed)?;
    }
    // A button that is pressed already is none that was pressed: it counts from the next time on.
    Ok(places)
}

fn translate(event: EventSummary, places: &mut [(Lever, Place)]) -> Option<Heard> {
    match event {
        EventSummary::AbsoluteAxis(_, code, at) => {
            let (lever, place) = places.iter_mut().find(|(lever, _)| lever.0 == code.0)?;
            place.at = at;
            Some(Heard::Lever(*lever, *place))
        }
        // 2 is a key that repeats because it stays pressed.
        EventSummary::Key(_, code, way @ (0 | 1)) => Some(Heard::Button(Button(code.0), way == 1)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use evdev::{EventType, InputEvent};

    use super::*;

    /// What the kernel gives, as it was recorded of a pad: type, code, value.
    #[test]
    fn events_of_the_kernel_are_levers_and_buttons() {
        let place = |at: i32| Place { at, least: 0, most: 255 };
        let mut places = vec![(Lever(0), place(128)), (Lever(5), place(0))];
        let mut said = |kind: EventType, code: u16, value: i32| {
            translate(InputEvent::new(kind.0, code, value).destructure(), &mut places)
        };
        assert_eq!(said(EventType::ABSOLUTE, 0, 200), Some(Heard::Lever(Lever(0), place(200))));
        assert_eq!(said(EventType::ABSOLUTE, 5, 255), Some(Heard::Lever(Lever(5), place(255))));
        assert_eq!(said(EventType::ABSOLUTE, 9, 1), None);
        assert_eq!(said(EventType::KEY, 0x136, 1), Some(Heard::Button(Button::named("tl").unwrap(), true)));
        assert_eq!(said(EventType::KEY, 0x136, 2), None);
        assert_eq!(said(EventType::KEY, 0x136, 0), Some(Heard::Button(Button(0x136), false)));
        assert_eq!(said(EventType::SYNCHRONIZATION, 0, 0), None);
    }
}
