//! What cuts, gaskets and sunk valves do to a measured valve-to-piston clearance.

use validator::Validate;

use crate::caution::{About, COMMON_PRACTICE, Caution, STANDING, Severity};
use crate::error::Error;
use crate::limit;
use crate::method::Method;
use crate::units::{Angle, Length, Quantity};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "valve-to-piston",
    title: "Valve-to-piston clearance after cuts, from a measured one",
    equation: "q = deck cut + head cut - gasket change, along the bore; s valve sinking, along the valve; a valve axis to bore axis. \
         Along the bore the gap b changes by -q + s/k, along the valve the gap v by -k q + s, and v = k b. Over a relief whose \
         floor lies parallel to the valve's head k = cos a; over a flat crown k = 1/cos a.",
    valid_for: "The same camshaft, timing, lash, rocker geometry and crank angle as when it was measured, and the closest place \
         staying the same. A lowered head can shift the timing of an overhead camshaft, which changes the clearance too.",
    sources: &["First principles (plane geometry)"],
};

/// Below these a clearance, along the valve, is worth a caution: intake, exhaust.
const TIGHT: [Length; 2] = [Length::from_inches(0.080), Length::from_inches(0.100)];

/// A clearance that is short of its limit by less (a nanometre) is short by rounding only.
const ROUNDING: f64 = 1e-9;

/// Which valve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Valve {
    /// Lets the charge in.
    Intake,
    /// Lets the burnt gas out.
    Exhaust,
}

/// What the valve comes close to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Crown {
    /// A relief whose floor is parallel to the valve's head.
    Relief,
    /// A crown square to the bore.
    Flat,
}

/// The direction in which the clearance was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Along {
    /// Along the bore: the piston was moved, or clay measured upright.
    Bore,
    /// Along the valve: the valve was pushed down to touch.
    Valve,
}

/// A measured clearance and what is changed.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct ValveToPistonInput {
    /// Which valve.
    pub valve: Valve,
    /// As measured, at its smallest over the crank circle.
    #[validate(custom(function = "limit::valve_clearance"))]
    pub measured_clearance: Length,
    /// The direction of the measurement.
    pub measured_along: Along,
    /// Valve axis to bore axis.
    #[validate(custom(function = "limit::valve_inclination"))]
    pub valve_inclination: Angle,
    /// What the valve comes close to.
    pub crown: Crown,
    /// Taken off the block's deck.
    #[validate(custom(function = "limit::face_cut"))]
    pub deck_cut: Length,
    /// Taken off the head's face.
    #[validate(custom(function = "limit::face_cut"))]
    pub head_cut: Length,
    /// New compressed gasket thickness less the old one.
    #[validate(custom(function = "limit::gasket_change"))]
    pub gasket_change: Length,
    /// How much deeper the valve sits in the head.
    #[validate(custom(function = "limit::valve_sinking"))]
    pub valve_sinking: Length,
    /// The smallest clearance along the valve that the part maker allows.
    #[validate(custom(function = "limit::least_valve_clearance"))]
    pub least_clearance: Option<Length>,
}

/// A clearance in both directions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// Along the bore.
    pub along_bore: Length,
    /// Along the valve.
    pub along_valve: Length,
}

/// What follows.
#[derive(Debug, Clone, PartialEq)]
pub struct ValveToPiston {
    /// As measured.
    pub before: Gap,
    /// After the changes; negative when the parts would run into each other.
    pub after: Gap,
    /// After less before.
    pub change: Gap,
    /// What may still come off deck or head before the least clearance is reached; negative when it is passed.
    pub cut_left: Option<Length>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// Clearance after the changes, along bore and valve.
///
/// **Equation** v = k b; db = -q + s/k; dv = -k q + s; k = cos a over a relief, 1/cos a over a flat crown.
///
/// **Shape** Scalars.
///
/// **Units** Lengths and one angle.
///
/// **Valid for** Inclinations up to 60 degrees; the same valve timing and rocker geometry as when measured.
///
/// **Errors** [`Error::Invalid`] with every field that is out of range.
///
/// **Source** First principles.
pub fn evaluate(input: &ValveToPistonInput) -> Result<ValveToPiston, Error> {
    input.validate()?;
    let cosine = input.valve_inclination.radians().cos();
    let share = match input.crown {
        Crown::Relief => cosine,
        Crown::Flat => 1.0 / cosine,
    };
    let gap = |along_bore: f64| Gap {
        along_bore: Length::from_metres(along_bore),
        along_valve: Length::from_metres(share * along_bore),
    };
    let measured = input.measured_clearance.metres();
    let before = match input.measured_along {
        Along::Bore => measured,
        Along::Valve => measured / share,
    };
    let lowered = input.deck_cut.metres() + input.head_cut.metres() - input.gasket_change.metres();
    let change = input.valve_sinking.metres() / share - lowered;
    let after = before + change;
    let least = input.least_clearance.map(|least| least.metres() / share);
    let found = ValveToPiston {
        before: gap(before),
        after: gap(after),
        change: gap(change),
        cut_left: least.map(|least| Length::from_metres(after - least)),
        cautions: Vec::new(),
    };
    Ok(ValveToPiston { cautions: cautions(input, &found), ..found })
}

fn cautions(input: &ValveToPistonInput, found: &ValveToPiston) -> Vec<Caution> {
    let mut cautions = Vec::new();
    limit::VALVE_CLEARANCE.unusual("measured_clearance", input.measured_clearance, &mut cautions);
    limit::VALVE_INCLINATION.unusual("valve_inclination", input.valve_inclination, &mut cautions);
    limit::FACE_CUT.unusual("deck_cut", input.deck_cut, &mut cautions);
    limit::FACE_CUT.unusual("head_cut", input.head_cut, &mut cautions);
    limit::GASKET_CHANGE.unusual("gasket_change", input.gasket_change, &mut cautions);
    limit::VALVE_SINKING.unusual("valve_sinking", input.valve_sinking, &mut cautions);
    if let Some(least) = input.least_clearance {
        limit::LEAST_VALVE_CLEARANCE.unusual("least_clearance", least, &mut cautions);
    }
    cautions.extend(tight_caution(input, found.after.along_valve));
    cautions.push(STANDING);
    cautions
}

/// The caller's own limit is judged where there is one; else what is usual with steel rods.
fn tight_caution(input: &ValveToPistonInput, clearance: Length) -> Option<Caution> {
    let (usual, name) = match input.valve {
        Valve::Intake => (TIGHT[0], "an intake valve"),
        Valve::Exhaust => (TIGHT[1], "an exhaust valve"),
    };
    let (code, severity, why, source) = if clearance <= Length::default() {
        ("valve_meets_piston", Severity::Danger, "the valve runs into the piston".to_owned(), "First principles")
    } else if let Some(least) = input.least_clearance.filter(|least| clearance.metres() < least.metres() - ROUNDING) {
        (
            "valve_clearance_below_limit",
            Severity::Danger,
            format!("the limit given is {}", least.shown()),
            "the request",
        )
    } else if input.least_clearance.is_none() && clearance < usual {
        let why = format!("at least {} is usual for {name} with steel rods", usual.shown());
        ("valve_clearance_tight", Severity::Danger, why, COMMON_PRACTICE)
    } else {
        return None;
    };
    Some(Caution {
        code,
        severity,
        about: About::Answer,
        path: "after/along_valve".into(),
        detail: format!("Valve-to-piston clearance {} along the valve: {why}.", clearance.shown()).into(),
        source,
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn input(angle: f64, crown: Crown, along: Along, changes: [f64; 4]) -> ValveToPistonInput {
        let [deck_cut, head_cut, gasket_change, valve_sinking] = changes.map(Length::from_inches);
        ValveToPistonInput {
            valve: Valve::Intake,
            measured_clearance: Length::from_inches(0.14),
            measured_along: along,
            valve_inclination: Angle::from_degrees(angle),
            crown,
            deck_cut,
            head_cut,
            gasket_change,
            valve_sinking,
            least_clearance: Some(Length::from_inches(0.09)),
        }
    }

    proptest! {
        #[test]
        fn cutting_what_is_left_leaves_the_least(
            angle in 0.0..40.0, flat: bool, bore: bool, deck in 0.0..0.03, sinking in 0.0..0.02,
        ) {
            let crown = if flat { Crown::Flat } else { Crown::Relief };
            let along = if bore { Along::Bore } else { Along::Valve };
            let first = evaluate(&input(angle, crown, along, [deck, 0.0, 0.0, sinking]))?;
            let left = first.cut_left.map_or(f64::NAN, Length::inches);
            prop_assume!(left >= 0.0);
            let second = evaluate(&input(angle, crown, along, [deck, left, 0.0, sinking]))?;
            prop_assert!((second.after.along_valve.inches() - 0.09).abs() < 1e-12);
        }

        #[test]
        fn an_upright_valve_loses_what_is_cut(deck in 0.0..0.05, head in 0.0..0.05, gasket in -0.02..0.02, sinking in 0.0..0.05) {
            for crown in [Crown::Flat, Crown::Relief] {
                let found = evaluate(&input(0.0, crown, Along::Valve, [deck, head, gasket, sinking]))?;
                let expected = sinking - deck - head + gasket;
                prop_assert!((found.change.along_bore.inches() - expected).abs() < 1e-12);
                prop_assert!((found.change.along_valve.inches() - expected).abs() < 1e-12);
            }
        }

        #[test]
        fn no_change_changes_nothing(angle in 0.0..60.0, flat: bool) {
            let crown = if flat { Crown::Flat } else { Crown::Relief };
            let found = evaluate(&input(angle, crown, Along::Valve, [0.0; 4]))?;
            prop_assert_eq!(found.before, found.after);
            prop_assert!((found.after.along_valve.inches() - 0.14).abs() < 1e-12);
        }
    }
}
