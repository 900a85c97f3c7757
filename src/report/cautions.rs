//! What every report tells, whatever it found.

/// The cautions that the tool always shows.
pub const CAUTIONS: [&str; 4] = [
    "The stop of this program is an operational stop. Emergency stop, enabling devices, final limits and brakes are \
     independent hardware.",
    "A button on a screen is not an emergency stop (ISO 13850).",
    "No one rides on or stands under a rig on the word of this program.",
    "Local codes, the rigs' makers and the licensed or competent person on site decide.",
];
