//! One calculation as the service sees it, and the pipeline that all its forms share.
//!
//! A body goes through: the typed reader; only if that refuses, the walk that names every fault; the calculation; the writer.
//! A query becomes the same JSON first. Batch, stream and table forms need nothing but [`Entry::answer`].

use std::borrow::Cow;
use std::collections::HashMap;
use std::sync::{LazyLock, OnceLock};

use calc_core::error::{Error, Fault};
use calc_core::stop::Stop;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use utoipa::ToSchema;
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::Schema;

use crate::bulk::item::{self, Item};
use crate::bulk::table::cells::Cells;
use crate::bulk::table::direct::Row;
use crate::bulk::table::header::Results;
use crate::problem::{self, FieldError, Problem};
use crate::shape::{Shape, fault};
use crate::{http, json_writer, no_null, openapi, routes, strict_json};

/// A calculation: what it takes, what it gives, and how one becomes the other.
pub trait Calculation: 'static {
    /// `/v1/<area>/<calculation>`.
    const PATH: &'static str;
    /// One line for the document.
    const SUMMARY: &'static str;
    /// What it does, for somebody who reads the document.
    const DESCRIPTION: &'static str;
    /// The methods it rests on.
    const METHODS: &'static [&'static str];
    /// The result that the value form gives when none is named, dotted.
    const DEFAULT_FIELD: &'static str;
    /// A request that works.
    const EXAMPLE: &'static str;
    /// Whether it has the query and value forms; not when its input is a list of objects or a network, which a query cannot
    /// spell.
    const HAS_QUERY: bool = true;
    /// Whether it takes longer than about a millisecond: it is then answered off the worker, which has other connections.
    const IS_LONG: bool = false;
    /// How its answer is written as a table, for those that are one: the form `/csv`.
    const CSV: Option<fn(&Self::Response) -> Csv> = None;
    /// Largest body of its single form, in bytes.
    const LARGEST_BODY: usize = http::LARGEST_BODY;
    /// Whether rows of a table are read straight into its request. That is twice as fast as by way of JSON, but a second reader
    /// is compiled for it: for what is sent by the million.
    const READS_ROWS: bool = false;
    /// What it takes.
    type Request: DeserializeOwned + ToSchema;
    /// What it gives.
    type Response: Serialize + ToSchema;

    /// Units in, one core function, units out.
    fn run(request: Self::Request) -> Result<Self::Response, Error>;

    /// The same for work that looks at a flag between its pieces and ends early when nobody waits for the answer any more.
    /// A long calculation gives this and makes `run` call it with a flag that is never set.
    fn run_while_wanted(request: Self::Request, _stop: &Stop) -> Result<Self::Response, Error> {
        Self::run(request)
    }
}

/// An answer as a table of text.
pub struct Csv {
    /// Titles of the columns.
    pub header: Vec<String>,
    /// The cells of each row.
    pub rows: Vec<Vec<String>>,
}

/// From the path and a body to the text of the answer.
type Answer = fn(&'static str, &[u8], &Stop) -> Result<Vec<u8>, Problem>;

/// A calculation without its types: what the list of routes holds.
#[derive(Clone, Copy)]
pub struct Entry {
    /// `/v1/<area>/<calculation>`.
    pub path: &'static str,
    pub(crate) summary: &'static str,
    pub(crate) description: &'static str,
    pub(crate) methods: &'static [&'static str],
    pub(crate) default_field: &'static str,
    pub(crate) example: &'static str,
    /// Whether a query and a table can spell its request.
    pub has_query: bool,
    /// Whether it takes longer than about a millisecond.
    pub is_long: bool,
    pub(crate) largest_body: usize,
    pub(crate) request: fn() -> Cow<'static, str>,
    pub(crate) response: fn() -> Cow<'static, str>,
    pub(crate) schemas: fn(&mut Vec<(String, RefOr<Schema>)>),
    answer: Answer,
    csv: Option<Answer>,
    answer_item: fn(u64, &[u8], &mut Vec<u8>, &Stop) -> bool,
    /// Only with a query: the others have no table.
    answer_row: Option<AnswerRow>,
}

type AnswerRow = fn(&'static str, Row, &Results, &mut Cells, &Stop) -> Result<(), Problem>;

impl Entry {
    /// The entry of a calculation.
    pub(crate) const fn of<C: Calculation>() -> Self {
        Self {
            path: C::PATH,
            summary: C::SUMMARY,
            description: C::DESCRIPTION,
            methods: C::METHODS,
            default_field: C::DEFAULT_FIELD,
            example: C::EXAMPLE,
            has_query: C::HAS_QUERY,
            is_long: C::IS_LONG,
            largest_body: C::LARGEST_BODY,
            request: <C::Request as ToSchema>::name,
            response: <C::Response as ToSchema>::name,
            schemas: collect_schemas::<C>,
            answer: answer::<C>,
            csv: if C::CSV.is_some() { Some(answer_csv::<C>) } else { None },
            answer_item: answer_item::<C>,
            answer_row: match (C::HAS_QUERY, C::READS_ROWS) {
                (true, true) => Some(answer_row::<C>),
                (true, false) => Some(answer_spelled_row::<C>),
                (false, _) => None,
            },
        }
    }

    /// The JSON answer to a JSON body.
    ///
    /// # Errors
    /// The problem to send instead.
    pub fn answer(&self, body: &[u8]) -> Result<Vec<u8>, Problem> {
        self.answer_while_wanted(body, &Stop::never())
    }

    /// The same, unless the flag is set before the answer is there.
    ///
    /// # Errors
    /// The problem to send instead.
    pub fn answer_while_wanted(&self, body: &[u8], stop: &Stop) -> Result<Vec<u8>, Problem> {
        (self.answer)(self.path, body, stop)
    }

    /// Whether it has the form `/csv`.
    pub(crate) fn has_csv(&self) -> bool {
        self.csv.is_some()
    }

    /// The answer as CSV to a JSON body.
    pub(crate) fn answer_csv(&self, body: &[u8], stop: &Stop) -> Result<Vec<u8>, Problem> {
        match self.csv {
            Some(csv) => csv(self.path, body, stop),
            None => Err(internal("this calculation has no table")),
        }
    }

    /// Appends the outcome of a sound item of a batch or stream; `false` when it is not sound, and then nothing is appended.
    pub(crate) fn answer_item(&self, line: u64, text: &[u8], out: &mut Vec<u8>, stop: &Stop) -> bool {
        (self.answer_item)(line, text, out, stop)
    }

    /// Writes the results of a request into the cells of a table's row.
    pub(crate) fn answer_row(
        &self,
        row: Row,
        results: &Results,
        cells: &mut Cells,
        stop: &Stop,
    ) -> Result<(), Problem> {
        let answer = self.answer_row.ok_or_else(|| internal("this calculation has no table"))?;
        answer(self.path, row, results, cells, stop)
    }

    /// The JSON answer to a request that is JSON already (from a query). It is written out and read again: one reader per
    /// request type is enough, and a second one would be compiled for every calculation.
    pub(crate) fn answer_value(&self, request: &Value, stop: &Stop) -> Result<Vec<u8>, Problem> {
        self.answer_while_wanted(request.to_string().as_bytes(), stop)
    }

    /// The shape of the request.
    pub(crate) fn shape(&self) -> Result<&'static Shape, Problem> {
        shape_of(self.path)
    }
}

fn collect_schemas<C: Calculation>(schemas: &mut Vec<(String, RefOr<Schema>)>) {
    openapi::add_type::<C::Request>(schemas);
    openapi::add_type::<C::Response>(schemas);
}

/// Each made once, when it is asked for: all together take a thirtieth of a second.
static SHAPES: LazyLock<HashMap<&'static str, OnceLock<Result<Shape, String>>>> =
    LazyLock::new(|| routes::CALCULATIONS.iter().map(|entry| (entry.path, OnceLock::new())).collect());

fn shape_of(path: &str) -> Result<&'static Shape, Problem> {
    let (Some(shape), Some(entry)) = (SHAPES.get(path), routes::calculation(path)) else {
        return Err(internal("this calculation is not in the list"));
    };
    let compile = || {
        let components = openapi::components_of(entry.schemas);
        let name = (entry.request)();
        let schema = components.get(name.as_ref()).ok_or_else(|| format!("{name} is not in the document"))?;
        Shape::compile(schema, &components)
    };
    shape.get_or_init(compile).as_ref().map_err(|message| internal(message))
}

fn answer<C: Calculation>(path: &'static str, body: &[u8], stop: &Stop) -> Result<Vec<u8>, Problem> {
    let request = read::<C::Request>(path, body)?;
    write(&C::run_while_wanted(request, stop).map_err(core_problem)?)
}

/// The answer to a body whose request is changed once it has been read.
pub(crate) fn answer_changed<C: Calculation>(
    body: &[u8],
    change: impl FnOnce(&mut C::Request),
) -> Result<Vec<u8>, Problem> {
    let mut request = read::<C::Request>(C::PATH, body)?;
    change(&mut request);
    write(&C::run(request).map_err(core_problem)?)
}

/// The answer as CSV (RFC 4180).
fn answer_csv<C: Calculation>(path: &'static str, body: &[u8], stop: &Stop) -> Result<Vec<u8>, Problem> {
    let request = read::<C::Request>(path, body)?;
    let answer = C::run_while_wanted(request, stop).map_err(core_problem)?;
    let Some(csv) = C::CSV else { return Err(internal("this calculation has no table")) };
    let Csv { header, rows } = csv(&answer);
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    for row in std::iter::once(&header).chain(&rows) {
        writer.write_record(row).map_err(|error| internal(&error.to_string()))?;
    }
    writer.into_inner().map_err(|error| internal(&error.to_string()))
}

/// Item and request are read in one go, and the result is written where it stays: no text is looked at twice.
fn answer_item<C: Calculation>(line: u64, text: &[u8], out: &mut Vec<u8>, stop: &Stop) -> bool {
    let Ok(item) = no_null::from_slice::<Item<C::Request>>(text) else { return false };
    if !item.is_sound() {
        return false;
    }
    let Ok(response) = C::run_while_wanted(item.request, stop) else { return false };
    let before = out.len();
    item::begin_result(out, line, item.id.as_deref());
    if json_writer::append(out, &response).is_err() {
        out.truncate(before);
        return false;
    }
    out.push(b'}');
    true
}

fn answer_row<C: Calculation>(
    path: &'static str,
    row: Row,
    results: &Results,
    cells: &mut Cells,
    stop: &Stop,
) -> Result<(), Problem> {
    let request = row.read().map_or_else(|| read::<C::Request>(path, &row.spelled()), Ok)?;
    write_row::<C>(request, results, cells, stop)
}

fn answer_spelled_row<C: Calculation>(
    path: &'static str,
    row: Row,
    results: &Results,
    cells: &mut Cells,
    stop: &Stop,
) -> Result<(), Problem> {
    write_row::<C>(read::<C::Request>(path, &row.spelled())?, results, cells, stop)
}

fn write_row<C: Calculation>(
    request: C::Request,
    results: &Results,
    cells: &mut Cells,
    stop: &Stop,
) -> Result<(), Problem> {
    let response = C::run_while_wanted(request, stop).map_err(core_problem)?;
    cells.write(&response, results).map_err(|error| internal(&error.to_string()))
}

/// The typed reader first; the walk only when that refuses.
fn read<R: DeserializeOwned>(path: &'static str, body: &[u8]) -> Result<R, Problem> {
    no_null::from_slice(body).or_else(|error| refused(path, body, &error))
}

#[cold]
fn refused<R>(path: &'static str, body: &[u8], error: &serde_json::Error) -> Result<R, Problem> {
    check(shape_of(path)?, body)?;
    // Something that the types refuse though the published schema does not: still the caller's to mend, but a gap of ours.
    Err(Problem::invalid(vec![fault("#", "wrong_type", format!("The request cannot be read: {error}."))]))
}

/// Everything in a document that does not fit the shape.
fn check(shape: &Shape, body: &[u8]) -> Result<(), Problem> {
    let (value, duplicates) = strict_json::parse(body).map_err(|error| malformed(&error))?;
    let mut faults = shape.faults(&value);
    let twice = |pointer: &String| fault(pointer, "duplicate_field", "stands twice; give it once.".to_owned());
    faults.extend(duplicates.iter().map(twice));
    if faults.is_empty() { Ok(()) } else { Err(Problem::invalid(faults)) }
}

/// Why a typed reader refused a document.
pub(crate) fn explain(shape: &Shape, body: &[u8]) -> Problem {
    match check(shape, body) {
        Err(problem) => problem,
        Ok(()) => Problem::new(problem::MALFORMED_BODY, "The body cannot be read."),
    }
}

fn malformed(error: &serde_json::Error) -> Problem {
    Problem::new(problem::MALFORMED_BODY, format!("The body is not one JSON document: {error}."))
}

fn core_problem(error: Error) -> Problem {
    if error == Error::Stopped {
        return hung_up();
    }
    let faults = error.faults();
    if faults.is_empty() {
        return internal(&error.to_string());
    }
    let place = |path: &str| if path.is_empty() { "#".to_owned() } else { format!("#/{path}") };
    let wrong = |found: Fault| FieldError {
        suggestion: found.suggestion,
        ..fault(&place(&found.path), &found.code, found.detail)
    };
    Problem::invalid(faults.into_iter().map(wrong).collect())
}

/// What becomes of work that nobody waits for any more; nobody reads it.
pub(crate) fn hung_up() -> Problem {
    Problem::overloaded("The client hung up, so the work was stopped.")
}

/// A fault of ours: the caller learns that it is, the log learns what it was.
pub(crate) fn internal(what: &str) -> Problem {
    tracing::error!(what, "calculation failed");
    Problem::new(problem::INTERNAL, "The calculation failed for a reason that is not in the request.")
}

/// The same as an error of a calculation.
pub(crate) fn internal_error(what: &'static str) -> Error {
    Error::NotConverged { what, residual: 0.0 }
}

/// The answer as JSON.
fn write<R: Serialize>(response: &R) -> Result<Vec<u8>, Problem> {
    let mut body = Vec::with_capacity(2048);
    json_writer::append(&mut body, response).map_err(|error| internal(&error.to_string()))?;
    Ok(body)
}
