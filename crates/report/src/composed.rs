//! A document that is laid out, and its way into a PDF.

use serde::Serialize;
use serde_json::Value;
use typst::diag::SourceDiagnostic;
use typst::foundations::Smart;
use typst::layout::{Frame, FrameItem};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

use crate::ReportError;
use crate::world::{Desk, can_print};

/// Compilations after which what the typesetter remembers of an old document is dropped.
const MEMORY: usize = 8;

/// A document laid out in pages.
pub struct Composed {
    document: PagedDocument,
    ident: String,
}

/// What a document is made of.
pub(crate) struct Parts {
    /// The template's text.
    pub(crate) template: &'static str,
    /// What the template reads.
    pub(crate) data: Value,
    /// Charts: name and SVG.
    pub(crate) charts: Vec<(String, String)>,
    /// The file to attach: its name and its bytes.
    pub(crate) attachment: (&'static str, Vec<u8>),
    /// What identifies the document.
    pub(crate) ident: String,
}

impl Composed {
    /// Lays a document out.
    pub(crate) fn new(parts: Parts) -> Result<Self, ReportError> {
        let mut data = parts.data;
        make_printable(&mut data);
        let data = json("page data", &data)?;
        let mut files = vec![
            ("main.typ", parts.template.as_bytes().to_vec()),
            ("common.typ", include_str!("../templates/common.typ").as_bytes().to_vec()),
            ("data.json", data),
            parts.attachment,
        ];
        for (name, svg) in &parts.charts {
            let printable: String = svg.chars().map(printable).collect();
            files.push((name, printable.into_bytes()));
        }
        let desk = Desk::new("main.typ", files);
        let outcome = typst::compile::<PagedDocument>(&desk);
        typst::comemo::evict(MEMORY);
        let document = outcome.output.map_err(|errors| ReportError::Layout(told(&errors)))?;
        Ok(Self { document, ident: parts.ident })
    }

    /// How many pages it has.
    #[must_use]
    pub fn page_count(&self) -> usize {
        self.document.pages().len()
    }

    /// The words on each page, in the order they were set.
    #[must_use]
    pub fn text(&self) -> Vec<String> {
        let words = |frame: &Frame| {
            let mut text = String::new();
            collect(frame, &mut text);
            text
        };
        self.document.pages().iter().map(|page| words(&page.frame)).collect()
    }

    /// The document as PDF/A-3a and PDF/UA-1.
    ///
    /// # Errors
    /// When the pages do not meet these standards.
    pub fn pdf(&self) -> Result<Vec<u8>, ReportError> {
        let standards = PdfStandards::new(&[PdfStandard::A_3a, PdfStandard::Ua_1])
            .map_err(|error| ReportError::Export(error.message().to_string()))?;
        let options = PdfOptions {
            ident: Smart::Custom(self.ident.clone()),
            creator: Smart::Custom(Some("ohmstead".to_owned())),
            standards,
            ..PdfOptions::default()
        };
        typst_pdf::pdf(&self.document, &options)
            .map_err(|errors| ReportError::Export(told(&errors)))
    }
}

/// Writes what is to be attached.
pub(crate) fn json(what: &'static str, value: &impl Serialize) -> Result<Vec<u8>, ReportError> {
    serde_json::to_vec_pretty(value).map_err(|source| ReportError::Data { what, source })
}

fn collect(frame: &Frame, text: &mut String) {
    for (_, item) in frame.items() {
        match item {
            FrameItem::Group(group) => collect(&group.frame, text),
            FrameItem::Text(run) => {
                text.push_str(&run.text);
                text.push(' ');
            }
            _ => {}
        }
    }
}

fn told(errors: &[SourceDiagnostic]) -> String {
    let lines: Vec<String> = errors
        .iter()
        .map(|error| {
            let hints: Vec<&str> = error.hints.iter().map(|hint| hint.v.as_str()).collect();
            [&[error.message.as_str()], hints.as_slice()].concat().join("; ")
        })
        .collect();
    lines.join(" · ")
}

/// An archive document may not hold a character that its fonts lack.
fn printable(character: char) -> char {
    match character {
        '\n' => '\n',
        _ if character.is_control() => ' ',
        _ if can_print(character) => character,
        _ => char::REPLACEMENT_CHARACTER,
    }
}

fn make_printable(value: &mut Value) {
    match value {
        Value::String(text) => *text = text.chars().map(printable).collect(),
        Value::Array(items) => items.iter_mut().for_each(make_printable),
        Value::Object(fields) => fields.values_mut().for_each(make_printable),
        Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_no_font_has_is_replaced() {
        let mut value = serde_json::json!({"a": ["Ω", "試\u{7}b"], "n": 1});
        make_printable(&mut value);
        assert_eq!(value, serde_json::json!({"a": ["Ω", "\u{fffd} b"], "n": 1}));
    }

    #[test]
    fn a_broken_template_is_told() {
        let parts = Parts {
            template: "#nothing-here",
            data: Value::Null,
            charts: Vec::new(),
            attachment: ("plan.json", b"{}".to_vec()),
            ident: "x".to_owned(),
        };
        let error = Composed::new(parts).err().map(|error| error.to_string());
        assert!(error.is_some_and(|text| text.contains("nothing-here")));
    }
}
