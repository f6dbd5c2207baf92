//! The results of a build over the values of one or two of its inputs.

use validator::ValidationError;

use crate::caution::Caution;
use crate::error::{Error, broken_rule};
use crate::method::Method;
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
    pub values: Values,
}

/// Values one by one, or in equal steps.
#[derive(Debug, Clone)]
pub enum Values {
    /// One by one.
    List(Vec<f64>),
    /// From one to another.
    Steps {
        /// The first.
        from: f64,
        /// Where they end, at the latest.
        to: f64,
        /// From each to the next.
        step: f64,
    },
}

impl Axis {
    /// The values one by one, or what is wrong with them.
    fn expanded(&self, index: usize) -> Result<Vec<f64>, ValidationError> {
        match &self.values {
            Values::List(values) if values.is_empty() => {
                let detail = "must have at least one entry.".to_owned();
                Err(broken_rule(&format!("inputs/{index}/values"), "wrong_length", detail))
            }
            Values::List(values) => Ok(values.clone()),
            Values::Steps { from, to, step } => steps(*from, *to, *step, MOST_ROWS).ok_or_else(|| {
                let shown = |value| self.place.dimension.shown(value);
                let detail = format!(
                    "must lead from {} to {} in at most {MOST_ROWS} steps; got {}.",
                    shown(*from),
                    shown(*to),
                    self.place.dimension.shown_difference(*step)
                );
                broken_rule(&format!("inputs/{index}/step"), "contradiction", detail)
            }),
        }
    }
}

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "build-sweep",
    title: "Results of a build over the values of one or two of its inputs",
    equation: "The build sheet evaluated for each value, or each pair of values: a list, or from, from + step, from + 2 step ... to.",
    valid_for: "What the methods of the build sheet are valid for. A value that the sheet refuses gets its reason instead of results.",
    sources: &["First principles"],
};

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

/// Equal steps from one value to another, the last one included when a step ends there; none when the step leads away or there
/// are more than `most` values.
fn steps(from: f64, to: f64, step: f64, most: usize) -> Option<Vec<f64>> {
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
    let values = checked(input)?;
    let mut build = input.build.clone();
    let mut rows = Vec::new();
    let total: usize = values.iter().map(Vec::len).product();
    for number in 0..total {
        if number.is_multiple_of(64) {
            stop.check()?;
        }
        // The last input varies fastest.
        let mut rest = number;
        let mut inputs = vec![0.0; values.len()];
        for (index, (axis, values)) in input.axes.iter().zip(&values).enumerate().rev() {
            inputs[index] = values[rest % values.len()];
            rest /= values.len();
            set(index, axis.place, &mut build, inputs[index])?;
        }
        rows.push(row(input, &build, inputs)?);
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

/// The values of each input, or every broken rule that needs no evaluation.
fn checked(input: &SweepInput) -> Result<Vec<Vec<f64>>, Error> {
    let (mut broken, mut values) = (Vec::new(), Vec::new());
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
        match axis.expanded(index) {
            Ok(list) => values.push(list),
            Err(rule) => broken.push(rule),
        }
    }
    for (index, place) in input.results.iter().enumerate() {
        if input.results[..index].iter().any(|other| other.path == place.path) {
            broken.push(broken_rule(&format!("results/{index}"), "duplicate_pointer", TWICE.to_owned()));
        }
    }
    let rows = values.iter().map(Vec::len).fold(1, usize::saturating_mul);
    if rows > MOST_ROWS {
        let detail = format!("make {rows} rows; at most {MOST_ROWS} are computed at once. Give fewer values.");
        broken.push(broken_rule("inputs", "too_much_work", detail));
    }
    if broken.is_empty() { Ok(values) } else { Err(Error::of_rules(broken)) }
}

const TWICE: &str = "stands twice; name each place once.";

#[cfg(test)]
mod tests;
