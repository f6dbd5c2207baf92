//! Displacement of an engine, and what is missing of bore, stroke and displacement.

use std::f64::consts::PI;

use validator::{Validate, ValidationError};

use crate::caution::{About, COMMON_PRACTICE, Caution, Detail, Severity};
use crate::error::{Error, broken_rule};
use crate::limit;
use crate::method::Method;
use crate::units::{Length, Quantity, Volume, push_fixed};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "displacement",
    title: "Displacement from bore and stroke",
    equation: "V = n (pi/4) B^2 S; n cylinders, B bore, S piston stroke. Solved for B or S when V is given.",
    valid_for: "Circular cylinders, all of one size. B and S are the actual sizes, not the nominal ones.",
    sources: &[
        "ISO 7967-1, Reciprocating internal combustion engines, vocabulary: piston swept volume, engine swept volume",
        "J. B. Heywood, Internal Combustion Engine Fundamentals, 1st edition, section 2.2",
    ],
};

/// A label may differ from the computed displacement by this share before it is worth a caution.
pub const LABEL_TOLERANCE: f64 = 0.005;
const LABEL_TOLERANCE_PERCENT: &str = "0.5";

/// Bore, stroke and displacement, exactly one of them left out.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "exactly_one_left_out", skip_on_field_errors = false))]
pub struct DisplacementInput {
    /// How many cylinders.
    #[validate(custom(function = "limit::cylinders"))]
    pub cylinders: u32,
    /// Cylinder bore.
    #[validate(custom(function = "limit::bore"))]
    pub bore: Option<Length>,
    /// Piston stroke.
    #[validate(custom(function = "limit::stroke"))]
    pub stroke: Option<Length>,
    /// Displacement of the whole engine.
    #[validate(custom(function = "limit::displacement"))]
    pub displacement: Option<Volume>,
    /// What the engine is called, to compare with what it is.
    #[validate(custom(function = "limit::displacement"))]
    pub label_displacement: Option<Volume>,
}

/// Bore, stroke and displacement complete.
#[derive(Debug, Clone, PartialEq)]
pub struct Displacement {
    /// Cylinder bore.
    pub bore: Length,
    /// Piston stroke.
    pub stroke: Length,
    /// Displacement of the whole engine.
    pub displacement: Volume,
    /// Swept volume of one cylinder.
    pub swept_volume: Volume,
    /// Bore divided by stroke.
    pub bore_stroke_ratio: f64,
    /// Computed displacement less the label, when there is a label.
    pub label_difference: Option<Volume>,
    /// That difference as a share of the label.
    pub label_difference_ratio: Option<f64>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

fn exactly_one_left_out(input: &DisplacementInput) -> Result<(), ValidationError> {
    let given = [input.bore.is_some(), input.stroke.is_some(), input.displacement.is_some()];
    match given.iter().filter(|given| **given).count() {
        2 => Ok(()),
        3 => Err(broken_rule("displacement", "over_determined", OVER_DETERMINED.to_owned())),
        _ => Err(broken_rule("", "under_determined", UNDER_DETERMINED.to_owned())),
    }
}

const OVER_DETERMINED: &str = "bore, stroke and displacement are all given; leave one of them out, it is computed. A displacement \
     that the engine is merely called by belongs in label_displacement.";
const UNDER_DETERMINED: &str = "give exactly two of bore, stroke and displacement; the third is computed.";

/// Swept volume of one cylinder.
///
/// **Equation** V = (pi/4) B^2 S
///
/// **Shape** Scalars.
///
/// **Units** Lengths in, volume out.
///
/// **Valid for** Any circular cylinder; a negative `stroke` gives a negative volume, as for a piston above its deck.
///
/// **Errors** None.
///
/// **Source** Heywood, Internal Combustion Engine Fundamentals, 1st edition, section 2.2.
#[must_use]
pub fn cylinder_volume(bore: Length, stroke: Length) -> Volume {
    Volume::from_cubic_metres(PI / 4.0 * bore.metres() * bore.metres() * stroke.metres())
}

/// Displacement from bore and stroke, or the one of the three that is left out.
///
/// **Equation** V = n (pi/4) B^2 S; B = sqrt(4 V/(n pi S)); S = 4 V/(n pi B^2)
///
/// **Shape** Scalars.
///
/// **Units** Lengths and volumes, any.
///
/// **Valid for** Circular cylinders of one size, inside [`limit`]'s ranges.
///
/// **Errors** [`Error::Invalid`] when not exactly two of the three are given or one is out of range; [`Error::NoSolution`]
/// when the computed bore or stroke is out of range.
///
/// **Source** ISO 7967-1; Heywood, Internal Combustion Engine Fundamentals, 1st edition, section 2.2.
pub fn evaluate(input: &DisplacementInput) -> Result<Displacement, Error> {
    input.validate()?;
    let cylinders = f64::from(input.cylinders);
    let (bore, stroke, displacement) = match (input.bore, input.stroke, input.displacement) {
        (Some(bore), Some(stroke), None) => {
            let total = cylinders * cylinder_volume(bore, stroke).cubic_metres();
            (bore, stroke, Volume::from_cubic_metres(total))
        }
        (None, Some(stroke), Some(total)) => {
            let bore = (4.0 * total.cubic_metres() / (cylinders * PI * stroke.metres())).sqrt();
            (solved("bore", limit::BORE, Length::from_metres(bore))?, stroke, total)
        }
        (Some(bore), None, Some(total)) => {
            let stroke = 4.0 * total.cubic_metres() / (cylinders * PI * bore.metres() * bore.metres());
            (bore, solved("stroke", limit::STROKE, Length::from_metres(stroke))?, total)
        }
        _ => return Err(Error::NoSolution { field: "", detail: UNDER_DETERMINED.to_owned() }),
    };
    let mut cautions = Vec::new();
    limit::BORE.unusual("bore", bore, &mut cautions);
    limit::STROKE.unusual("stroke", stroke, &mut cautions);
    let label = input.label_displacement;
    cautions.extend(label.and_then(|label| label_caution("label_displacement", displacement, label)));
    Ok(Displacement {
        bore,
        stroke,
        displacement,
        swept_volume: Volume::from_cubic_metres(displacement.cubic_metres() / cylinders),
        bore_stroke_ratio: bore.metres() / stroke.metres(),
        label_difference: label.map(|label| difference(displacement, label)),
        label_difference_ratio: label.map(|label| label_difference_ratio(displacement, label)),
        cautions,
    })
}

fn solved(field: &'static str, limit: limit::Limit<Length>, value: Length) -> Result<Length, Error> {
    match limit.check(&value) {
        Ok(()) => Ok(value),
        Err(_) => Err(Error::NoSolution {
            field: "displacement",
            detail: format!(
                "needs a {field} of {}; a {field} is from {} to {}.",
                value.shown(),
                limit.min.shown(),
                limit.max.shown()
            ),
        }),
    }
}

fn difference(displacement: Volume, label: Volume) -> Volume {
    Volume::from_cubic_metres(displacement.cubic_metres() - label.cubic_metres())
}

/// Computed displacement less the label, as a share of the label.
///
/// **Equation** (V - V_label)/V_label
///
/// **Shape** Scalars.
///
/// **Units** Volumes in, a plain ratio out.
///
/// **Valid for** A label above zero.
///
/// **Errors** None.
///
/// **Source** Definition of a relative difference.
#[must_use]
pub fn label_difference_ratio(displacement: Volume, label: Volume) -> f64 {
    difference(displacement, label).cubic_metres() / label.cubic_metres()
}

/// The caution for a label that misstates the displacement by more than [`LABEL_TOLERANCE`].
pub(crate) fn label_caution(path: &'static str, displacement: Volume, label: Volume) -> Option<Caution> {
    let ratio = label_difference_ratio(displacement, label);
    (ratio.abs() > LABEL_TOLERANCE).then(|| Caution {
        code: "label_differs",
        severity: Severity::Note,
        about: About::Request,
        path: path.into(),
        detail: Detail::of([label.si(), displacement.si(), 100.0 * ratio], label_text),
        source: COMMON_PRACTICE,
    })
}

fn label_text([label, displacement, percent]: [f64; 3]) -> String {
    // Put together by hand: a shop's whole list may have such labels.
    let mut text = String::with_capacity(256);
    text.push_str("The engine is called ");
    text.push_str(&Volume::from_si(label).shown());
    text.push_str(" but computes to ");
    text.push_str(&Volume::from_si(displacement).shown());
    text.push_str(if percent.is_sign_negative() { ", " } else { ", +" });
    push_fixed(&mut text, percent, 2);
    text.push_str(" percent. Up to ");
    text.push_str(LABEL_TOLERANCE_PERCENT);
    text.push_str(" percent is usual for a rounded name; parts and rules go by the computed figure.");
    text
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn solving_for_a_part_gives_back_what_made_the_displacement(
            bore in 1.0..20.0, stroke in 1.0..20.0, cylinders in 1_u32..=48,
        ) {
            let input = DisplacementInput {
                cylinders,
                bore: Some(Length::from_inches(bore)),
                stroke: Some(Length::from_inches(stroke)),
                displacement: None,
                label_displacement: None,
            };
            let whole = evaluate(&input)?;
            let displacement = Some(whole.displacement);
            let for_bore = evaluate(&DisplacementInput { bore: None, displacement, ..input.clone() })?;
            let for_stroke = evaluate(&DisplacementInput { stroke: None, displacement, ..input.clone() })?;
            prop_assert!((for_bore.bore.inches() - bore).abs() < 1e-12 * bore);
            prop_assert!((for_stroke.stroke.inches() - stroke).abs() < 1e-12 * stroke);
        }

        #[test]
        fn displacement_grows_with_bore_stroke_and_count(bore in 1.0..20.0, stroke in 1.0..20.0, cylinders in 1_u32..48) {
            let total = |bore: f64, stroke: f64, cylinders| evaluate(&DisplacementInput {
                cylinders,
                bore: Some(Length::from_inches(bore)),
                stroke: Some(Length::from_inches(stroke)),
                displacement: None,
                label_displacement: None,
            }).map(|whole| whole.displacement);
            let base = total(bore, stroke, cylinders)?;
            prop_assert!(total(bore * 1.01, stroke, cylinders)? > base);
            prop_assert!(total(bore, stroke * 1.01, cylinders)? > base);
            prop_assert!(total(bore, stroke, cylinders + 1)? > base);
        }
    }
}
