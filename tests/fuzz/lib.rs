//! What the targets share. An input is a text: its first line names the calculation (`geometry/displacement`), the rest is what
//! the parser gets.

use calc_core::stop::Stop;
use serde_json::Value;
use service::Entry;
use service::problem::{OVERLOADED, Problem};
use service::routes::CALCULATIONS;

/// The first line and what follows it.
#[must_use]
pub fn first_line(input: &[u8]) -> Option<(&str, &[u8])> {
    let end = input.iter().position(|byte| *byte == b'\n')?;
    Some((std::str::from_utf8(&input[..end]).ok()?, &input[end + 1..]))
}

/// The calculation that the first line names.
#[must_use]
pub fn calculation(input: &[u8]) -> Option<(&'static Entry, &[u8])> {
    let (name, rest) = first_line(input)?;
    let entry = CALCULATIONS.iter().find(|entry| entry.path.strip_prefix("/v1/") == Some(name))?;
    Some((entry, rest))
}

/// Long work ends as soon as its request has been read: parsers are what is looked at here.
#[must_use]
pub fn patience(entry: &Entry) -> Stop {
    let stop = Stop::never();
    if entry.is_long {
        stop.set();
    }
    stop
}

/// A problem must be one that a request can cause; it must be whole, and name what is wrong.
pub fn check_problem(entry: &Entry, problem: &Problem) {
    let kind = problem.kind();
    assert!(kind.status < 500 || (entry.is_long && kind == OVERLOADED), "{}: {problem}", entry.path);
    assert!(kind.status != 422 || !problem.errors().is_empty(), "{}: {problem}", entry.path);
    let nameless = problem.errors().iter().any(|error| error.pointer.is_none() && error.parameter.is_none());
    assert!(!nameless, "{}: {:?}", entry.path, problem.errors());
}

/// An answer must be one JSON object without null; JSON has no other number that is none.
pub fn check_answer(entry: &Entry, answer: &[u8]) {
    let answer: Value = match serde_json::from_slice(answer) {
        Ok(answer) => answer,
        Err(error) => panic!("{}: {error} in {}", entry.path, String::from_utf8_lossy(answer)),
    };
    assert!(answer.is_object() && !has_null(&answer), "{}: {answer}", entry.path);
}

fn has_null(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::Array(items) => items.iter().any(has_null),
        Value::Object(fields) => fields.values().any(has_null),
        _ => false,
    }
}

/// Checks an outcome of the two forms whose answer is JSON.
pub fn check(entry: &Entry, outcome: &Result<Vec<u8>, Problem>) {
    match outcome {
        Ok(answer) => check_answer(entry, answer),
        Err(problem) => check_problem(entry, problem),
    }
}
