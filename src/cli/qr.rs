//! QR codes (ISO/IEC 18004), for terminals and as SVG.

use std::fmt::Write;

use qrcode::{Color, EcLevel, QrCode};

/// Light modules around a code, as the standard asks.
const QUIET: usize = 4;

/// `None` if the text is longer than a code can hold.
pub fn code(text: &str) -> Option<QrCode> {
    // The lowest level of correction: on a screen nothing is worn off, and larger modules are read from farther away.
    QrCode::with_error_correction_level(text, EcLevel::L).ok()
}

/// In half blocks, two rows of modules a line. In colour it is black on white whatever the terminal's own colours are;
/// without, it takes the terminal to be dark.
pub fn drawn(code: &QrCode, colour: bool) -> String {
    let side = code.width() + 2 * QUIET;
    let mut text = String::new();
    for row in (0..side).step_by(2) {
        if colour {
            text.push_str("\x1b[30;107m");
        }
        for column in 0..side {
            // Printed is what is dark on white paper, and what is light on a dark screen.
            let printed = |row| row < side && is_dark(code, row, column) == colour;
            text.push(match (printed(row), printed(row + 1)) {
                (true, true) => '█',
                (true, false) => '▀',
                (false, true) => '▄',
                (false, false) => ' ',
            });
        }
        text.push_str(if colour { "\x1b[0m\n" } else { "\n" });
    }
    text
}

/// One path of squares on a white ground.
pub fn svg(code: &QrCode) -> String {
    let side = code.width() + 2 * QUIET;
    let mut path = String::new();
    for row in 0..side {
        for column in (0..side).filter(|&column| is_dark(code, row, column)) {
            // Writing into a string does not fail.
            let _ = write!(path, "M{column} {row}h1v1h-1z");
        }
    }
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {side} {side}\" shape-rendering=\"crispEdges\">\n\
         <rect width=\"{side}\" height=\"{side}\" fill=\"#fff\"/>\n<path d=\"{path}\" fill=\"#000\"/>\n</svg>\n"
    )
}

fn is_dark(code: &QrCode, row: usize, column: usize) -> bool {
    let inside = QUIET..QUIET + code.width();
    inside.contains(&row) && inside.contains(&column) && code[(column - QUIET, row - QUIET)] == Color::Dark
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The finder patterns of ISO/IEC 18004, 6.3.3: a dark ring of 7, a light one of 5, a dark square of 3.
    #[test]
    fn the_finder_patterns_stand_within_a_quiet_zone() {
        let code = code("http://10.0.0.5:7117/").expect("short enough");
        for line in [0, 1, 2, 3] {
            assert!((0..code.width() + 8).all(|column| !is_dark(&code, line, column)));
        }
        let row = |row: usize| (4..11).map(|column| is_dark(&code, row, column)).collect::<Vec<_>>();
        assert_eq!(row(4), [true; 7]);
        assert_eq!(row(5), [true, false, false, false, false, false, true]);
        assert_eq!(row(7), [true, false, true, true, true, false, true]);
    }

    #[test]
    fn what_is_drawn_is_the_code() {
        let code = code("bellwire").expect("short enough");
        let side = code.width() + 8;
        let lines: Vec<String> = drawn(&code, false).lines().map(str::to_owned).collect();
        assert_eq!(lines.len(), side.div_ceil(2));
        for (index, line) in lines.iter().enumerate() {
            for (column, found) in line.chars().enumerate() {
                let upper = !is_dark(&code, 2 * index, column);
                assert_eq!(upper, matches!(found, '█' | '▀'), "row {}, column {column}", 2 * index);
            }
        }
        assert_eq!(
            svg(&code).matches("h1v1h-1z").count(),
            (0..side * side).filter(|n| is_dark(&code, n / side, n % side)).count()
        );
    }

    #[test]
    fn a_text_that_no_code_can_hold_gives_none() {
        assert!(code(&"x".repeat(5000)).is_none());
    }
}
