//! Findings for people: file, line and column, the line itself with a caret, and what to do.

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};

use crate::show::{Finding, Place, Severity, Sources};

/// All findings, one below the other, ending in a line break; empty if there are none.
pub fn render_findings(findings: &[Finding], sources: &Sources, colour: bool) -> String {
    let renderer = if colour { Renderer::styled() } else { Renderer::plain() };
    let renderer = renderer.decor_style(DecorStyle::Ascii);
    let mut text = String::new();
    for finding in findings {
        text.push_str(&renderer.render(&[group(finding, sources)]));
        text.push_str("\n\n");
    }
    text
}

/// One finding on one line: where, what, and what to do.
pub fn line(finding: &Finding, sources: &Sources) -> String {
    let place = finding.place.map_or_else(String::new, |place| {
        let (line, column) = sources.line_column(place);
        format!("{}:{line}:{column}: ", sources.path(place))
    });
    let fix = finding.fix.as_ref().map_or_else(String::new, |fix| format!(" ({fix})"));
    printable(&format!("{place}{}{fix}", finding.message)).to_string()
}

fn group<'a>(finding: &'a Finding, sources: &'a Sources) -> Group<'a> {
    let level = match finding.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
        Severity::Note => Level::NOTE,
    };
    let mut group = Group::with_title(level.primary_title(printable(&finding.message)).id(finding.code.word()));
    let empty = |place: Place| sources.files[usize::from(place.file)].text.is_empty();
    if let Some(place) = finding.place.filter(|place| empty(*place)) {
        group = group.element(Origin::path(sources.path(place)));
    } else if let Some(place) = finding.place {
        let beside = finding.also.as_ref().filter(|(also, _)| also.file == place.file);
        let mut snippet = Excerpt::around(sources, place, beside.map(|(also, _)| *also));
        snippet.mark(AnnotationKind::Primary, place, None);
        if let Some((also, why)) = beside {
            snippet.mark(AnnotationKind::Context, *also, Some(why));
        }
        group = group.element(snippet.snippet);
    }
    if let Some((also, why)) =
        finding.also.as_ref().filter(|(also, _)| Some(also.file) != finding.place.map(|p| p.file))
    {
        let mut snippet = Excerpt::around(sources, *also, None);
        snippet.mark(AnnotationKind::Context, *also, Some(why));
        group = group.element(snippet.snippet);
    }
    match &finding.fix {
        Some(fix) => group.element(Level::HELP.message(printable(fix))),
        None => group,
    }
}

/// The lines of a file that a finding speaks of. A whole file would be searched for every finding.
struct Excerpt<'a> {
    snippet: Snippet<'a, annotate_snippets::Annotation<'a>>,
    text: &'a str,
    /// Byte offset of the excerpt in the file.
    start: usize,
}

impl<'a> Excerpt<'a> {
    fn around(sources: &'a Sources, place: Place, also: Option<Place>) -> Excerpt<'a> {
        let text = sources.files[usize::from(place.file)].text.as_str();
        let places = || std::iter::once(place).chain(also);
        let first = places().map(|place| clamp(text, place.span().start)).min().unwrap_or(0);
        let last = places().map(|place| clamp(text, place.span().start)).max().unwrap_or(0);
        let start = text[..first].rfind('\n').map_or(0, |end| end + 1);
        let end = text[last..].find('\n').map_or(text.len(), |line| last + line);
        let line = text[..start].matches('\n').count() + 1;
        let snippet = Snippet::source(&text[start..end]).path(sources.path(place)).line_start(line);
        Excerpt { snippet, text, start }
    }

    /// Underlines a place as far as its first line goes.
    fn mark(&mut self, kind: AnnotationKind, place: Place, why: Option<&'a str>) {
        let start = clamp(self.text, place.span().start);
        let line_end = self.text[start..].find('\n').map_or(self.text.len(), |line| start + line);
        let end = clamp(self.text, place.span().end).clamp(start, line_end);
        let annotation = kind.span(start - self.start..end - self.start).label(why);
        let snippet = std::mem::replace(&mut self.snippet, Snippet::source(""));
        self.snippet = snippet.annotation(annotation);
    }
}

/// The nearest boundary of a character at or before `offset`.
fn clamp(text: &str, offset: usize) -> usize {
    let mut offset = offset.min(text.len());
    while !text.is_char_boundary(offset) {
        offset -= 1;
    }
    offset
}

/// Control characters of a damaged file must not reach a terminal, or a page.
pub(super) fn printable(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { char::REPLACEMENT_CHARACTER } else { c }).collect()
}

/// "2 errors, 1 warning, 3 notes", or that the show is clean.
pub fn summary(findings: &[Finding]) -> String {
    let count = |severity: Severity| findings.iter().filter(|finding| finding.severity == severity).count();
    let counts = [Severity::Error, Severity::Warning, Severity::Note].map(|severity| (count(severity), severity));
    let told: Vec<String> = counts
        .iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, severity)| format!("{count} {}{}", severity.word(), if *count == 1 { "" } else { "s" }))
        .collect();
    match counts {
        [(0, _), (0, _), (0, _)] => "clean: no error, no warning".into(),
        [(0, _), (0, _), _] => format!("clean: no error, no warning; {}", told.join(", ")),
        _ => told.join(", "),
    }
}
