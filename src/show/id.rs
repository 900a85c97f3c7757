//! Indices into a show. Names are resolved once, when the files are read; everything after works on these.

use serde::{Deserialize, Serialize};

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub u16);

        impl $name {
            /// # Panics
            /// Past 65535, which the reader of show files has refused before.
            pub fn new(index: usize) -> $name {
                $name(u16::try_from(index).expect("a show has fewer than 65536 of anything"))
            }

            pub fn index(self) -> usize {
                usize::from(self.0)
            }
        }
    )*};
}

ids! {
    /// Index into `Show::rigs`.
    RigId
    /// Index into `Show::axes`, which runs over all axes of all rigs, a rig's own together and base to tip.
    AxisId
    /// Index into `Show::cues`, in the order of cue numbers.
    CueId
    /// Index into `Show::inputs`.
    InputId
    /// Index into `Show::interlocks`.
    InterlockId
    /// Index into `Show::atoms`.
    AtomId
}
