//! Lines that fit a narrow terminal.

/// Columns of what people read.
pub const COLUMNS: usize = 80;

/// The text after its head, broken between words, every line begun under the first one's text; ends in a line break.
/// A word that is longer than a line stands whole.
pub fn wrapped(head: &str, text: &str) -> String {
    let indent = head.chars().count();
    let mut lines = head.to_owned();
    let mut column = indent;
    for word in text.split(' ') {
        let width = word.chars().count();
        if column > indent && column + 1 + width > COLUMNS {
            lines.push('\n');
            lines.push_str(&" ".repeat(indent));
            column = indent;
        } else if column > indent {
            lines.push(' ');
            column += 1;
        }
        lines.push_str(word);
        column += width;
    }
    lines.push('\n');
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_text_is_broken_under_its_head() {
        let text = "one two three ".repeat(12);
        let lines = wrapped("  head  ", text.trim());
        assert!(lines.lines().count() > 1);
        assert!(lines.lines().all(|line| line.chars().count() <= COLUMNS));
        assert!(lines.lines().skip(1).all(|line| line.starts_with("        ") && !line.starts_with("         ")));
        let words = |text: &str| text.split_whitespace().map(str::to_owned).collect::<Vec<_>>();
        assert_eq!(words(&lines)[1..], words(&text));
    }

    #[test]
    fn a_word_longer_than_a_line_stands_whole() {
        let word = "x".repeat(100);
        assert_eq!(wrapped("", &word), format!("{word}\n"));
    }
}
