//! One item of a batch, or one line of a stream: `{"id": …, "request": …}` in, one result or problem out.

use std::borrow::Cow;
use std::io::Write;

use calc_core::stop::Stop;
use serde::Deserialize;
use serde_json::value::RawValue;

use crate::calculation::{Entry, explain};
use crate::no_null;
use crate::problem::Problem;
use crate::shape::{Field, Shape};
use crate::wire::LONGEST_TEXT;

/// An item; its request is a type of its own, or text that is read later.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Item<'a, R> {
    #[serde(borrow, default)]
    pub(crate) id: Option<Cow<'a, str>>,
    pub(crate) request: R,
}

impl<R> Item<'_, R> {
    /// What the types cannot say.
    pub(crate) fn is_sound(&self) -> bool {
        self.id.as_ref().is_none_or(|id| id.chars().count() <= LONGEST_TEXT)
    }
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
    counts.lines += 1;
    if entry.answer_item(line, text, out, stop) {
        counts.ok += 1;
    } else {
        answer_slowly(entry, stop, line, text, out, counts);
    }
}

/// Step by step, to name what is wrong.
#[cold]
fn answer_slowly(entry: &Entry, stop: &Stop, line: u64, text: &[u8], out: &mut Vec<u8>, counts: &mut Counts) {
    let (id, answered) = match read(text) {
        Ok(item) => (item.id, entry.answer_while_wanted(item.request.get().as_bytes(), stop)),
        Err(problem) => (None, Err(problem)),
    };
    match answered {
        Ok(result) => {
            counts.ok += 1;
            begin_result(out, line, id.as_deref());
            out.extend_from_slice(&result);
            out.push(b'}');
        }
        Err(problem) => {
            counts.failed += 1;
            write_problem(out, line, id.as_deref(), &problem);
        }
    }
}

/// Everything before the result itself.
pub(crate) fn begin_result(out: &mut Vec<u8>, line: u64, id: Option<&str>) {
    begin(out, b"{\"type\":\"result\",\"line\":", line, id);
    out.extend_from_slice(b",\"result\":");
}

/// Appends the object of a failed line.
pub(crate) fn write_problem(out: &mut Vec<u8>, line: u64, id: Option<&str>, problem: &Problem) {
    begin(out, b"{\"type\":\"error\",\"line\":", line, id);
    out.extend_from_slice(b",\"problem\":");
    // Writing to a vector cannot fail.
    let _ = serde_json::to_writer(&mut *out, &problem.document(None));
    out.push(b'}');
}

fn begin(out: &mut Vec<u8>, head: &[u8], line: u64, id: Option<&str>) {
    out.extend_from_slice(head);
    out.extend_from_slice(itoa::Buffer::new().format(line).as_bytes());
    if let Some(id) = id {
        out.extend_from_slice(b",\"id\":");
        // Writing to a vector cannot fail.
        let _ = serde_json::to_writer(&mut *out, id);
    }
}

fn read(text: &[u8]) -> Result<Item<'_, &RawValue>, Problem> {
    match no_null::from_slice::<Item<&RawValue>>(text) {
        Ok(item) if item.is_sound() => Ok(item),
        _ => Err(explain(&shape(), text)),
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
