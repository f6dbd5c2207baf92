//! The search behind a goal: which results depend on which unknowns, which systems to solve, and the nearest miss.

use crate::error::{Error, broken_rule};
use crate::stop::Stop;

use super::evaluate::{evaluate as consequences, numbers};
use super::goal::{GoalInput, MOST_STEPS, Step, Unknown};
use super::sheet::Build;

/// Most unknowns at once.
pub(crate) const MOST_UNKNOWNS: usize = 3;
/// Into how many parts a range is cut to see what depends on it.
const PROBES: usize = 8;
/// Most builds that one search evaluates.
const MOST_EVALUATIONS: u32 = 200_000;
/// How near a result must come, as a share of what it was seen to span.
const NEAR: f64 = 1e-9;

/// Values of the unknowns, or of the wanted results; what is beyond their number is zero.
pub(crate) type Point = [f64; MOST_UNKNOWNS];

/// One equation of a system: which wanted result, and the value it must have.
pub(crate) type Equation = (usize, f64);

/// Where a search has ended.
pub(crate) struct Outcome {
    pub(crate) found: bool,
    pub(crate) inputs: Point,
    pub(crate) results: Point,
}

/// A search under way.
pub(crate) struct Search<'a> {
    pub(super) input: &'a GoalInput,
    stop: &'a Stop,
    build: Build,
    pub(crate) evaluations: u32,
    /// Lowest and highest value seen of each wanted result.
    pub(crate) reach: [[f64; 2]; MOST_UNKNOWNS],
    /// Whether a wanted result (first) was seen to depend on an unknown (second).
    pub(super) depends: [[bool; MOST_UNKNOWNS]; MOST_UNKNOWNS],
    /// How much a wanted result (first) changes from one end of an unknown's range (second) to the other.
    pub(super) slopes: [Point; MOST_UNKNOWNS],
    start: Point,
    nearest: Option<(f64, Point, Point)>,
    refusal: Option<Error>,
    steps: Vec<Step>,
    /// Nested searches are not listed step by step.
    pub(super) depth: u32,
}

impl<'a> Search<'a> {
    pub(crate) fn new(input: &'a GoalInput, stop: &'a Stop) -> Self {
        let mut start = [0.0; MOST_UNKNOWNS];
        for (value, unknown) in start.iter_mut().zip(&input.unknowns) {
            *value = match unknown.place.get(&input.build) {
                Some(present) => present.max(unknown.min).min(unknown.max),
                None => 0.5 * (unknown.min + unknown.max),
            };
        }
        Self {
            input,
            stop,
            build: input.build.clone(),
            evaluations: 0,
            reach: [[f64::INFINITY, f64::NEG_INFINITY]; MOST_UNKNOWNS],
            depends: [[false; MOST_UNKNOWNS]; MOST_UNKNOWNS],
            slopes: [[0.0; MOST_UNKNOWNS]; MOST_UNKNOWNS],
            start,
            nearest: None,
            refusal: None,
            steps: Vec::new(),
            depth: 0,
        }
    }

    /// Looks for the solution that changes least; ends at the nearest miss when there is none.
    pub(crate) fn run(&mut self) -> Result<Outcome, Error> {
        self.probe()?;
        if self.nearest.is_none() {
            return Err(self.refused());
        }
        let all: Vec<usize> = (0..self.input.unknowns.len()).collect();
        let mut best: Option<(usize, f64, Outcome)> = None;
        for count in 0..=all.len() {
            for equations in self.bindings(count) {
                for inputs in self.solve(&all, &equations, self.start)? {
                    let Some(results) = self.at(inputs)? else { continue };
                    let (changes, largest) = self.moves(inputs);
                    let meets = all.iter().all(|index| self.misses(*index, results[*index]) <= 0.0);
                    if meets && best.as_ref().is_none_or(|(least, most, _)| (changes, largest) < (*least, *most)) {
                        best = Some((changes, largest, Outcome { found: true, inputs, results }));
                    }
                }
            }
            // More equations change more inputs.
            if best.as_ref().is_some_and(|(changes, ..)| *changes <= count) {
                break;
            }
        }
        if let Some((_, _, outcome)) = best {
            return Ok(outcome);
        }
        match self.nearest {
            Some((_, inputs, results)) => Ok(Outcome { found: false, inputs, results }),
            None => Err(self.refused()),
        }
    }

    /// The wanted results at a point; none where the sheet is refused.
    pub(super) fn at(&mut self, inputs: Point) -> Result<Option<Point>, Error> {
        if self.evaluations >= MOST_EVALUATIONS {
            return Err(Error::of_rules([broken_rule("unknowns", "too_much_work", TOO_MUCH.to_owned())]));
        }
        if self.evaluations.is_multiple_of(64) {
            self.stop.check()?;
        }
        self.evaluations += 1;
        for (index, (unknown, value)) in self.input.unknowns.iter().zip(inputs).enumerate() {
            if !unknown.place.set(&mut self.build, value) {
                let detail = "belongs to a section that the build does not have; give the section first.".to_owned();
                return Err(Error::of_rules([broken_rule(&format!("unknowns/{index}/pointer"), "missing", detail)]));
            }
        }
        let found = match numbers(&self.build) {
            Ok(found) => found,
            Err(error) => {
                self.refusal.get_or_insert(error);
                self.record(inputs, None);
                return Ok(None);
            }
        };
        let mut results = [0.0; MOST_UNKNOWNS];
        for (index, wanted) in self.input.wanted.iter().enumerate() {
            let Some(value) = wanted.place.get(&found) else {
                let detail = consequences(&self.build).map(|whole| wanted.place.needs(&whole)).unwrap_or_default();
                return Err(Error::of_rules([broken_rule(&format!("wanted/{index}/pointer"), "missing", detail)]));
            };
            results[index] = value;
            self.reach[index] = [self.reach[index][0].min(value), self.reach[index][1].max(value)];
        }
        self.record(inputs, Some(results));
        Ok(Some(results))
    }

    fn record(&mut self, inputs: Point, results: Option<Point>) {
        let count = self.input.unknowns.len();
        if let Some(results) = results {
            let missed = (0..count).map(|index| self.misses(index, results[index])).fold(0.0, f64::max);
            if self.nearest.is_none_or(|(least, ..)| missed < least) {
                self.nearest = Some((missed, inputs, results));
            }
        }
        if self.depth == 0 && self.steps.len() < MOST_STEPS {
            let results = results.map_or_else(Vec::new, |results| results[..count].to_vec());
            self.steps.push(Step { inputs: inputs[..count].to_vec(), results });
        }
    }

    /// By how much a result misses what is wanted of it, as a share of its scale; not above zero when it is met.
    pub(crate) fn misses(&self, index: usize, value: f64) -> f64 {
        let wanted = &self.input.wanted[index];
        let below = wanted.at_least.map_or(f64::NEG_INFINITY, |low| low - value);
        let above = wanted.at_most.map_or(f64::NEG_INFINITY, |high| value - high);
        let bound =
            wanted.at_least.into_iter().chain(wanted.at_most).fold(0.0_f64, |most, bound| most.max(bound.abs()));
        let scale = if bound > 0.0 { bound } else { value.abs().max(f64::MIN_POSITIVE) };
        below.max(above) / scale - NEAR
    }

    /// Sees what depends on what, along each unknown's range from two points, and at all corners of the ranges.
    fn probe(&mut self) -> Result<(), Error> {
        let count = self.input.unknowns.len();
        let elsewhere: Point = std::array::from_fn(|index| self.share_of_range(index, 0.381_966));
        self.at(self.start)?;
        self.depth += 1;
        for unknown in 0..count {
            for base in [elsewhere, self.start] {
                let mut first: Option<Point> = None;
                for part in 0..=PROBES {
                    let mut inputs = base;
                    inputs[unknown] = self.share_of_range(unknown, part as f64 / PROBES as f64);
                    let Some(results) = self.at(inputs)? else { continue };
                    let first = *first.get_or_insert(results);
                    for index in 0..count {
                        // The same arithmetic gives the same bits: any difference is a dependence.
                        self.depends[index][unknown] |= results[index] != first[index];
                        self.slopes[index][unknown] = results[index] - first[index];
                    }
                }
            }
        }
        for corner in 0..1_usize << count {
            let end = |index: usize| self.share_of_range(index, (corner >> index & 1) as f64);
            let inputs: Point = std::array::from_fn(|index| if index < count { end(index) } else { 0.0 });
            self.at(inputs)?;
        }
        self.depth -= 1;
        Ok(())
    }

    pub(super) fn share_of_range(&self, index: usize, share: f64) -> f64 {
        let Some(unknown) = self.input.unknowns.get(index) else { return 0.0 };
        if share == 1.0 { unknown.max } else { unknown.min + share * (unknown.max - unknown.min) }
    }

    /// How many unknowns are not as at the start, and the largest move as a share of its range.
    fn moves(&self, inputs: Point) -> (usize, f64) {
        let share = |(index, unknown): (usize, &Unknown)| {
            (inputs[index] - self.start[index]).abs() / (unknown.max - unknown.min)
        };
        let shares = || self.input.unknowns.iter().enumerate().map(share);
        (shares().filter(|share| *share > NEAR).count(), shares().fold(0.0, f64::max))
    }

    /// Every way to choose `count` equations: those that are wanted equal always, the others at one of their ends.
    fn bindings(&self, count: usize) -> Vec<Vec<Equation>> {
        let mut ways: Vec<Vec<Equation>> = vec![Vec::new()];
        for (index, wanted) in self.input.wanted.iter().enumerate() {
            let mut ends: Vec<Option<f64>> = Vec::new();
            if wanted.at_least.is_none() || wanted.at_least != wanted.at_most {
                ends.extend([None, wanted.at_most].into_iter().take(1 + usize::from(wanted.at_most.is_some())));
            }
            ends.extend(wanted.at_least.map(Some));
            ways = ways
                .iter()
                .flat_map(|way| {
                    ends.iter().map(|end| way.iter().copied().chain(end.map(|value| (index, value))).collect())
                })
                .collect();
        }
        ways.retain(|way| way.len() == count);
        ways
    }

    fn refused(&mut self) -> Error {
        let why = self.refusal.take().map(|error| error.faults()).unwrap_or_default();
        let why: Vec<String> = why.into_iter().map(|fault| format!("{} {}", fault.path, fault.detail)).collect();
        let detail = format!("hold no value that the build sheet accepts: {}", why.join("; "));
        Error::of_rules([broken_rule("unknowns", "no_sound_value", detail)])
    }

    /// Why nothing was found, in words.
    pub(crate) fn reason(&self, outcome: &Outcome) -> String {
        let mut parts = Vec::new();
        for (index, wanted) in self.input.wanted.iter().enumerate() {
            let [lowest, highest] = self.reach[index];
            let name = wanted.place.path;
            let shown = |value: f64| wanted.place.dimension.shown(value);
            if let Some(least) = wanted.at_least.filter(|least| highest < *least) {
                parts.push(format!("{name} does not come above {}; wanted is {}.", shown(highest), shown(least)));
            } else if let Some(most) = wanted.at_most.filter(|most| lowest > *most) {
                parts.push(format!("{name} does not come below {}; wanted is {}.", shown(lowest), shown(most)));
            } else if self.depends[index].iter().all(|depends| !depends) {
                parts.push(format!(
                    "{name} does not depend on what may change; it stays {}.",
                    shown(outcome.results[index])
                ));
            }
        }
        if parts.is_empty() {
            parts.push("Each wanted result can be reached, but not all at once inside the ranges.".to_owned());
        }
        for (unknown, value) in self.input.unknowns.iter().zip(outcome.inputs) {
            let end = if value <= unknown.min { "min" } else { "max" };
            if value <= unknown.min || value >= unknown.max {
                let shown = unknown.place.dimension.shown(value);
                parts.push(format!("{} is at the {end} of its range, {shown}.", unknown.place.path));
            }
        }
        if self.refusal.is_some() {
            parts.push("Part of the ranges is refused by the build sheet.".to_owned());
        }
        parts.join(" ")
    }

    pub(crate) fn into_steps(self) -> Vec<Step> {
        self.steps
    }
}

const TOO_MUCH: &str =
    "would take more builds than one search evaluates; give fewer unknowns, or equal instead of limits.";
