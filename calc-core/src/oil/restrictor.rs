//! What drilled holes let through, and the drill for a wanted flow.

mod cautions;
mod rules;
#[cfg(test)]
mod tests;

use std::f64::consts::PI;

use validator::Validate;

use crate::caution::Caution;
use crate::error::{Error, all_faults};
use crate::limit;
use crate::solve::bracketed_newton;
use crate::units::{DynamicViscosity, Flow, KinematicViscosity, Length, Pressure, Quantity, Ratio, Speed, Temperature};

use super::drills::{Drill, Series, nearest};
use super::law::OilLaw;
use super::oil_input::OilInput;
use super::pipe_thread::{PipeSize, PipeThread, ThreadForm, thread};
use super::restrictor_law::{self, Hole, SLENDERNESS};

pub use super::restrictor_law::METHOD;

/// Most diameters and most temperatures of one table.
pub const MOST_DIAMETERS: usize = 60;
/// See [`MOST_DIAMETERS`].
pub const MOST_TEMPERATURES: usize = 40;

/// A cavitating sharp-edged hole's coefficient without back pressure: the contraction of its jet.
const CONTRACTION: f64 = 0.62;
/// The air around at sea level.
const SEA_LEVEL: Pressure = Pressure::from_standard_atmospheres(1.0);

/// How the entry edge of a hole is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edge {
    /// As the drill leaves it, without burr.
    Sharp,
    /// Chamfered or rounded, with a coefficient that is given.
    Chamfered,
}

/// Holes, oil, pressures, and what is wanted.
#[derive(Debug, Clone, PartialEq, Validate)]
pub struct RestrictorInput {
    /// Which oil.
    #[validate(nested)]
    pub oil: OilInput,
    /// Temperature of the oil.
    #[validate(custom(function = "limit::oil_temperature"))]
    pub temperature: Temperature,
    /// Diameter of the holes; or none, and a wanted flow.
    #[validate(custom(function = "limit::oil_hole"))]
    pub diameter: Option<Length>,
    /// Flow wanted through all holes together, instead of the diameter.
    #[validate(custom(function = "limit::oil_flow"))]
    pub wanted_flow: Option<Flow>,
    /// Length of each hole.
    #[validate(custom(function = "limit::oil_hole_length"))]
    pub length: Length,
    /// How many equal holes, in parallel.
    #[validate(custom(function = "limit::holes"))]
    pub count: u32,
    /// How their entry edge is made.
    pub edge: Edge,
    /// Discharge coefficient at high Reynolds number of a chamfered hole.
    #[validate(custom(function = "limit::discharge_coefficient"))]
    pub edge_coefficient: Option<Ratio>,
    /// Gauge pressure before the holes.
    #[validate(custom(function = "limit::oil_pressure"))]
    pub upstream_pressure: Pressure,
    /// Gauge pressure behind them.
    #[validate(custom(function = "limit::oil_pressure"))]
    pub downstream_pressure: Pressure,
    /// Absolute pressure of the air around; that of sea level when not given.
    #[validate(custom(function = "limit::air_pressure"))]
    pub air_pressure: Option<Pressure>,
    /// Pipe size of the plug that is drilled.
    pub plug_size: Option<PipeSize>,
    /// Thread form of that plug; ordinary when not given.
    pub plug_thread: Option<ThreadForm>,
    /// Diameters of a table.
    pub diameters: Option<Vec<Length>>,
    /// Temperatures of a table.
    pub temperatures: Option<Vec<Temperature>>,
}

/// What flows, and through what.
#[derive(Debug, Clone, PartialEq)]
pub struct Restrictor {
    /// At the diameter given or found and the temperature given.
    pub point: RestrictorPoint,
    /// Length of a hole over its diameter.
    pub slenderness: f64,
    /// Upstream less downstream pressure.
    pub pressure_difference: Pressure,
    /// Within what share of the truth the law is.
    pub uncertainty: f64,
    /// Smallest and largest flow by that share.
    pub flow_band: [Flow; 2],
    /// Flow of the thickest and of the thinnest oil of the grade; only for an oil known by its grade.
    pub grade_flows: Option<[Flow; 2]>,
    /// Coefficient of a cavitating hole; only for sharp edges and a pressure difference.
    pub cavitating_coefficient: Option<f64>,
    /// Flow if it cavitates; with the coefficient.
    pub cavitating_flow: Option<Flow>,
    /// The drills around the diameter, and what each would let through.
    pub drills: Vec<DrillFlow>,
    /// The table, temperatures within diameters.
    pub points: Vec<RestrictorPoint>,
    /// The thread of the plug.
    pub plug: Option<PipeThread>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// The flow at one diameter and temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RestrictorPoint {
    /// Diameter of the holes.
    pub diameter: Length,
    /// Temperature of the oil.
    pub temperature: Temperature,
    /// Kinematic viscosity of the oil there.
    pub kinematic_viscosity: KinematicViscosity,
    /// Dynamic viscosity of the oil there.
    pub dynamic_viscosity: DynamicViscosity,
    /// Flow through all holes, positive from upstream to downstream.
    pub flow: Flow,
    /// Mean speed in a hole.
    pub velocity: Speed,
    /// Reynolds number of the mean speed.
    pub reynolds_number: f64,
    /// Reynolds number of the ideal speed, on which the law is built.
    pub ideal_reynolds_number: f64,
    /// Mean speed over ideal speed.
    pub discharge_coefficient: f64,
    /// How the oil flows.
    pub regime: Regime,
    /// Whether the hole may cavitate.
    pub may_cavitate: bool,
}

/// How oil flows through a hole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Regime {
    /// Not at all.
    Still,
    /// Viscosity alone resists.
    Creeping,
    /// Reynolds number below 2000.
    Laminar,
    /// Reynolds number from 2000 to 4000.
    Transitional,
    /// Reynolds number above 4000.
    Turbulent,
}

/// A drill and what its hole would let through.
#[derive(Debug, Clone, PartialEq)]
pub struct DrillFlow {
    /// The drill.
    pub drill: Drill,
    /// Whether it is larger than the diameter asked about.
    pub is_above: bool,
    /// Flow through all holes.
    pub flow: Flow,
    /// That flow over the flow at the diameter asked about.
    pub flow_share: f64,
}

/// Flow through drilled holes, or the diameter for a wanted flow, with the drills around it and a table.
///
/// **Equation** Q = n Cd (pi/4) d^2 sqrt(2 dp/rho); Cd of l/d and Re = d sqrt(2 dp/rho)/nu
///
/// **Shape** Equal holes in parallel; up to [`MOST_DIAMETERS`] by [`MOST_TEMPERATURES`] points of a table.
///
/// **Units** Any; pressures are gauge. Flow is positive from upstream to downstream and negative when the downstream pressure is
/// the higher one.
///
/// **Valid for** l/d from 0.02 to 200, oil without air, not cavitating (flagged).
///
/// **Errors** [`Error::Invalid`] when a field is out of range or does not go with another; [`Error::NoSolution`] when no
/// diameter inside the law gives the wanted flow.
///
/// **Source** Lichtarowicz, Duggins and Markland, J. Mech. Eng. Sci. 7 (1965) 210, and the others of [`METHOD`].
pub fn evaluate(input: &RestrictorInput) -> Result<Restrictor, Error> {
    all_faults(input.validate(), rules::broken(input))?;
    let law = input.oil.law()?;
    let diameter = match (input.diameter, input.wanted_flow) {
        (Some(diameter), _) => diameter,
        (None, Some(wanted)) => diameter_for(input, &law, wanted)?,
        (None, None) => return Err(crate::error::contradiction("diameter", "is missing.".to_owned())),
    };
    if input.diameter.is_none() {
        all_faults(Ok(()), rules::plug(input, "wanted_flow", diameter))?;
    }
    let point = input.point(diameter, input.temperature, &law)?;
    let hole = input.hole(diameter);
    let band = [-1.0, 1.0].map(|side| scaled(point.flow, 1.0 + side * hole.uncertainty()));
    let cavitating_coefficient = input.cavitating_coefficient();
    let mut found = Restrictor {
        point,
        slenderness: hole.slenderness(),
        pressure_difference: Pressure::from_pascals(input.difference()),
        uncertainty: hole.uncertainty(),
        flow_band: if band[0] <= band[1] { band } else { [band[1], band[0]] },
        grade_flows: input.grade_flows(diameter)?,
        cavitating_coefficient,
        cavitating_flow: cavitating_coefficient
            .filter(|_| point.discharge_coefficient > 0.0)
            .map(|coefficient| scaled(point.flow, coefficient / point.discharge_coefficient)),
        drills: input.drills(diameter, &law, point.flow)?,
        points: input.table(diameter, &law)?,
        plug: input.plug_size.map(|size| thread(size, input.plug_thread.unwrap_or(ThreadForm::Ordinary))),
        cautions: Vec::new(),
    };
    found.cautions = cautions::of(input, &law, &found);
    Ok(found)
}

fn scaled(flow: Flow, share: f64) -> Flow {
    Flow::from_si(flow.si() * share)
}

impl RestrictorInput {
    fn hole(&self, diameter: Length) -> Hole {
        Hole::new(diameter.metres(), self.length.metres(), self.edge_coefficient.map(Ratio::plain))
    }

    /// Upstream less downstream pressure in Pa.
    fn difference(&self) -> f64 {
        self.upstream_pressure.pascals() - self.downstream_pressure.pascals()
    }

    /// Flow through all holes in m3/s.
    fn flow(&self, diameter: Length, temperature: Temperature, law: &OilLaw) -> Result<f64, Error> {
        let difference = Pressure::from_pascals(self.difference());
        let one =
            restrictor_law::flow([diameter, self.length], self.edge_coefficient, difference, &law.state(temperature))?;
        Ok(f64::from(self.count) * one.cubic_metres_per_second())
    }

    fn point(&self, diameter: Length, temperature: Temperature, law: &OilLaw) -> Result<RestrictorPoint, Error> {
        let state = law.state(temperature);
        let viscosity = state.kinematic_viscosity.square_metres_per_second();
        let metres = diameter.metres();
        let ideal_speed = (2.0 * self.difference().abs() / state.density.kilograms_per_cubic_metre()).sqrt();
        let ideal = metres * ideal_speed / viscosity;
        let found = self.hole(diameter).reynolds(ideal)?;
        let flow = self.flow(diameter, temperature, law)?;
        let discharge_coefficient = if ideal > 0.0 { found.value / ideal } else { 0.0 };
        let bound = self.cavitating_coefficient();
        Ok(RestrictorPoint {
            diameter,
            temperature,
            kinematic_viscosity: state.kinematic_viscosity,
            dynamic_viscosity: state.dynamic_viscosity,
            flow: Flow::from_cubic_metres_per_second(flow),
            velocity: Speed::from_metres_per_second(flow / (f64::from(self.count) * 0.25 * PI * metres * metres)),
            reynolds_number: found.value,
            ideal_reynolds_number: ideal,
            discharge_coefficient,
            regime: Regime::of(found.value, found.creeping),
            may_cavitate: bound.is_some_and(|bound| bound < discharge_coefficient),
        })
    }

    /// Nurick's bound; the oil's own vapour pressure is nothing beside the pressures here.
    fn cavitating_coefficient(&self) -> Option<f64> {
        let difference = self.difference().abs();
        if self.edge == Edge::Chamfered || difference == 0.0 {
            return None;
        }
        let higher = self.upstream_pressure.pascals().max(self.downstream_pressure.pascals());
        let absolute = higher + self.air_pressure.unwrap_or(SEA_LEVEL).pascals();
        Some(CONTRACTION * (absolute / difference).sqrt())
    }

    fn grade_flows(&self, diameter: Length) -> Result<Option<[Flow; 2]>, Error> {
        let Some([thin, thick]) = self.oil.window()? else { return Ok(None) };
        let flow = |law: &OilLaw| self.flow(diameter, self.temperature, law).map(Flow::from_cubic_metres_per_second);
        Ok(Some([flow(&thick)?, flow(&thin)?]))
    }

    /// The nearest drills of every series whose hole is inside the law.
    fn drills(&self, diameter: Length, law: &OilLaw, flow: Flow) -> Result<Vec<DrillFlow>, Error> {
        let mut found = Vec::new();
        for series in Series::ALL {
            for (drill, is_above) in nearest(series, diameter).into_iter().zip([false, true]) {
                let Some(drill) = drill.filter(|drill| rules::slenderness_fits(self.length, drill.diameter)) else {
                    continue;
                };
                let here = self.flow(drill.diameter, self.temperature, law)?;
                let area_share = (drill.diameter.metres() / diameter.metres()).powi(2);
                // Without a pressure difference nothing flows through either: then the areas compare.
                let flow_share = if flow.si() == 0.0 { area_share } else { here / flow.si() };
                found.push(DrillFlow { drill, is_above, flow: Flow::from_si(here), flow_share });
            }
        }
        Ok(found)
    }

    fn table(&self, diameter: Length, law: &OilLaw) -> Result<Vec<RestrictorPoint>, Error> {
        if self.diameters.is_none() && self.temperatures.is_none() {
            return Ok(Vec::new());
        }
        let one_diameter = [diameter];
        let one_temperature = [self.temperature];
        let diameters = self.diameters.as_deref().unwrap_or(&one_diameter);
        let temperatures = self.temperatures.as_deref().unwrap_or(&one_temperature);
        let pairs = diameters.iter().flat_map(|diameter| temperatures.iter().map(move |other| (*diameter, *other)));
        pairs.map(|(diameter, temperature)| self.point(diameter, temperature, law)).collect()
    }
}

impl Regime {
    fn of(reynolds: f64, creeping: bool) -> Self {
        match reynolds {
            0.0 => Self::Still,
            _ if creeping => Self::Creeping,
            _ if reynolds < 2000.0 => Self::Laminar,
            _ if reynolds <= 4000.0 => Self::Transitional,
            _ => Self::Turbulent,
        }
    }
}

/// The diameter that lets the wanted flow through, by the logarithms of both.
fn diameter_for(input: &RestrictorInput, law: &OilLaw, wanted: Flow) -> Result<Length, Error> {
    let flow = |log: f64| input.flow(Length::from_metres(log.exp()), input.temperature, law);
    let length = input.length.metres();
    let [slimmest, stubbiest] = [SLENDERNESS[1], SLENDERNESS[0]].map(|slenderness| length / slenderness);
    let low = slimmest.max(limit::OIL_HOLE.min.metres());
    let high = stubbiest.min(limit::OIL_HOLE.max.metres());
    let [least, most] = [flow(low.ln())?, flow(high.ln())?];
    let wanted_si = wanted.cubic_metres_per_second();
    if wanted_si < least || wanted_si > most {
        let shown = |flow: f64| Flow::from_cubic_metres_per_second(flow).shown();
        let detail = format!(
            "cannot be had: holes of this length and count let {} through at {} and {} at {}; got {}.",
            shown(least),
            Length::from_metres(low).shown(),
            shown(most),
            Length::from_metres(high).shown(),
            wanted.shown()
        );
        return Err(Error::NoSolution { field: "wanted_flow", detail });
    }
    // A hole whose own velocity is not found ends the search; evaluating it there then says so.
    let gap = |log: f64| flow(log).map_or(0.0, |flow| (flow / wanted_si).ln());
    const STEP: f64 = 1e-6;
    let residual = |log: f64| (gap(log), (gap(log + STEP) - gap(log - STEP)) / (2.0 * STEP));
    let found = bracketed_newton("diameter for a flow", residual, low.ln(), high.ln(), 0.5 * (low.ln() + high.ln()))?;
    Ok(Length::from_metres(found.exp()))
}
