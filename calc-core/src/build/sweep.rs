//! The results of a build over the values of one or two of its inputs.

use validator::ValidationError;

use crate::caution::Caution;
use crate::error::{Error, broken_rule};
use crate::stop::Stop;

use super::evaluate::{evaluate as consequences, numbers};
use super::place::{Input, Output};
use super::sheet::Build;

/// Most inputs that are varied.
pub const MOST_AXES: usize = 2;
/// Most results at once.
pub const MOST_RESULTS: usize = 40;
/// Most builds of one sweep.
pub const MOST_ROWS: usize = 20_000;

/// A build, what is varied in it, and what is looked at.
#[derive(Debug, Clone)]
pub struct SweepInput {
    /// The build as planned.
    pub build: Build,
    /// What is varied; with two, the last varies fastest.
    pub axes: Vec<Axis>,
    /// What is looked at.
    pub results: Vec<&'static Output>,
}

/// An input and its values, in SI units of the place.
#[derive(Debug, Clone)]
pub struct Axis {
    /// Which.
    pub place: &'static Input,
    /// Its values, in the order of the rows.
    pub values: Vec<f64>,
}

/// The builds of a sweep.
#[derive(Debug, Clone, PartialEq)]
pub struct Sweep {
    /// One for each value, or for each pair of values.
    pub rows: Vec<Row>,
    /// What to look at twice in the build as planned, when it can be evaluated; the standing caution comes last.
    pub cautions: Vec<Caution>,
}

/// One build. Values are in SI units of each place.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The varied inputs.
    pub inputs: Vec<f64>,
    /// The results; empty when the sheet is refused with these inputs.
    pub results: Vec<f64>,
    /// Why it is refused.
    pub refusal: Option<String>,
}

/// Equal steps from one value to another, the last one included when a step ends there.
///
/// **Equation** from, from + step, from + 2 step ...
///
/// **Shape** One list; at least `from` itself. None when the step leads away or there are more than `most` values.
///
/// **Units** Those of the caller.
///
/// **Valid for** Finite numbers.
///
/// **Errors** None.
///
/// **Source** First principles.
pub fn steps(from: f64, to: f64, step: f64, most: usize) -> Option<Vec<f64>> {
    let count = (to - from) / step;
    // Also refuses what is not a number. A step that ends a rounding error before the end still ends there.
    if !(count >= 0.0 && count.is_finite() && step != 0.0) || count + 1.0 > most as f64 + 0.5 {
        return None;
    }
    let whole = (count + 1e-9).floor() as usize;
    let value = |index: usize| {
        let value = from + index as f64 * step;
        if index == whole && (value - to).abs() <= 1e-9 * step.abs() { to } else { value }
    };
    Some((0..=whole).map(value).collect())
}

/// The results of a build over the values of one or two inputs.
///
/// **Equation** Those of the build sheet, for each value or pair of values.
///
/// **Shape** One or two lists of values, up to [`MOST_ROWS`] rows, up to [`MOST_RESULTS`] results.
///
/// **Units** SI units of each place.
///
/// **Valid for** What the single calculations are valid for; a row that the sheet refuses says why.
///
/// **Errors** [`Error::Invalid`] for a place named twice, an empty list, too many rows, and a result that the sheet lacks an
/// input for; [`Error::Stopped`].
///
/// **Source** Those of the single calculations.
pub fn evaluate(input: &SweepInput, stop: &Stop) -> Result<Sweep, Error> {
    let broken = rules(input);
    if !broken.is_empty() {
        return Err(Error::of_rules(broken));
    }
    let mut build = input.build.clone();
    let mut rows = Vec::new();
    let (outer, inner) = (&input.axes[0], input.axes.get(1));
    let mut counted = 0_usize;
    for first in &outer.values {
        set(0, outer.place, &mut build, *first)?;
        let seconds = inner.map_or(&[] as &[f64], |axis| &axis.values);
        for second in seconds.iter().copied().map(Some).chain(seconds.is_empty().then_some(None)) {
            if counted.is_multiple_of(64) {
                stop.check()?;
            }
            counted += 1;
            if let (Some(axis), Some(second)) = (inner, second) {
                set(1, axis.place, &mut build, second)?;
            }
            rows.push(row(input, &build, std::iter::once(*first).chain(second).collect())?);
        }
    }
    let cautions = consequences(&input.build).map_or_else(|_| vec![crate::caution::STANDING], |found| found.cautions);
    Ok(Sweep { rows, cautions })
}

fn set(index: usize, place: &'static Input, build: &mut Build, value: f64) -> Result<(), Error> {
    if place.set(build, value) {
        return Ok(());
    }
    let detail = if place.whole {
        "counts things; give whole numbers."
    } else {
        "belongs to a section that the build does not have; give the section first."
    };
    let field = if place.whole { "values" } else { "pointer" };
    Err(Error::of_rules([broken_rule(&format!("inputs/{index}/{field}"), "missing", detail.to_owned())]))
}

fn row(input: &SweepInput, build: &Build, inputs: Vec<f64>) -> Result<Row, Error> {
    let found = match numbers(build) {
        Ok(found) => found,
        Err(error) => {
            let faults = error.faults();
            if faults.is_empty() {
                return Err(error);
            }
            let why: Vec<String> =
                faults.into_iter().map(|fault| format!("{} {}", fault.path.replace('/', "."), fault.detail)).collect();
            return Ok(Row { inputs, results: Vec::new(), refusal: Some(why.join(" ")) });
        }
    };
    let mut results = Vec::with_capacity(input.results.len());
    let mut broken = Vec::new();
    for (index, place) in input.results.iter().enumerate() {
        match place.get(&found) {
            Some(value) => results.push(value),
            None => {
                let needs = consequences(build).map(|whole| place.needs(&whole)).unwrap_or_default();
                broken.push(broken_rule(&format!("results/{index}"), "missing", needs));
            }
        }
    }
    if broken.is_empty() { Ok(Row { inputs, results, refusal: None }) } else { Err(Error::of_rules(broken)) }
}

/// Every broken rule that needs no evaluation.
fn rules(input: &SweepInput) -> Vec<ValidationError> {
    let mut broken = Vec::new();
    for (field, count, most) in
        [("inputs", input.axes.len(), MOST_AXES), ("results", input.results.len(), MOST_RESULTS)]
    {
        if count == 0 || count > most {
            broken.push(broken_rule(field, "wrong_length", format!("must have 1 to {most} entries; got {count}.")));
        }
    }
    for (index, axis) in input.axes.iter().enumerate() {
        if input.axes[..index].iter().any(|other| other.place.path == axis.place.path) {
            broken.push(broken_rule(&format!("inputs/{index}/pointer"), "duplicate_pointer", TWICE.to_owned()));
        }
        if axis.values.is_empty() {
            let detail = "must have at least one entry.".to_owned();
            broken.push(broken_rule(&format!("inputs/{index}/values"), "wrong_length", detail));
        }
    }
    for (index, place) in input.results.iter().enumerate() {
        if input.results[..index].iter().any(|other| other.path == place.path) {
            broken.push(broken_rule(&format!("results/{index}"), "duplicate_pointer", TWICE.to_owned()));
        }
    }
    let rows = input.axes.iter().map(|axis| axis.values.len()).fold(1, usize::saturating_mul);
    if rows > MOST_ROWS {
        let detail = format!("make {rows} rows; at most {MOST_ROWS} are computed at once. Give fewer values.");
        broken.push(broken_rule("inputs", "too_much_work", detail));
    }
    broken
}

const TWICE: &str = "stands twice; name each place once.";

#[cfg(test)]
mod tests;
