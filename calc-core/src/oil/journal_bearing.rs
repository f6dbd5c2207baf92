//! A journal bearing under a steady load: film, flow, friction and temperature.

mod balance;
mod cautions;
mod rules;
#[cfg(test)]
mod tests;

use validator::Validate;

use crate::caution::Caution;
use crate::error::Error;
use crate::limit;
use crate::method::Method;
use crate::units::{
    Angle, Density, DynamicViscosity, Flow, Force, Length, Power, Pressure, RotationalSpeed, SpecificHeat, Temperature,
    TemperatureDifference,
};

use super::bearing_load::{EngineLoad, EngineLoadInput, worst_load};
use super::oil_input::OilInput;
use balance::{Shape, State, balanced};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "journal-bearing",
    title: "Steadily loaded journal bearing of finite width",
    equation: "Reynolds' equation d/dt (H^3 dp/dt) + (d/l)^2 d/dz (H^3 dp/dz) = 6 dH/dt, H = 1 + e cos t, p >= 0, solved by a program of \
         this project and tabulated over l/d and e: load W, attitude angle, side flow, highest pressure. S = (r/c)^2 mu N/P, P = \
         W/(d l). Least film c (1 - e). Friction f r/c = 2 pi^2 S/sqrt(1 - e^2) + (e/2) sin(attitude). A full groove makes two \
         bearings of one land each. Side flow: Q = Qf + Qp - 0.3 sqrt(Qf Qp), or the larger of both where that is more; Qf the film's own \
         (of a full groove's lands the outer edges only), Qp what the supply presses through: full groove pi ps r c^3 (1 + 1.5 \
         e^2)/(3 mu l); arc ps r/(6 mu l) integral of h^3 over it; hole of diameter D pi ps h^3/(6 mu ln(4 l/(pi D))). Heat: power \
         = rho cp Q (t_out - t_supply), film at their mean, iterated with the viscosity; cp = (1.6848 + 0.00339 t)/sqrt(rho15/999) \
         kJ/kg/K, t in degrees C, when not given.",
    valid_for: "l/d from 0.05 to 2, eccentricity up to 0.98 (heavier loads are refused), laminar film (a caution), one viscosity all over \
         the film, rigid and parallel faces, steady load and speed. The film is taken to begin where it is thickest, without supply \
         pressure; this makes light loads' films up to twice as thick as computed, heavy loads' within some percent. The sum of the flows is \
         within 12 percent of solutions with the supply's pressure in the groove. The arc's flow is a lower bound: what leaves round its ends is not in it. All friction is taken to heat the oil that \
         leaves. The load of an engine passes in milliseconds: its film is usually thicker than the steady one of its worst moment.",
    sources: &[
        "A. A. Raimondi and J. Boyd, A solution for the finite journal bearing and its application to analysis and design, ASLE Trans. 1 \
         (1958) 159 (boundary conditions, and values that the table is checked with)",
        "J. E. Shigley and C. R. Mischke, Mechanical Engineering Design, chapter on lubrication and journal bearings (pressure-fed \
         bearings, film temperature; from memory)",
        "F. A. Martin, Oil flow in plain steadily loaded journal bearings: realistic predictions using rapid techniques, Proc. Inst. \
         Mech. Eng. J 212 (1998) 413 (sum of the flows; from memory)",
        "C. S. Cragoe, Thermal Properties of Petroleum Products, U.S. Bureau of Standards Miscellaneous Publication 97 (1929) (specific \
         heat; from memory)",
        "First principles for the hole: the source in a strip with both edges at no pressure",
    ],
};

/// How the oil comes in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Groove {
    /// Without pressure: the film fills itself from a bath.
    None,
    /// By a groove all round in the middle.
    Full,
    /// By a groove over an arc, in the middle, away from the load.
    PartialArc,
    /// By one hole in the middle.
    SingleHole,
}

/// The bearing, its load, speed and oil.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct JournalBearingInput {
    /// Diameter of the journal.
    #[validate(custom(function = "limit::journal_diameter"))]
    pub diameter: Length,
    /// Width of the bearing, a groove included; or the land.
    #[validate(custom(function = "limit::bearing_width"))]
    pub width: Option<Length>,
    /// Width of one of the two lands beside a groove, instead of the width.
    #[validate(custom(function = "limit::bearing_land"))]
    pub land: Option<Length>,
    /// Diameter of the bearing less that of the journal.
    #[validate(custom(function = "limit::bearing_clearance"))]
    pub clearance: Length,
    /// How the oil comes in.
    pub groove: Groove,
    /// Width of the groove.
    #[validate(custom(function = "limit::groove_width"))]
    pub groove_width: Option<Length>,
    /// How far round a partial groove reaches.
    #[validate(custom(function = "limit::groove_arc"))]
    pub groove_arc: Option<Angle>,
    /// Diameter of a single hole.
    #[validate(custom(function = "limit::feed_hole"))]
    pub hole_diameter: Option<Length>,
    /// Centre of the partial groove or hole, from the place that the load presses, along the motion; opposite when not given.
    #[validate(custom(function = "limit::feed_position"))]
    pub feed_position: Option<Angle>,
    /// Load; or what makes it.
    #[validate(custom(function = "limit::bearing_load"))]
    pub load: Option<Force>,
    /// Gas and masses that make the load.
    #[validate(nested)]
    pub engine_load: Option<EngineLoadInput>,
    /// Speed of the journal in its bearing.
    #[validate(custom(function = "limit::engine_speed"))]
    pub journal_speed: RotationalSpeed,
    /// Which oil.
    #[validate(nested)]
    pub oil: OilInput,
    /// Temperature of the oil that comes in.
    #[validate(custom(function = "limit::oil_temperature"))]
    pub supply_temperature: Temperature,
    /// Its gauge pressure at groove or hole.
    #[validate(custom(function = "limit::pressure_drop"))]
    pub supply_pressure: Option<Pressure>,
    /// Temperature of the film, instead of the heat balance.
    #[validate(custom(function = "limit::oil_temperature"))]
    pub film_temperature: Option<Temperature>,
    /// Specific heat of the oil; from its density and temperature when not given.
    #[validate(custom(function = "limit::oil_heat"))]
    pub specific_heat: Option<SpecificHeat>,
    /// The least film that is allowed.
    #[validate(custom(function = "limit::film_thickness"))]
    pub film_limit: Option<Length>,
    /// Roughness of both faces together, root of the sum of squares of their rms heights.
    #[validate(custom(function = "limit::film_thickness"))]
    pub roughness: Option<Length>,
}

/// How the bearing runs.
#[derive(Debug, Clone, PartialEq)]
pub struct JournalBearing {
    /// Load, given or worked out.
    pub load: Force,
    /// Load on the projected area.
    pub unit_load: Pressure,
    /// What makes the load, when it was worked out.
    pub engine_load: Option<EngineLoad>,
    /// Width over diameter of the bearing, or of one land.
    pub width_ratio: f64,
    /// Width of a land beside a groove.
    pub land: Option<Length>,
    /// Off centre as a share of the radial clearance.
    pub eccentricity: f64,
    /// Thinnest film.
    pub least_film: Length,
    /// From the load to the thinnest film, along the motion.
    pub attitude_angle: Angle,
    /// Highest pressure in the film.
    pub peak_pressure: Pressure,
    /// Sommerfeld's number (r/c)^2 mu N/P; none without load.
    pub sommerfeld_number: Option<f64>,
    /// The film's own flow out of the bearing.
    pub film_flow: Flow,
    /// What the supply presses through.
    pub pressure_flow: Flow,
    /// Both together, less what they hinder each other: what the bearing takes.
    pub side_flow: Flow,
    /// Power lost to friction.
    pub friction_power: Power,
    /// Friction over load; none without load.
    pub friction_coefficient: Option<f64>,
    /// Temperature that the film's viscosity belongs to.
    pub film_temperature: Temperature,
    /// How much warmer the oil leaves than it comes.
    pub temperature_rise: TemperatureDifference,
    /// Heat carried off less friction, as a share of friction; none when the film's temperature was given.
    pub heat_residual: Option<f64>,
    /// Viscosity in the film: at high shear where that is known.
    pub film_viscosity: DynamicViscosity,
    /// Density in the film.
    pub film_density: Density,
    /// Least film over the limit given.
    pub film_to_limit: Option<f64>,
    /// Least film over the roughness given.
    pub film_to_roughness: Option<f64>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// How a steadily loaded journal bearing runs.
///
/// **Equation** Reynolds' for a film of finite width with p >= 0, tabulated; heat balance on the side flow
///
/// **Shape** Scalars.
///
/// **Units** Any; clearance on the diameter, pressures above the air.
///
/// **Valid for** l/d 0.05 to 2, eccentricity to 0.98, laminar film, rigid parallel faces, steady load.
///
/// **Errors** [`Error::Invalid`] when a field is out of range, fields contradict each other, or the oil cannot be asked at a
/// temperature; [`Error::NoSolution`] when the load is too heavy for the film, or nothing carries the heat off;
/// [`Error::NotConverged`] when the heat balance is not found: a fault of ours.
///
/// **Source** Raimondi and Boyd, ASLE Trans. 1 (1958) 159; Shigley and Mischke, Mechanical Engineering Design, lubrication and
/// journal bearings; Cragoe, Bureau of Standards Miscellaneous Publication 97 (1929).
pub fn evaluate(input: &JournalBearingInput) -> Result<JournalBearing, Error> {
    let (law, geometry) = rules::checked(input)?;
    let engine_load = input.engine_load.as_ref().map(|engine| worst_load(engine, input.journal_speed));
    let load = input.load.or(engine_load.map(|engine| engine.load)).unwrap_or_default();
    let shape = Shape::new(input, &geometry, load, law);
    let state = balanced(input, &shape)?;
    let found = complete(input, &shape, &state, engine_load);
    Ok(JournalBearing { cautions: cautions::cautions(input, &found, &law), ..found })
}

fn complete(
    input: &JournalBearingInput,
    shape: &Shape,
    state: &State,
    engine_load: Option<EngineLoad>,
) -> JournalBearing {
    let least_film = shape.radial_clearance * (1.0 - state.film.eccentricity);
    let loaded = shape.load > 0.0;
    let over = |limit: Option<Length>| limit.map(|limit| least_film / limit.metres());
    JournalBearing {
        load: Force::from_newtons(shape.load),
        unit_load: Pressure::from_pascals(shape.load / shape.projected_area()),
        engine_load,
        width_ratio: shape.width_ratio(),
        land: shape.land.map(Length::from_metres),
        eccentricity: state.film.eccentricity,
        least_film: Length::from_metres(least_film),
        attitude_angle: Angle::from_radians(state.film.attitude),
        peak_pressure: Pressure::from_pascals(state.peak_pressure),
        sommerfeld_number: loaded.then(|| 1.0 / (std::f64::consts::PI * state.film.load)),
        film_flow: Flow::from_cubic_metres_per_second(state.film_flow),
        pressure_flow: Flow::from_cubic_metres_per_second(state.pressure_flow),
        side_flow: Flow::from_cubic_metres_per_second(state.side_flow()),
        friction_power: Power::from_watts(state.power),
        friction_coefficient: loaded.then(|| state.power / (shape.load * shape.radius * shape.speed)),
        film_temperature: Temperature::from_kelvins(state.kelvins),
        temperature_rise: TemperatureDifference::from_kelvin_steps(state.rise()),
        heat_residual: input.film_temperature.is_none().then(|| shape.heat_residual(state)),
        film_viscosity: DynamicViscosity::from_pascal_seconds(state.viscosity),
        film_density: Density::from_kilograms_per_cubic_metre(state.density),
        film_to_limit: over(input.film_limit),
        film_to_roughness: over(input.roughness),
        cautions: Vec::new(),
    }
}
