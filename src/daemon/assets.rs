//! The panel, as it lies in `web-panel/`, within the binary.

/// One file of the panel.
#[derive(Clone, Copy)]
pub struct Asset {
    /// As asked for, after the `/`.
    pub name: &'static str,
    pub content_type: &'static str,
    pub bytes: &'static [u8],
}

macro_rules! assets {
    ($($name:literal)*) => {
        &[$(Asset {
            name: $name,
            content_type: content_type($name),
            bytes: include_bytes!(concat!("../../web-panel/", $name)),
        }),*]
    };
}

pub const ASSETS: &[Asset] = assets! {
    "arming.js"
    "backdrop.js"
    "banners.js"
    "chart.css"
    "chart.js"
    "conditions.js"
    "dial.css"
    "dial.js"
    "dom.js"
    "edit.js"
    "entry.css"
    "entry.js"
    "favicon.svg"
    "focus_in_hand.js"
    "ghost.js"
    "glyph.js"
    "grasp.js"
    "hand_over.js"
    "hand_told.js"
    "hold_button.js"
    "hold_to_run.js"
    "in_hand.js"
    "index.html"
    "keys.js"
    "labels.js"
    "link.js"
    "log.js"
    "masthead.css"
    "model.js"
    "offers.js"
    "order.css"
    "order.js"
    "outline.js"
    "pad.css"
    "pad.js"
    "panel.css"
    "panel.js"
    "plates.css"
    "press.js"
    "quay.css"
    "readiness.js"
    "rigs.js"
    "running.js"
    "sight.js"
    "stop.js"
    "survey.css"
    "survey.js"
    "survey_axis.js"
    "survey_file.js"
    "tabs.js"
    "take_drawing.js"
    "take_sight.js"
    "takes.css"
    "takes.js"
    "trim_handle.js"
    "view.js"
    "waking.js"
    "words.js"
};

/// The file of this name. The empty name is the page itself.
pub fn find(name: &str) -> Option<Asset> {
    let name = if name.is_empty() { "index.html" } else { name };
    ASSETS.iter().find(|asset| asset.name == name).copied()
}

const fn content_type(name: &str) -> &'static str {
    let name = name.as_bytes();
    match name {
        [.., b'.', b'h', b't', b'm', b'l'] => "text/html; charset=utf-8",
        [.., b'.', b'c', b's', b's'] => "text/css; charset=utf-8",
        [.., b'.', b'j', b's'] => "text/javascript; charset=utf-8",
        [.., b'.', b's', b'v', b'g'] => "image/svg+xml",
        [.., b'.', b'j', b's', b'o', b'n']
        | [.., b'.', b'w', b'e', b'b', b'm', b'a', b'n', b'i', b'f', b'e', b's', b't'] => "application/json",
        [.., b'.', b'w', b'o', b'f', b'f', b'2'] => "font/woff2",
        _ => "application/octet-stream",
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;
    use std::path::Path;

    use super::*;

    #[test]
    fn every_file_of_the_panel_is_embedded() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("web-panel");
        let files: BTreeSet<String> = std::fs::read_dir(folder)
            .expect("the panel's folder")
            .map(|entry| entry.expect("an entry").file_name().into_string().expect("a plain name"))
            .collect();
        let embedded: BTreeSet<String> = ASSETS.iter().map(|asset| asset.name.to_owned()).collect();
        assert_eq!(files, embedded);
    }

    #[test]
    fn every_file_has_a_content_type_of_its_own() {
        for asset in ASSETS {
            assert_ne!(asset.content_type, "application/octet-stream", "{}", asset.name);
        }
    }
}
