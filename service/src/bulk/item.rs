//! One item of a batch, or one line of a stream: `{"id": …, "request": …}` in, one result or problem out.

use std::borrow::Cow;
use std::io::Write;

use calc_core::stop::Stop;
use serde::Deserialize;
use serde_json::value::RawValue;

use crate::calculation::{Entry, explain};
use crate::problem::Problem;
use crate::shape::{Field, Shape};
use crate::wire::LONGEST_TEXT;

/// An item whose request is read later, by the calculation's own reader.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Item<'a> {
    #[serde(borrow, default)]
    id: Option<Cow<'a, str>>,
    #[serde(borrow)]
    request: &'a RawValue,
}

/// What has been answered so far.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Counts {
    /// Lines or items seen, blank lines too.
    pub(crate) lines: u64,
    /// Answered with a result.
    pub(crate) ok: u64,
    /// Answered with a problem.
    pub(crate) failed: u64,
}

impl Counts {
    /// The parts of a summary.
    pub(crate) fn write(self, out: &mut Vec<u8>) {
        let Self { lines, ok, failed } = self;
        // Writing to a vector cannot fail.
        let _ = write!(out, "\"lines\":{lines},\"ok\":{ok},\"failed\":{failed}");
    }

    pub(crate) fn add(&mut self, other: Self) {
        self.lines += other.lines;
        self.ok += other.ok;
        self.failed += other.failed;
    }
}

/// Answers one item; appends one JSON object to `out`.
pub(crate) fn answer(entry: &Entry, stop: &Stop, line: u64, text: &[u8], out: &mut Vec<u8>, counts: &mut Counts) {
    let (id, answered) = match read(text) {
        Ok(item) => (item.id, entry.answer_while_wanted(item.request.get().as_bytes(), stop)),
        Err(problem) => (None, Err(problem)),
    };
    counts.lines += 1;
    match answered {
        Ok(result) => {
            counts.ok += 1;
            begin(out, "result", line, id.as_deref());
            out.extend_from_slice(b",\"result\":");
            out.extend_from_slice(&result);
            out.push(b'}');
        }
        Err(problem) => {
            counts.failed += 1;
            write_problem(out, line, id.as_deref(), &problem);
        }
    }
}

/// Appends the object of a failed line.
pub(crate) fn write_problem(out: &mut Vec<u8>, line: u64, id: Option<&str>, problem: &Problem) {
    begin(out, "error", line, id);
    out.extend_from_slice(b",\"problem\":");
    // Writing to a vector cannot fail.
    let _ = serde_json::to_writer(&mut *out, &problem.document(None));
    out.push(b'}');
}

fn begin(out: &mut Vec<u8>, kind: &str, line: u64, id: Option<&str>) {
    let _ = write!(out, "{{\"type\":\"{kind}\",\"line\":{line}");
    if let Some(id) = id {
        out.extend_from_slice(b",\"id\":");
        let _ = serde_json::to_writer(&mut *out, id);
    }
}

fn read(text: &[u8]) -> Result<Item<'_>, Problem> {
    match serde_json::from_slice::<Item>(text) {
        Ok(item) if item.id.as_ref().is_none_or(|id| id.len() <= LONGEST_TEXT) => Ok(item),
        Ok(_) => Err(explain(&shape(), text)),
        Err(_) => Err(explain(&shape(), text)),
    }
}

/// What an item must look like; its request is judged by the calculation.
pub(crate) fn shape() -> Shape {
    let field =
        |name: &str, required, shape| Field { name: name.to_owned(), required, shape, description: String::new() };
    Shape::Object(vec![
        field("id", false, Shape::Text { longest: LONGEST_TEXT }),
        field("request", true, Shape::Anything),
    ])
}
