//! The builds that tolerances allow: beside the planned one, at the ends of all tolerances, and drawn at random.

use crate::compression::tolerance::Distribution;
use crate::error::{Error, broken_rule};
use crate::random::Random;
use crate::stop::Stop;

use super::evaluate::numbers;
use super::place::Input;
use super::sheet::Build;
use super::tolerance::{BuildToleranceInput, InputTolerance, WatchedResult};

/// Draws between two looks at the stop flag; even, so that normal numbers, which come in pairs, end with it.
const CHUNK: usize = 512;

/// An input with its planned value and its tolerance, in SI units.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Varied {
    place: &'static Input,
    planned: f64,
    tolerance: f64,
    distribution: Distribution,
}

impl Varied {
    pub(crate) fn new(of: &InputTolerance, planned: f64) -> Self {
        Self { place: of.place, planned, tolerance: of.tolerance(), distribution: of.distribution }
    }

    pub(crate) fn uncertainty(&self) -> f64 {
        self.distribution.standard_uncertainty(self.tolerance)
    }

    /// Sets the input this much off what is planned.
    fn set(&self, build: &mut Build, off: f64) {
        // What the build gives can be given another value.
        let _ = self.place.set(build, self.planned + off);
    }
}

/// A build whose inputs are moved about.
struct Moved<'a> {
    build: Build,
    results: &'a [WatchedResult],
}

impl Moved<'_> {
    /// The watched results as they are now.
    fn results(&self, mut each: impl FnMut(usize, f64)) -> Result<(), Error> {
        let found = numbers(&self.build).map_err(|error| refused(&error))?;
        for (which, result) in self.results.iter().enumerate() {
            // What the planned build has, every build with the same inputs has.
            let missing = || Error::NotConverged { what: "a result that was there", residual: f64::NAN };
            each(which, result.place.get(&found).ok_or_else(missing)?);
        }
        Ok(())
    }

    fn one(&self, which: usize) -> Result<f64, Error> {
        let mut value = 0.0;
        self.results(|index, found| {
            if index == which {
                value = found
            }
        })?;
        Ok(value)
    }
}

fn refused(error: &Error) -> Error {
    let why: Vec<String> = error.faults().into_iter().map(|fault| format!("{} {}", fault.path, fault.detail)).collect();
    if why.is_empty() {
        return error.clone();
    }
    let detail = format!("reach a build that is refused: {}; narrow them or check the build.", why.join("; "));
    Error::of_rules([broken_rule("tolerances", "refused_build", detail)])
}

/// dy/dx of each result (first) by each input (second).
pub(crate) fn slopes(input: &BuildToleranceInput, varied: &[Varied]) -> Result<Vec<Vec<f64>>, Error> {
    const PART: f64 = 1e-3;
    let mut slopes = vec![vec![0.0; varied.len()]; input.results.len()];
    let mut moved = Moved { build: input.build.clone(), results: &input.results };
    for (index, one) in varied.iter().enumerate() {
        let step = PART * one.tolerance;
        // What really stands in the build after rounding, so that a small step is not misread.
        let (above, below) = (one.planned + step, one.planned - step);
        for (value, sign) in [(above, 1.0), (below, -1.0)] {
            one.set(&mut moved.build, value - one.planned);
            moved.results(|which, found| slopes[which][index] += sign * found / (above - below))?;
        }
        one.set(&mut moved.build, 0.0);
    }
    Ok(slopes)
}

/// Least and greatest value of each result over the ends of all tolerances.
pub(crate) fn worst_case(
    input: &BuildToleranceInput,
    varied: &[Varied],
    slopes: &[Vec<f64>],
) -> Result<Vec<[f64; 2]>, Error> {
    let mut worst = Vec::with_capacity(slopes.len());
    for (which, slopes) in slopes.iter().enumerate() {
        let mut ends = [0.0; 2];
        for (end, sign) in ends.iter_mut().zip([-1.0, 1.0]) {
            let mut offs: Vec<f64> = slopes.iter().map(|slope| sign * slope.signum()).collect();
            *end = sign * climb(input, varied, which, sign, &mut offs)?;
        }
        worst.push(ends);
    }
    Ok(worst)
}

/// Moves one input after the other to either end, or back to what is planned, while that makes `sign` times a result greater;
/// the greatest that is reached. `offs` are shares of the tolerances.
fn climb(
    input: &BuildToleranceInput,
    varied: &[Varied],
    which: usize,
    sign: f64,
    offs: &mut [f64],
) -> Result<f64, Error> {
    /// Each pass but the last makes the result greater: there are few.
    const MOST_PASSES: usize = 8;
    let mut moved = Moved { build: input.build.clone(), results: &input.results };
    for (one, off) in varied.iter().zip(offs.iter()) {
        one.set(&mut moved.build, off * one.tolerance);
    }
    let mut greatest = sign * moved.one(which)?;
    for _ in 0..MOST_PASSES {
        let mut better = false;
        for (one, off) in varied.iter().zip(offs.iter_mut()) {
            for other in [-1.0, 0.0, 1.0] {
                one.set(&mut moved.build, other * one.tolerance);
                let found = sign * moved.one(which)?;
                if found > greatest {
                    (greatest, *off, better) = (found, other, true);
                }
            }
            one.set(&mut moved.build, *off * one.tolerance);
        }
        if !better {
            break;
        }
    }
    Ok(greatest)
}

/// Each result (first) of every random build (second).
pub(crate) fn draw(input: &BuildToleranceInput, varied: &[Varied], stop: &Stop) -> Result<Vec<Vec<f64>>, Error> {
    let draws = input.draws as usize;
    let chunks = draws.div_ceil(CHUNK);
    let each = chunks.div_ceil(input.threads.clamp(1, 64)).max(1) * CHUNK;
    let parts: Vec<Result<Vec<Vec<f64>>, Error>> = std::thread::scope(|scope| {
        let starts = (0..draws).step_by(each);
        let part = |from: usize| scope.spawn(move || draw_part(input, varied, stop, [from, draws.min(from + each)]));
        let running: Vec<_> = starts.map(part).collect();
        let lost = |_| Err(Error::NotConverged { what: "a thread of draws", residual: f64::NAN });
        running.into_iter().map(|part| part.join().unwrap_or_else(lost)).collect()
    });
    let mut all: Vec<Vec<f64>> = vec![Vec::with_capacity(draws); input.results.len()];
    for part in parts {
        for (all, part) in all.iter_mut().zip(part?) {
            all.extend_from_slice(&part);
        }
    }
    Ok(all)
}

/// The draws from one number to another, which are the same whoever draws them.
fn draw_part(
    input: &BuildToleranceInput,
    varied: &[Varied],
    stop: &Stop,
    [from, to]: [usize; 2],
) -> Result<Vec<Vec<f64>>, Error> {
    // One number for each input of each draw before.
    let mut random = Random::new(u64::from(input.seed)).skip(from as u64 * varied.len() as u64);
    let mut moved = Moved { build: input.build.clone(), results: &input.results };
    let mut drawn: Vec<Vec<f64>> = vec![Vec::with_capacity(to - from); input.results.len()];
    for draw in from..to {
        if draw.is_multiple_of(CHUNK) {
            stop.check()?;
        }
        for one in varied {
            one.set(&mut moved.build, one.distribution.draw(one.tolerance, &mut random));
        }
        moved.results(|which, value| drawn[which].push(value))?;
    }
    Ok(drawn)
}
