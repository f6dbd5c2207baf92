//! The inputs of a build that give wanted results.

use validator::ValidationError;

use crate::error::{Error, broken_rule};
use crate::method::Method;
use crate::stop::Stop;

use super::evaluate::{Evaluation, evaluate as consequences};
use super::goal_search::{MOST_UNKNOWNS, Search};
use super::place::{Input, Output};
use super::sheet::Build;

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "build-goal",
    title: "Inputs of a build for wanted results, by bracketing",
    equation: "f_i(x_1 ... x_n) = wanted_i, the f_i being the results of the whole build sheet. A result that depends on one unknown \
         only is solved first; unknowns that act on each other are nested: for each value of the first the others are solved. Each \
         unknown's range is cut into 24 parts, and every change of sign is closed in on until the last digits. Of several solutions \
         the one is returned that changes the fewest inputs, then the one whose largest move, as a share of its range, is smallest, \
         then that of the inputs named first. A limit that holds anyway changes nothing; one that does not is met at its end.",
    valid_for: "One to three unknowns. Two solutions inside one of the 24 parts are not seen. Where the sheet itself refuses a value \
         there is no result; the search goes up to the last value that is accepted. An input that is absent or outside its range \
         counts as the middle, or the nearer end, of the range.",
    sources: &[
        "T. R. Chandrupatla, A new hybrid quadratic/bisection algorithm for finding the zero of a nonlinear function without using \
         derivatives, Advances in Engineering Software 28 (1997), 145-149 (from memory)",
        "First principles (intermediate value theorem)",
    ],
};

/// A build, what may change in it, and what is wanted of it.
#[derive(Debug, Clone)]
pub struct GoalInput {
    /// The build as it is.
    pub build: Build,
    /// What may change.
    pub unknowns: Vec<Unknown>,
    /// What is wanted, as many as there are unknowns.
    pub wanted: Vec<Wanted>,
}

/// An input that may change, and how far. Values are in SI units of the place.
#[derive(Debug, Clone, Copy)]
pub struct Unknown {
    /// Which.
    pub place: &'static Input,
    /// Least value allowed.
    pub min: f64,
    /// Largest value allowed.
    pub max: f64,
}

/// A result and what it must be: at least, at most, or both; equal when both are the same. Values are in SI units of the place.
#[derive(Debug, Clone, Copy)]
pub struct Wanted {
    /// Which.
    pub place: &'static Output,
    /// Smallest value wanted.
    pub at_least: Option<f64>,
    /// Largest value wanted.
    pub at_most: Option<f64>,
}

/// The inputs that give what is wanted, or that come nearest to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Goal {
    /// Whether everything wanted is met.
    pub found: bool,
    /// The unknowns, in the order given.
    pub unknowns: Vec<SolvedInput>,
    /// The wanted results, in the order given.
    pub wanted: Vec<MetResult>,
    /// Why there is no solution; only when there is none.
    pub reason: Option<String>,
    /// The first [`MOST_STEPS`] steps of the search, in its order; where unknowns are nested, those of the outer one.
    pub steps: Vec<Step>,
    /// How many builds were evaluated.
    pub evaluations: u32,
    /// Everything that follows from the build with these inputs.
    pub evaluation: Evaluation,
}

/// Steps beyond this many are not listed.
pub const MOST_STEPS: usize = 200;

/// One unknown when the search has ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SolvedInput {
    /// Its value now, in SI units.
    pub value: f64,
    /// What the sheet gave; none when it gave nothing.
    pub present: Option<f64>,
    /// The end of its range that it has come to, if it has.
    pub at_end: Option<End>,
}

/// An end of a range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The least value.
    Min,
    /// The largest value.
    Max,
}

/// One wanted result when the search has ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MetResult {
    /// Its value now, in SI units.
    pub value: f64,
    /// Its value with the sheet as given; none when the sheet is refused as it is.
    pub present: Option<f64>,
    /// Whether it is as wanted.
    pub met: bool,
    /// The lowest value met in the search.
    pub lowest: f64,
    /// The highest value met in the search.
    pub highest: f64,
}

/// One build that was tried. Values are in SI units.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// The unknowns.
    pub inputs: Vec<f64>,
    /// The wanted results; empty when the sheet is refused with these inputs.
    pub results: Vec<f64>,
}

/// The inputs of a build that give wanted results.
///
/// **Equation** f_i(x_1 ... x_n) = wanted_i; bracketing, nested where unknowns act on each other.
///
/// **Shape** One to three unknowns, as many wanted results.
///
/// **Units** SI units of each place.
///
/// **Valid for** What the single calculations are valid for; of two solutions closer than a 24th of a range none may be seen.
///
/// **Errors** [`Error::Invalid`] for a range or a limit that is the wrong way round, a place named twice, a count, a result that
/// the sheet lacks an input for, no value inside the ranges that the sheet accepts, and a search beyond its bound;
/// [`Error::Stopped`].
///
/// **Source** First principles (intermediate value theorem).
pub fn evaluate(input: &GoalInput, stop: &Stop) -> Result<Goal, Error> {
    let broken = rules(input);
    if !broken.is_empty() {
        return Err(Error::of_rules(broken));
    }
    let mut search = Search::new(input, stop);
    let outcome = search.run()?;
    let mut build = input.build.clone();
    for (unknown, value) in input.unknowns.iter().zip(outcome.inputs) {
        // The search has set the same values before.
        let _ = unknown.place.set(&mut build, value);
    }
    let present = consequences(&input.build).ok();
    let solved = |(unknown, value): (&Unknown, f64)| SolvedInput {
        value,
        present: unknown.place.get(&input.build),
        at_end: match value {
            value if value <= unknown.min => Some(End::Min),
            value if value >= unknown.max => Some(End::Max),
            _ => None,
        },
    };
    let met = |(index, wanted): (usize, &Wanted)| MetResult {
        value: outcome.results[index],
        present: present.as_ref().and_then(|evaluation| wanted.place.get(evaluation)),
        met: search.misses(index, outcome.results[index]) <= 0.0,
        lowest: search.reach[index][0],
        highest: search.reach[index][1],
    };
    Ok(Goal {
        found: outcome.found,
        unknowns: input.unknowns.iter().zip(outcome.inputs).map(solved).collect(),
        wanted: input.wanted.iter().enumerate().map(met).collect(),
        reason: (!outcome.found).then(|| search.reason(&outcome)),
        evaluations: search.evaluations,
        evaluation: consequences(&build).map_err(|error| error.within("build"))?,
        steps: search.into_steps(),
    })
}

/// Every broken rule at once.
fn rules(input: &GoalInput) -> Vec<ValidationError> {
    let mut broken = Vec::new();
    let (unknowns, wanted) = (&input.unknowns, &input.wanted);
    if unknowns.is_empty() || unknowns.len() > MOST_UNKNOWNS {
        let detail = format!("must have 1 to {MOST_UNKNOWNS} entries; got {}.", unknowns.len());
        broken.push(broken_rule("unknowns", "wrong_length", detail));
    }
    if wanted.len() != unknowns.len() {
        let detail = format!("must have as many entries as unknowns, {}; got {}.", unknowns.len(), wanted.len());
        broken.push(broken_rule("wanted", "wrong_length", detail));
    }
    broken.extend(unknown_rules(unknowns));
    broken.extend(wanted_rules(wanted));
    broken
}

fn unknown_rules(unknowns: &[Unknown]) -> Vec<ValidationError> {
    let mut broken = Vec::new();
    for (index, unknown) in unknowns.iter().enumerate() {
        if unknowns[..index].iter().any(|other| other.place.path == unknown.place.path) {
            broken.push(broken_rule(&format!("unknowns/{index}/pointer"), "duplicate_pointer", TWICE.to_owned()));
        }
        if unknown.place.whole {
            broken.push(broken_rule(&format!("unknowns/{index}/pointer"), "not_continuous", COUNT.to_owned()));
        }
        // Also false for what is not a number.
        let open = unknown.min < unknown.max;
        if !open {
            let detail =
                format!("must be above min, {}; the range is empty.", unknown.place.dimension.shown(unknown.min));
            broken.push(broken_rule(&format!("unknowns/{index}/max"), "contradiction", detail));
        }
    }
    broken
}

fn wanted_rules(wanted: &[Wanted]) -> Vec<ValidationError> {
    let mut broken = Vec::new();
    for (index, one) in wanted.iter().enumerate() {
        if wanted[..index].iter().any(|other| other.place.path == one.place.path) {
            broken.push(broken_rule(&format!("wanted/{index}/pointer"), "duplicate_pointer", TWICE.to_owned()));
        }
        match (one.at_least, one.at_most) {
            (None, None) => broken.push(broken_rule(&format!("wanted/{index}"), "missing", NOTHING.to_owned())),
            (Some(low), Some(high)) if low > high => {
                let detail = format!("must not be below at_least, {}.", one.place.dimension.shown(low));
                broken.push(broken_rule(&format!("wanted/{index}/at_most"), "contradiction", detail));
            }
            _ => {}
        }
    }
    broken
}

const TWICE: &str = "stands twice; name each place once, with all that is said about it.";
const COUNT: &str = "counts things and has no values between; sweep over it instead.";
const NOTHING: &str = "says nothing of what the result must be: give equal, at_least, at_most or the last two.";

#[cfg(test)]
mod tests;
