//! The frame of every page that people print, send or open on a phone: one file, nothing fetched, dark on light.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::cautions::CAUTIONS;

const STYLE: &str = include_str!("page.css");

/// What stands at the head of a page.
pub struct Head<'a> {
    /// What it is about, such as the show.
    pub title: &'a str,
    /// What kind of page, and when it was made.
    pub kicker: String,
    /// In one sentence, and whether it is a good one.
    pub verdict: String,
    pub good: bool,
    /// Name and value, in a row.
    pub facts: Vec<(&'static str, String)>,
    /// What this kind of page needs beside the styles of all.
    pub style: &'static str,
}

/// A whole page: its head, its body, what it does not prove, and the cautions.
pub fn page(head: &Head<'_>, body: &Markup, not_proved: &[String]) -> String {
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                // Nothing is fetched, and nothing runs.
                meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'";
                title { (head.title) ", " (head.kicker) }
                style { (PreEscaped(STYLE)) (PreEscaped(head.style)) }
            }
            body {
                header {
                    p.kicker { (head.kicker) }
                    h1 { (head.title) }
                    p.verdict.bad[!head.good] { (head.verdict) }
                    dl.facts {
                        @for (name, value) in &head.facts {
                            div { dt { (name) } dd { (value) } }
                        }
                    }
                }
                main {
                    (body)
                    section.unproved {
                        h2 { "Not proved" }
                        ul { @for line in not_proved { (what(line)) } }
                    }
                }
                footer {
                    @for caution in CAUTIONS { p { (caution) } }
                }
            }
        }
    };
    markup.into_string()
}

/// "people: ..." with its first word set apart.
fn what(line: &str) -> Markup {
    match line.split_once(": ") {
        Some((what, rest)) => html! { li { b { (what) } ": " (rest) } },
        None => html! { li { (line) } },
    }
}
