//! What tolerances on any inputs of a build make of any of its results.

use validator::ValidationError;

use crate::caution::Caution;
use crate::compression::tolerance::{Distribution, Outcome};
use crate::compression::tolerance_draws::{outcome, percentile, share_within, within};
use crate::error::{Error, broken_rule};
use crate::method::Method;
use crate::stop::Stop;
use crate::units::Ratio;

use super::evaluate::{Evaluation, evaluate as consequences};
use super::place::{Input, Output};
use super::sheet::Build;
use super::tolerance_draws::{Varied, draw, slopes, worst_case};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "build-tolerance",
    title: "Tolerance of any result of a build: first order, worst case and Monte Carlo",
    equation: "First order: u^2(y) = sum of (dy/dx_i)^2 u^2(x_i), dy/dx by central differences over a thousandth of the tolerance; \
         share = its term over the sum. u = tolerance/sqrt(3) when every value inside it is equally likely, tolerance/2 when it is \
         two standard deviations of a normal distribution. Worst case: the inputs at the ends of their tolerances (two standard \
         uncertainties where one is given), or as planned, that make the result least and greatest; found input by input until no \
         single change makes it worse. Monte Carlo: inputs drawn independently; mean, standard deviation, the probabilistically \
         symmetric 95 percent interval, percentiles, and the share of draws inside the limits.",
    valid_for: "Independent inputs. First order only for tolerances that are small beside the input. A normal distribution has tails \
         beyond the tolerance, which the worst case does not contain. The worst case is exact where a result is monotone in each \
         input. A chance from M draws is uncertain by sqrt(p (1 - p)/M). A draw that the sheet refuses refuses the whole.",
    sources: &[
        "JCGM 100:2008, Guide to the expression of uncertainty in measurement, equation 10 and section 4.3.7",
        "JCGM 101:2008, Propagation of distributions using a Monte Carlo method, sections 7.6 and 7.7",
        "R. J. Hyndman and Y. Fan, Sample quantiles in statistical packages, The American Statistician 50 (1996), definition 7",
        "G. L. Steele, D. Lea and C. H. Flood, Fast splittable pseudorandom number generators, OOPSLA 2014 (SplitMix64)",
    ],
};

/// Draws when none are asked for.
pub const USUAL_DRAWS: u32 = 100_000;
/// Seed when none is given.
pub const USUAL_SEED: u32 = 1;
/// Percentiles when none are asked for.
pub const USUAL_PERCENTILES: [Ratio; 3] =
    [Ratio::from_percent(2.5), Ratio::from_percent(50.0), Ratio::from_percent(97.5)];
/// Most inputs with a tolerance.
pub const MOST_INPUTS: usize = 24;
/// Most results at once: each draw of each is kept.
pub const MOST_RESULTS: usize = 12;
/// Most percentiles at once.
pub const MOST_PERCENTILES: usize = 20;

/// A build, what may be off in it, and which results matter.
#[derive(Debug, Clone)]
pub struct BuildToleranceInput {
    /// The build as planned.
    pub build: Build,
    /// How far inputs may be off.
    pub tolerances: Vec<InputTolerance>,
    /// The results that matter.
    pub results: Vec<WatchedResult>,
    /// Percentiles wanted, as shares of one.
    pub percentiles: Vec<Ratio>,
    /// How many random builds.
    pub draws: u32,
    /// Start of the random numbers.
    pub seed: u32,
    /// On how many threads they are drawn; the answer is the same on any number.
    pub threads: usize,
}

/// How far one input may be off.
#[derive(Debug, Clone, Copy)]
pub struct InputTolerance {
    /// Which.
    pub place: &'static Input,
    /// How far, in SI units of a difference at the place.
    pub spread: Spread,
    /// How it lies inside.
    pub distribution: Distribution,
}

/// How far an input may be off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spread {
    /// Either way; for a normal distribution two standard deviations.
    Tolerance(f64),
    /// As a standard uncertainty.
    StandardUncertainty(f64),
}

impl InputTolerance {
    /// How far either way: what gives the standard uncertainty, when that was given.
    pub(crate) fn tolerance(&self) -> f64 {
        match self.spread {
            Spread::Tolerance(tolerance) => tolerance,
            Spread::StandardUncertainty(uncertainty) => uncertainty / self.distribution.standard_uncertainty(1.0),
        }
    }
}

/// One result, and what it must keep. Values are in SI units of the place.
#[derive(Debug, Clone, Copy)]
pub struct WatchedResult {
    /// Which.
    pub place: &'static Output,
    /// Smallest value allowed.
    pub at_least: Option<f64>,
    /// Largest value allowed.
    pub at_most: Option<f64>,
}

/// Results with their tolerances. Values are in SI units of each place.
#[derive(Debug, Clone, PartialEq)]
pub struct BuildTolerance {
    /// In the order given.
    pub results: Vec<ResultTolerance>,
    /// Share of the draws that keep every limit; none when no limit is given.
    pub chance_within_all: Option<f64>,
    /// What to look at twice in the build as planned; the standing caution comes last.
    pub cautions: Vec<Caution>,
}

/// One result with its tolerance.
#[derive(Debug, Clone, PartialEq)]
pub struct ResultTolerance {
    /// First order, worst case and draws.
    pub outcome: Outcome<f64>,
    /// The values below which the wanted percentages of the draws are, in the order given.
    pub percentiles: Vec<f64>,
    /// What each input contributes, in the order given.
    pub shares: Vec<InputShare>,
}

/// What one input contributes to one result.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InputShare {
    /// Its contribution to the standard uncertainty, in SI units of the result.
    pub uncertainty: f64,
    /// Its share of the variance, of one.
    pub share: f64,
}

/// Tolerance of any results of a build from tolerances of any inputs.
///
/// **Equation** u^2(y) = sum (dy/dx_i)^2 u^2(x_i); extremes over the ends of all tolerances; Monte Carlo
///
/// **Shape** Up to [`MOST_INPUTS`] inputs and [`MOST_RESULTS`] results; 1,000 to 200,000 draws.
///
/// **Units** SI units of each place.
///
/// **Valid for** Independent inputs; equal seeds give equal draws, however many threads draw them.
///
/// **Errors** [`Error::Invalid`] when the build is refused, a place is named twice or counts things, an input is not given, a
/// tolerance is not above zero, limits are the wrong way round, a result lacks an input, or the tolerances reach a build that is
/// refused; [`Error::Stopped`].
///
/// **Source** JCGM 100:2008 equation 10; JCGM 101:2008 sections 7.6 and 7.7.
pub fn evaluate(input: &BuildToleranceInput, stop: &Stop) -> Result<BuildTolerance, Error> {
    let nominal = consequences(&input.build).map_err(|error| error.within("build"))?;
    let (planned, varied) = checked(input, &nominal)?;
    let slopes = slopes(input, &varied)?;
    let worst = worst_case(input, &varied, &slopes)?;
    let mut draws = draw(input, &varied, stop)?;
    let limits: Vec<[f64; 2]> = input.results.iter().map(WatchedResult::limits).collect();
    let chance_within_all = input.results.iter().any(WatchedResult::limited).then(|| {
        let kept = |draw: usize| (0..limits.len()).all(|which| within(draws[which][draw], limits[which]));
        share_within((0..input.draws as usize).map(kept))
    });
    let mut results = Vec::with_capacity(planned.len());
    for (which, values) in draws.iter_mut().enumerate() {
        stop.check()?;
        results.push(result(input, which, planned[which], &varied, &slopes[which], worst[which], values));
    }
    Ok(BuildTolerance { results, chance_within_all, cautions: nominal.cautions })
}

/// The planned value of each result, and each input that varies; or every broken rule.
fn checked(input: &BuildToleranceInput, nominal: &Evaluation) -> Result<(Vec<f64>, Vec<Varied>), Error> {
    let mut broken = rules(input);
    let mut planned = Vec::new();
    for (index, result) in input.results.iter().enumerate() {
        match result.place.get(nominal) {
            Some(value) => planned.push(value),
            None => {
                broken.push(broken_rule(&format!("results/{index}/pointer"), "missing", result.place.needs(nominal)));
            }
        }
    }
    let mut varied = Vec::new();
    for (index, tolerance) in input.tolerances.iter().enumerate() {
        match tolerance.place.get(&input.build) {
            Some(planned) => varied.push(Varied::new(tolerance, planned)),
            None => broken.push(broken_rule(&format!("tolerances/{index}/pointer"), "missing", NOT_GIVEN.to_owned())),
        }
    }
    if !broken.is_empty() {
        return Err(Error::of_rules(broken));
    }
    Ok((planned, varied))
}

/// One result from its slopes, its extremes and its draws.
fn result(
    input: &BuildToleranceInput,
    which: usize,
    planned: f64,
    varied: &[Varied],
    slopes: &[f64],
    worst: [f64; 2],
    values: &mut [f64],
) -> ResultTolerance {
    let watched = &input.results[which];
    let uncertainties: Vec<f64> =
        varied.iter().zip(slopes).map(|(one, slope)| (slope * one.uncertainty()).abs()).collect();
    let variance: f64 = uncertainties.iter().map(|each| each * each).sum();
    let kept = |value: &f64| within(*value, watched.limits());
    let chance_within = watched.limited().then(|| share_within(values.iter().map(kept)));
    let outcome = Outcome { chance_within, ..outcome(planned, variance.sqrt(), worst, values) };
    let share = |uncertainty: f64| if variance > 0.0 { uncertainty * uncertainty / variance } else { 0.0 };
    ResultTolerance {
        outcome,
        percentiles: input.percentiles.iter().map(|percent| percentile(values, percent.plain())).collect(),
        shares: uncertainties.iter().map(|each| InputShare { uncertainty: *each, share: share(*each) }).collect(),
    }
}

impl WatchedResult {
    fn limited(&self) -> bool {
        self.at_least.is_some() || self.at_most.is_some()
    }

    fn limits(&self) -> [f64; 2] {
        [self.at_least.unwrap_or(f64::NEG_INFINITY), self.at_most.unwrap_or(f64::INFINITY)]
    }
}

const NOT_GIVEN: &str = "is not given in the build, so it cannot be off.";
const TWICE: &str = "stands twice; name each place once.";

/// Every broken rule that needs no evaluation.
fn rules(input: &BuildToleranceInput) -> Vec<ValidationError> {
    let mut broken = Vec::new();
    for (field, count, most) in [
        ("tolerances", input.tolerances.len(), MOST_INPUTS),
        ("results", input.results.len(), MOST_RESULTS),
        ("percentiles", input.percentiles.len(), MOST_PERCENTILES),
    ] {
        if count == 0 || count > most {
            broken.push(broken_rule(field, "wrong_length", format!("must have 1 to {most} entries; got {count}.")));
        }
    }
    for (index, one) in input.tolerances.iter().enumerate() {
        let at = |field: &str| format!("tolerances/{index}/{field}");
        if input.tolerances[..index].iter().any(|other| other.place.path == one.place.path) {
            broken.push(broken_rule(&at("pointer"), "duplicate_pointer", TWICE.to_owned()));
        }
        if one.place.whole {
            broken.push(broken_rule(
                &at("pointer"),
                "not_continuous",
                "counts things and has no tolerance.".to_owned(),
            ));
        }
        // Also refuses what is not a number.
        let (field, given) = match one.spread {
            Spread::Tolerance(tolerance) => ("tolerance", tolerance),
            Spread::StandardUncertainty(uncertainty) => ("standard_uncertainty", uncertainty),
        };
        if !(given > 0.0 && given.is_finite()) {
            let shown = one.place.dimension.shown_difference(given);
            broken.push(broken_rule(&at(field), "out_of_range", format!("must be above zero; got {shown}.")));
        }
    }
    for (index, one) in input.results.iter().enumerate() {
        let at = |field: &str| format!("results/{index}/{field}");
        if input.results[..index].iter().any(|other| other.place.path == one.place.path) {
            broken.push(broken_rule(&at("pointer"), "duplicate_pointer", TWICE.to_owned()));
        }
        if one.at_least.zip(one.at_most).is_some_and(|(low, high)| low >= high) {
            broken.push(broken_rule(&at("at_most"), "contradiction", "must be above at_least.".to_owned()));
        }
    }
    for (index, percent) in input.percentiles.iter().enumerate() {
        if !(percent.plain() > 0.0 && percent.plain() < 1.0) {
            let detail = format!("must be between 0 and 100 percent, both excluded; got {}.", percent.percent());
            broken.push(broken_rule(&format!("percentiles/{index}"), "out_of_range", detail));
        }
    }
    let draws = crate::limit::draws(input.draws);
    broken.extend(draws.err().map(|error| {
        let detail = error.message.as_ref().map_or_else(String::new, ToString::to_string);
        broken_rule("draws", "out_of_range", detail)
    }));
    broken
}

#[cfg(test)]
mod tests;
