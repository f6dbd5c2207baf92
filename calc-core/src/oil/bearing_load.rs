//! Load on a crankshaft bearing from gas pressure and inertia, at the worst crank angle.

use std::f64::consts::{PI, TAU};

use validator::{Validate, ValidationError};

use crate::caution::Caution;
use crate::geometry::slider_crank::{SliderCrank, check_rod};
use crate::limit;
use crate::method::Method;
use crate::units::{Angle, Force, Length, Mass, Pressure, Ratio, RotationalSpeed};

/// How [`worst_load`] works.
pub const METHOD: Method = Method {
    id: "crank-bearing-load",
    title: "Load on a crankshaft bearing at the worst crank angle",
    equation: "Along the cylinder the rod pushes with R = p A + m y'' w^2, A = (pi/4) B^2, y the pin's height by slider-crank-exact, m the \
         reciprocating mass; on the crankpin act R (tan b, -1), b the rod's angle, and outwards M r w^2, M the rotating mass; the \
         load is the length of their sum times the share. Worst of: the gas at its highest pressure at the angle given; and inertia \
         alone at every degree of the turn (exhaust and intake strokes).",
    valid_for: "One cylinder, steady speed, rigid parts. Piston, pin, rings and the rod's small end reciprocate; the rod's big end \
         rotates (weigh them so). For a main bearing give the share that falls on it (about a half beside one cylinder) and as \
         rotating mass what of crank and counterweights is unbalanced there as well.",
    sources: &[
        "J. B. Heywood, Internal Combustion Engine Fundamentals, 1st edition, section 2.2 (slider-crank)",
        "C. F. Taylor, The Internal Combustion Engine in Theory and Practice, volume 2, chapter 8 (engine balance and bearing loads; \
         from memory)",
    ],
};

/// Where the gas pressure is highest when not given: common practice, no source.
pub const USUAL_GAS_ANGLE: Angle = Angle::from_degrees(12.0);

/// What loads a crankshaft bearing.
#[derive(Debug, Clone, PartialEq, Validate)]
#[validate(schema(function = "rod_clears_crank", skip_on_field_errors = false))]
pub struct EngineLoadInput {
    /// Cylinder bore.
    #[validate(custom(function = "limit::bore"))]
    pub bore: Length,
    /// The crank's stroke: twice its radius.
    #[validate(custom(function = "limit::stroke"))]
    pub stroke: Length,
    /// Connecting rod length between the centres of its eyes.
    #[validate(custom(function = "limit::rod_length"))]
    pub rod_length: Length,
    /// Highest gauge pressure of the gas.
    #[validate(custom(function = "limit::gas_pressure"))]
    pub gas_pressure: Pressure,
    /// Where it is reached, after top centre; [`USUAL_GAS_ANGLE`] when not given.
    #[validate(custom(function = "limit::gas_angle"))]
    pub gas_angle: Option<Angle>,
    /// What goes up and down: piston, rings, pin, small end of the rod.
    #[validate(custom(function = "limit::moving_mass"))]
    pub reciprocating_mass: Mass,
    /// What goes round with the crankpin and hangs on this bearing: the rod's big end.
    #[validate(custom(function = "limit::moving_mass"))]
    pub rotating_mass: Mass,
    /// Share of the load that this bearing takes; all of it when not given.
    #[validate(custom(function = "limit::share"))]
    pub load_share: Option<Ratio>,
}

/// Which stroke is the worst.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WorstCase {
    /// The gas at its highest pressure.
    Firing,
    /// Inertia without gas, between exhaust and intake.
    Inertia,
}

/// The worst load and its parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EngineLoad {
    /// Load on the bearing.
    pub load: Force,
    /// Which stroke it belongs to.
    pub worst_case: WorstCase,
    /// Crank angle after top centre.
    pub crank_angle: Angle,
    /// Push of the gas on the piston there.
    pub gas_force: Force,
    /// Inertia of what reciprocates there, positive towards the crank.
    pub inertia_force: Force,
    /// Centrifugal force of what rotates.
    pub rotating_force: Force,
    /// Load at the highest gas pressure.
    pub firing_load: Force,
    /// The most that inertia alone does.
    pub inertia_load: Force,
}

fn rod_clears_crank(input: &EngineLoadInput) -> Result<(), ValidationError> {
    check_rod("rod_length", "rod_length", input.stroke, input.rod_length, Length::default())
}

/// Load and forces at one crank angle, in newtons.
#[derive(Debug, Clone, Copy)]
struct Moment {
    angle: f64,
    load: f64,
    gas: f64,
    inertia: f64,
}

/// Load on a crankshaft bearing at the worst crank angle.
///
/// **Equation** |R (tan b, -1) + M r w^2 (sin t, cos t)| share, R = p A + m y'' w^2
///
/// **Shape** One cylinder; 360 crank angles and the one of the highest gas pressure are searched.
///
/// **Units** Any; pressure above that under the piston.
///
/// **Valid for** Input that is validated; steady speed, rigid parts.
///
/// **Errors** None.
///
/// **Source** Heywood, Internal Combustion Engine Fundamentals, 1st edition, section 2.2; Taylor, volume 2, chapter 8.
#[must_use]
pub fn worst_load(input: &EngineLoadInput, speed: RotationalSpeed) -> EngineLoad {
    let firing = at(input, speed, input.gas_angle.unwrap_or(USUAL_GAS_ANGLE).radians(), input.gas_pressure.pascals());
    let turn = (0..360).map(|degree| at(input, speed, f64::from(degree) * TAU / 360.0, 0.0));
    let inertia =
        turn.fold(at(input, speed, 0.0, 0.0), |worst, here| if here.load > worst.load { here } else { worst });
    let (worst, worst_case) =
        if firing.load >= inertia.load { (firing, WorstCase::Firing) } else { (inertia, WorstCase::Inertia) };
    EngineLoad {
        load: Force::from_newtons(worst.load),
        worst_case,
        crank_angle: Angle::from_radians(worst.angle),
        gas_force: Force::from_newtons(worst.gas),
        inertia_force: Force::from_newtons(worst.inertia),
        rotating_force: Force::from_newtons(rotating(input, speed)),
        firing_load: Force::from_newtons(firing.load),
        inertia_load: Force::from_newtons(inertia.load),
    }
}

fn rotating(input: &EngineLoadInput, speed: RotationalSpeed) -> f64 {
    input.rotating_mass.kilograms() * input.stroke.metres() / 2.0 * speed.radians_per_second().powi(2)
}

fn at(input: &EngineLoadInput, speed: RotationalSpeed, angle: f64, pressure: f64) -> Moment {
    let train = SliderCrank::new(input.stroke, input.rod_length, Length::default());
    let acceleration = train.height(angle).second * speed.radians_per_second().powi(2);
    let gas = pressure * PI / 4.0 * input.bore.metres().powi(2);
    let inertia = input.reciprocating_mass.kilograms() * acceleration;
    let (push, outward) = (gas + inertia, rotating(input, speed));
    let across = push * train.rod_angle(angle).tan() + outward * angle.sin();
    let along = outward * angle.cos() - push;
    let share = input.load_share.map_or(1.0, Ratio::plain);
    Moment { angle, load: share * across.hypot(along), gas, inertia }
}

/// What is unusual about the engine's part of a request at `engine_load`.
pub(crate) fn cautions(input: &EngineLoadInput, cautions: &mut Vec<Caution>) {
    limit::BORE.unusual("engine_load/bore", input.bore, cautions);
    limit::STROKE.unusual("engine_load/stroke", input.stroke, cautions);
    limit::ROD_LENGTH.unusual("engine_load/rod_length", input.rod_length, cautions);
    limit::GAS_PRESSURE.unusual("engine_load/gas_pressure", input.gas_pressure, cautions);
    if let Some(angle) = input.gas_angle {
        limit::GAS_ANGLE.unusual("engine_load/gas_angle", angle, cautions);
    }
    limit::MOVING_MASS.unusual("engine_load/reciprocating_mass", input.reciprocating_mass, cautions);
    limit::MOVING_MASS.unusual("engine_load/rotating_mass", input.rotating_mass, cautions);
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn engines() -> impl Strategy<Value = EngineLoadInput> {
        (2.5..5.0, 2.5..5.0, 1.4..2.2, 0.0..1500.0, 0.0..30.0, 200.0..1200.0, 100.0..900.0).prop_map(
            |(bore, stroke, ratio, psi, angle, reciprocating, rotating)| EngineLoadInput {
                bore: Length::from_inches(bore),
                stroke: Length::from_inches(stroke),
                rod_length: Length::from_inches(stroke * ratio),
                gas_pressure: Pressure::from_pounds_per_square_inch(psi),
                gas_angle: Some(Angle::from_degrees(angle)),
                reciprocating_mass: Mass::from_grams(reciprocating),
                rotating_mass: Mass::from_grams(rotating),
                load_share: None,
            },
        )
    }

    proptest! {
        #[test]
        fn inertia_grows_with_the_square_of_speed_and_pulls_hardest_at_top_centre(engine in engines(), speed in 500.0..9000.0) {
            let at = |speed| worst_load(&engine, RotationalSpeed::from_revolutions_per_minute(speed));
            let (slow, fast) = (at(speed), at(2.0 * speed));
            prop_assert!((fast.inertia_load.newtons() / slow.inertia_load.newtons() - 4.0).abs() < 1e-9);
            // m r w^2 (1 + r/L) + M r w^2 at top centre.
            let (radius, omega) = (engine.stroke.metres() / 2.0, speed * TAU / 60.0);
            let lambda = radius / engine.rod_length.metres();
            let pull = (engine.reciprocating_mass.kilograms() * (1.0 + lambda) + engine.rotating_mass.kilograms()) * radius * omega * omega;
            prop_assert!((slow.inertia_load.newtons() / pull - 1.0).abs() < 1e-9, "{:?} {pull}", slow.inertia_load);
        }

        #[test]
        fn at_a_crawl_the_gas_alone_pushes_through_the_rod(engine in engines()) {
            let found = worst_load(&engine, RotationalSpeed::from_revolutions_per_minute(1e-6));
            let sine = engine.stroke.metres() / 2.0 * engine.gas_angle.unwrap_or_default().radians().sin() / engine.rod_length.metres();
            let push = engine.gas_pressure.pascals() * PI / 4.0 * engine.bore.metres().powi(2) / (1.0 - sine * sine).sqrt();
            prop_assert!((found.firing_load.newtons() - push).abs() < 1e-6 * push + 1e-9);
        }

        #[test]
        fn half_the_share_is_half_the_load(engine in engines(), speed in 500.0..9000.0) {
            let speed = RotationalSpeed::from_revolutions_per_minute(speed);
            let half = EngineLoadInput { load_share: Some(Ratio::from_plain(0.5)), ..engine.clone() };
            prop_assert!((worst_load(&half, speed).load.newtons() / worst_load(&engine, speed).load.newtons() - 0.5).abs() < 1e-12);
        }
    }
}
