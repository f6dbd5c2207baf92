//! How much each input of a build moves each result.

use crate::method::Method;

use super::evaluate::{Evaluation, numbers};
use super::every_place::{Place, inputs, results, values};
use super::sheet::Build;

/// How [`sensitivities`] works.
pub const METHOD: Method = Method {
    id: "build-sensitivity",
    title: "Sensitivity of every result of a build to every input",
    equation: "(4 D(h/2) - D(h))/3 with D(h) = (f(x + h) - f(x - h))/(2 h): f the whole evaluation, x one input, all others \
         held, h a ten-thousandth of x. Where the sheet's own rules leave room on one side only, (18 f(x + h) - 9 f(x + 2 h) \
         + 2 f(x + 3 h) - 11 f(x))/(6 h) to that side, h a thousandth. A count moves by one.",
    valid_for: "Inputs that the sheet gives. The slope at this build, good for small changes; an input that changes no digit \
         of a result does not stand beside it. Against automatic differentiation of the same equations the slopes agree to \
         eight digits.",
    sources: &["W. H. Press et al., Numerical Recipes, 3rd edition, section 5.7, Numerical Derivatives (from memory)"],
};

/// What one input does to one result.
#[derive(Debug, Clone)]
pub struct Sensitivity {
    /// The input.
    pub input: Place,
    /// Its value in SI units.
    pub value: f64,
    /// Change of the result per change of the input, both in SI units.
    pub slope: f64,
}

/// A result and the inputs that move it.
#[derive(Debug, Clone)]
pub struct Dependence {
    /// The result.
    pub result: Place,
    /// Its value in SI units.
    pub value: f64,
    /// The inputs that it depends on, in the order of the sheet.
    pub inputs: Vec<Sensitivity>,
}

/// The slope of every result of a build over every input that the sheet gives, readings of single cylinders among them.
///
/// A result is said to depend on an input when a small step of the input changes it in any digit.
///
/// **Equation** (4 D(h/2) - D(h))/3 with D(h) = (f(x + h) - f(x - h))/(2 h), h a ten-thousandth of the input; where the sheet's
/// own rules leave room on one side only, (18 f(x + h) - 9 f(x + 2 h) + 2 f(x + 3 h) - 11 f(x))/(6 h) to that side. A count
/// moves by one.
///
/// **Shape** One entry for each result that the build has, single cylinders' last, with the inputs that move it.
///
/// **Units** SI units of the result per SI unit of the input.
///
/// **Valid for** A build that evaluates, with its own evaluation.
///
/// **Errors** None; an input that the sheet's rules hold fast, like the bank angle of a flat engine, is left out.
///
/// **Source** W. H. Press et al., Numerical Recipes, 3rd edition, section 5.7, "Numerical Derivatives".
#[must_use]
pub fn sensitivities(build: &Build, evaluation: &Evaluation) -> Vec<Dependence> {
    let cylinders = evaluation.compression.cylinders.len();
    let here = values(evaluation, cylinders);
    let mut of_each = vec![Vec::new(); here.len()];
    for (input, value) in inputs(build, cylinders) {
        let Some(value) = value else { continue };
        let slopes = slopes(build, &input, value, (&here, cylinders));
        for (found, slope) in of_each.iter_mut().zip(slopes) {
            found.extend(slope.map(|slope| Sensitivity { input: input.clone(), value, slope }));
        }
    }
    let all = results(evaluation, cylinders).into_iter().zip(of_each);
    all.filter_map(|((result, value), inputs)| Some(Dependence { result, value: value?, inputs })).collect()
}

/// A magnitude of a quantity that nobody in a shop would call nothing: steps and roundings are taken relative to the value, or
/// to this when the value is smaller.
pub(crate) fn magnitude(dimension: &str, value: f64) -> f64 {
    let least = match dimension {
        "length" => 1e-3,
        "area" => 1e-4,
        "volume" => 1e-6,
        "angle" => 0.1,
        "altitude" => 1000.0,
        _ => 1.0,
    };
    value.abs().max(least)
}

/// One number for each result; none where the build lacks the result, or where the input does not move it.
type Values = Vec<Option<f64>>;

/// The slopes of all results over one input.
fn slopes(build: &Build, input: &Place, value: f64, (here, cylinders): (&[Option<f64>], usize)) -> Values {
    let at = |steps: f64, step: f64| moved(build, input, value + steps * step, cylinders);
    let whole = input.is_whole();
    let attempts: &[f64] = if whole { &[1.0] } else { &[1e-4, 1e-6] };
    for share in attempts {
        let step = if whole { 1.0 } else { share * magnitude(input.dimension(), value) };
        if let (Some(below), Some(above)) = (at(-1.0, step), at(1.0, step)) {
            let wide = quotient(here, &below, &above, |low, _, high| (high - low) / (2.0 * step));
            let half = if whole { None } else { at(-0.5, step).zip(at(0.5, step)) };
            let Some((below, above)) = half else { return wide };
            let narrow = quotient(here, &below, &above, |low, _, high| (high - low) / step);
            return wide.into_iter().zip(narrow).map(extrapolated).collect();
        }
    }
    let step = if whole { 1.0 } else { 1e-3 * magnitude(input.dimension(), value) };
    for side in [step, -step] {
        if let (Some(first), Some(second), Some(third)) = (at(1.0, side), at(2.0, side), at(3.0, side)) {
            let near = quotient(here, &first, &second, |first, here, second| 18.0 * first - 9.0 * second - 11.0 * here);
            let slope = |(near, third): (Option<f64>, Option<f64>)| Some((near? + 2.0 * third?) / (6.0 * side));
            return near.into_iter().zip(third).map(slope).collect();
        }
    }
    vec![None; here.len()]
}

/// All results with another value of the input; none when the sheet's rules do not allow it.
fn moved(build: &Build, input: &Place, value: f64, cylinders: usize) -> Option<Values> {
    let mut build = build.clone();
    if input.is_whole() {
        // Readings belong to a count of cylinders.
        build.measured = None;
    }
    if !input.set(&mut build, value) {
        return None;
    }
    numbers(&build).ok().map(|evaluation| values(&evaluation, cylinders))
}

fn quotient(
    here: &[Option<f64>],
    first: &[Option<f64>],
    second: &[Option<f64>],
    slope: impl Fn(f64, f64, f64) -> f64,
) -> Values {
    let each = here.iter().zip(first).zip(second);
    each.map(|((here, first), second)| match (*first, *here, *second) {
        (Some(first), Some(here), Some(second)) if first != here || second != here => Some(slope(first, here, second)),
        _ => None,
    })
    .collect()
}

/// Removes the error that falls with the square of the step.
fn extrapolated((wide, narrow): (Option<f64>, Option<f64>)) -> Option<f64> {
    match (wide, narrow) {
        (Some(wide), Some(narrow)) => Some((4.0 * narrow - wide) / 3.0),
        _ => wide.or(narrow),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::evaluate::evaluate;
    use super::super::tests::demo;
    use super::*;
    use crate::error::Error;
    use crate::units::{Length, Volume};

    fn of(build: &Build) -> Result<Vec<Dependence>, Error> {
        Ok(sensitivities(build, &evaluate(build)?))
    }

    fn on<'a>(found: &'a [Dependence], result: &str) -> Option<&'a Dependence> {
        found.iter().find(|one| one.result.path() == result)
    }

    fn slope(found: &[Dependence], result: &str, input: &str) -> Option<f64> {
        on(found, result)?.inputs.iter().find(|one| one.input.path() == input).map(|one| one.slope)
    }

    proptest! {
        /// Euler's theorem: what grows with the n-th power of an engine's size has slopes whose sum, each times its input and
        /// that input's own power, is n times itself.
        #[test]
        fn an_engine_of_another_size_has_the_slopes_of_its_powers(
            bore in 3.0..5.0, dish in 0.0..20.0, offset in -0.1..0.1, gasket in 0.0..0.1,
        ) {
            let mut build = demo();
            build.block.bore = Length::from_inches(bore);
            build.piston.dish_volume = Volume::from_cubic_centimetres(dish);
            build.piston.pin_offset = Length::from_inches(offset);
            build.piston.top_land_diameter = Some(Length::from_inches(bore - 0.03));
            build.head_gasket.compressed_thickness = Length::from_inches(gasket);
            let evaluation = evaluate(&build)?;
            let found = sensitivities(&build, &evaluation);
            let power = |dimension: &str| match dimension {
                "length" => 1.0,
                "area" => 2.0,
                "volume" => 3.0,
                _ => 0.0,
            };
            // The label is a name, not a size, and accelerations and speeds scale with the stroke.
            for (result, power_of_result) in [
                ("geometry/displacement", 3.0),
                ("geometry/deck_clearance", 1.0),
                ("geometry/peak_piston_speed", 1.0),
                ("geometry/peak_piston_acceleration", 1.0),
                ("geometry/peak_piston_speed_angle", 0.0),
                ("compression/static_ratio", 0.0),
                ("compression/trapped_volume", 3.0),
                ("compression/trapped_ratio", 0.0),
                ("compression/ratio_spread", 0.0),
                ("compression/cylinders/3/static_ratio", 0.0),
                ("compression/cylinders/7/clearance_volume", 3.0),
                ("compression/end_of_compression/end_temperature", 0.0),
            ] {
                let found = on(&found, result).ok_or(TestCaseError::fail(result))?;
                let value = found.value;
                let parts = found.inputs.iter().map(|one| power(one.input.dimension()) * one.value * one.slope);
                let (sum, size) = parts.fold((0.0, value.abs()), |(sum, size), part| (sum + part, size + part.abs()));
                prop_assert!((sum - power_of_result * value).abs() < 1e-9 * size, "{result}: {sum} for {value}");
            }
        }
    }

    #[test]
    fn slopes_of_powers_are_exact() -> Result<(), Error> {
        let build = demo();
        let (found, evaluation) = (of(&build)?, evaluate(&build)?);
        let displacement = evaluation.geometry.displacement.cubic_metres();
        let by_bore = slope(&found, "geometry/displacement", "block/bore").unwrap_or_default();
        assert!((by_bore / (2.0 * displacement / build.block.bore.metres()) - 1.0).abs() < 1e-11);
        let by_count = slope(&found, "geometry/displacement", "engine/cylinders").unwrap_or_default();
        assert!((by_count / (displacement / 8.0) - 1.0).abs() < 1e-12);
        assert_eq!(slope(&found, "geometry/displacement", "piston/dish_volume"), None);
        Ok(())
    }

    #[test]
    fn at_the_end_of_an_inputs_range_the_slope_is_that_of_the_side_that_is_left() -> Result<(), Error> {
        let mut build = demo();
        build.piston.dish_volume = Volume::default();
        let found = of(&build)?;
        let slope = slope(&found, "compression/clearance_volume", "piston/dish_volume").unwrap_or_default();
        assert!((slope - 1.0).abs() < 1e-9, "{slope}");
        Ok(())
    }
}
