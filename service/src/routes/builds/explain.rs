//! Explanations of the results of a build as they travel.

use calc_core::build::evaluate::Evaluation;
use calc_core::build::explain::{self as core, Piece, Value};
use calc_core::build::sensitivity::Sensitivity;
use calc_core::build::sheet::Build;
use calc_core::error::Error;
use serde::Serialize;
use utoipa::ToSchema;

use crate::calculation::internal_error;
use crate::wire::Units;
use crate::wire::place::{Field, PlaceNumber, pointer};

/// Why one result is what it is.
#[derive(Debug, Serialize, ToSchema)]
pub struct BuildExplanation {
    /// JSON Pointer of the result in the answer.
    pointer: String,
    /// The result.
    value: PlaceNumber,
    /// The unit of the result.
    unit: &'static str,
    /// The equation's right-hand side in symbols; after it, behind semicolons, that of each named part. A result that also
    /// stands on the right is found by iteration.
    equation: String,
    /// What the symbols stand for.
    symbols: Vec<EquationSymbol>,
    /// The right-hand side with the numbers put in, ten significant digits each, in their units; temperatures in kelvins.
    /// Signs + - * / ^; functions sqrt, sin, cos, asin, acos, exp, ln, min, max.
    put_in: String,
    /// The inputs that the result depends on, and how much each moves it.
    inputs: Vec<InputSensitivity>,
    /// The method that the equation belongs to; see `/v1/methods`.
    method: &'static str,
    /// Textbooks and standards, with the place in them.
    sources: &'static [&'static str],
}

/// A symbol of an equation.
#[derive(Debug, Serialize, ToSchema)]
pub struct EquationSymbol {
    /// The symbol.
    symbol: &'static str,
    /// JSON Pointer of the input in the request, or of the result in the answer; absent for a constant and for a number found
    /// on the way.
    #[serde(skip_serializing_if = "Option::is_none")]
    pointer: Option<String>,
    /// Its value with its unit, as put in.
    value: String,
}

/// How much one input moves a result, all others held.
#[derive(Debug, Serialize, ToSchema)]
pub struct InputSensitivity {
    /// JSON Pointer of the input in the request.
    pointer: String,
    /// The input.
    value: PlaceNumber,
    /// The unit of the input.
    unit: &'static str,
    /// Change of the result for a change of the input by one unit, from the slope at this build; see
    /// `/v1/methods/build-sensitivity`.
    sensitivity: PlaceNumber,
    /// The unit of that: unit of the result per unit of the input.
    sensitivity_unit: String,
}

/// Every result of a build explained.
pub(crate) fn explanations(
    build: &Build,
    evaluation: &Evaluation,
    units: Units,
) -> Result<Vec<BuildExplanation>, Error> {
    let explained = core::explain(build, evaluation)?;
    let written = explained.into_iter().map(|one| BuildExplanation::new(one, units)).collect::<Option<_>>();
    written.ok_or_else(|| internal_error("a place without a unit"))
}

impl BuildExplanation {
    /// None when a place has no unit, which a test of the places excludes.
    fn new(explained: core::Explanation, units: Units) -> Option<Self> {
        let field = Field::of(&explained.result)?;
        let symbols = explained.symbols.iter().map(|symbol| {
            Some(EquationSymbol {
                symbol: symbol.name,
                pointer: match &symbol.value {
                    Value::At(place, _) => Some(pointer(place.path())),
                    Value::Constant(_) | Value::Found(..) => None,
                },
                value: written(&symbol.value, units)?,
            })
        });
        let put_in = explained.put_in.iter().map(|piece| match piece {
            Piece::Text(text) => Some((*text).to_owned()),
            Piece::Number(value) => Some(format!("({})", written(value, units)?)),
        });
        let inputs = explained.inputs.iter().map(|one| InputSensitivity::new(one, &field, units));
        Some(Self {
            pointer: pointer(explained.result.path()),
            value: field.number(explained.value, units),
            unit: field.unit(units),
            equation: explained.equation.clone(),
            symbols: symbols.collect::<Option<_>>()?,
            put_in: put_in.collect::<Option<_>>()?,
            inputs: inputs.collect::<Option<_>>()?,
            method: explained.method.id,
            sources: explained.method.sources,
        })
    }
}

impl InputSensitivity {
    fn new(one: &Sensitivity, result: &Field<()>, units: Units) -> Option<Self> {
        let input = Field::of(&one.input)?;
        Some(Self {
            pointer: pointer(one.input.path()),
            value: input.number(one.value, units),
            unit: input.unit(units),
            sensitivity: result.difference(one.slope * input.unit_si(units), units),
            sensitivity_unit: format!("{} per {}", result.unit(units), input.unit(units)),
        })
    }
}

/// A value with its unit: `4.155 in`.
fn written(value: &Value, units: Units) -> Option<String> {
    let (figure, unit) = match value {
        Value::Constant(text) => return Some((*text).to_owned()),
        Value::Found(figure, unit) => (*figure, *unit),
        Value::At(place, si) => Field::of(place)?.written(*si, units),
    };
    Some(format!("{} {unit}", ten_digits(figure)).trim_end().to_owned())
}

/// Ten significant digits without trailing zeros; very large and very small numbers with an exponent.
fn ten_digits(figure: f64) -> String {
    const DIGITS: i32 = 10;
    if figure == 0.0 {
        return "0".to_owned();
    }
    let exponent = figure.abs().log10().floor() as i32;
    let text = if (-6..DIGITS).contains(&exponent) {
        let decimals = (DIGITS - 1 - exponent) as usize;
        format!("{figure:.decimals$}")
    } else {
        format!("{figure:.9e}")
    };
    let (digits, power) = text.split_once('e').map_or((text.as_str(), None), |(digits, power)| (digits, Some(power)));
    let digits = if digits.contains('.') { digits.trim_end_matches('0').trim_end_matches('.') } else { digits };
    power.map_or_else(|| digits.to_owned(), |power| format!("{digits}e{power}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ten_digits_are_written_and_no_zeros_after_them() {
        for (figure, text) in [
            (4.155, "4.155"),
            (0.1 + 0.2, "0.3"),
            (-1.0 / 3.0, "-0.3333333333"),
            (1e9, "1000000000"),
            (123_456_789_012.0, "1.23456789e11"),
            (-3.25e-14, "-3.25e-14"),
            (99_999.999_999_99, "100000"),
            (0.0, "0"),
        ] {
            assert_eq!(ten_digits(figure), text);
        }
    }
}
