//! The whole oil circuit: pressures, flows and shares at any speed and temperature.

use crate::caution::Caution;
use crate::error::Error;
use crate::method::Method;
use crate::oil::OilInput;
use crate::units::{
    Density, DynamicViscosity, Flow, Length, Pressure, Ratio, RotationalSpeed, Speed, Temperature, Volume,
};

mod cautions;
mod element;
mod gap;
mod law;
mod pipe;
mod plan;
mod report;
mod rules;
mod size;
mod study;
mod study_rules;
#[cfg(test)]
mod tests;

pub use element::{BearingFeed, Element, Group, Kind, Number};
pub use law::Opening;
pub use rules::{MOST_ALIKE, MOST_ELEMENTS, MOST_NODES};
pub use study::Study;
pub use study_rules::{MOST_POINTS, MOST_WATCHED, MOST_WORK};

/// How [`evaluate`] works.
pub const METHOD: Method = Method {
    id: "oil-circuit",
    title: "Steady flow in an oil circuit",
    equation: "At every node of unknown pressure what flows in flows out. Pump: V i n - k p/mu, V displacement, i drive ratio, n \
         speed, k from the slip given. Relief valve: 0 below its opening pressure, then rising in a line through its rated flow, \
         never more than 0.61 A sqrt(2 dp/rho) of its port. Filter, cooler: rated flow dp/rated drop times rated mu/mu, and a \
         bypass like the relief valve. Passage: dp = (f l/d + K) rho v^2/2, f after Churchill. Restrictor, jet: the restrictor law. \
         Annulus: pi D c^3 dp (1 + 1.5 e^2)/(12 mu l), c radial clearance. Journal bearing: pi r c^3 dp (1 + 1.5 e^2)/(3 mu l'), \
         l' the land on each side of a full groove. Rotating drilling: a passage with the head rho w^2 (r2^2 - r1^2)/2. Newton's \
         method on the nodes; a step that overshoots is shortened.",
    valid_for: "Steady flow of oil without air, one temperature for the whole circuit (bearings add a rise of their own), elements \
         whose flow rises with the drop. No pulsation, no warming along the way. Rod bearings are fed through the main bearing's \
         groove as if it were full. The answer tells what is left at the worst node.",
    sources: &[
        "E. Todini and S. Pilati, A gradient algorithm for the analysis of pipe networks, in Computer Applications in Water Supply, 1988 \
         (Newton's method on node balances; from memory)",
        "S. W. Churchill, Chem. Eng. 84, 24 (1977) 91 (friction factor)",
        "R. G. Budynas and J. K. Nisbett, Shigley's Mechanical Engineering Design, section on pressure-fed bearings (annulus and \
         grooved bearing)",
        "First principles (a column of oil that turns)",
    ],
};

/// A circuit and how it runs.
#[derive(Debug, Clone, PartialEq)]
pub struct CircuitInput {
    /// Which oil.
    pub oil: OilInput,
    /// Of the oil in the whole circuit.
    pub oil_temperature: Temperature,
    /// Of the crankshaft.
    pub engine_speed: RotationalSpeed,
    /// Places that have one pressure.
    pub nodes: Vec<Node>,
    /// What joins them.
    pub elements: Vec<Element>,
    /// What pressure is wanted where.
    pub pressure_rule: Option<PressureRule>,
    /// Velocity that passages should not pass.
    pub velocity_limit: Option<Speed>,
    /// Nodes whose pressures are wanted in sweep and map.
    pub watch: Vec<String>,
    /// One number over several values.
    pub sweep: Option<Sweep>,
    /// Speeds times temperatures.
    pub map: Option<OperatingMap>,
    /// The diameter that gives a wanted flow, share or pressure.
    pub size: Option<Size>,
}

/// A place that has one pressure.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// What it is called.
    pub name: String,
    /// Gauge pressure that is known, such as the sump's; found when not given.
    pub pressure: Option<Pressure>,
}

/// What pressure is wanted where: the larger of both when both are given.
#[derive(Debug, Clone, PartialEq)]
pub struct PressureRule {
    /// The node, such as the farthest main bearing.
    pub node: String,
    /// Pressure for every 1,000 rev/min.
    pub per_thousand_revolutions: Option<Pressure>,
    /// Pressure at any speed.
    pub least: Option<Pressure>,
}

/// One number of one element over several values.
#[derive(Debug, Clone, PartialEq)]
pub struct Sweep {
    /// Name of the element.
    pub element: String,
    /// Which of its numbers.
    pub number: Number,
    /// The values.
    pub values: Values,
}

/// Values of one kind: one of the lists.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Values {
    /// Lengths.
    pub lengths: Option<Vec<Length>>,
    /// Pressures.
    pub pressures: Option<Vec<Pressure>>,
    /// Flows.
    pub flows: Option<Vec<Flow>>,
    /// Volumes.
    pub volumes: Option<Vec<Volume>>,
    /// Viscosities.
    pub viscosities: Option<Vec<DynamicViscosity>>,
    /// Plain numbers.
    pub ratios: Option<Vec<Ratio>>,
}

/// Speeds times temperatures.
#[derive(Debug, Clone, PartialEq)]
pub struct OperatingMap {
    /// Speeds of the crankshaft.
    pub engine_speeds: Vec<RotationalSpeed>,
    /// Temperatures of the oil.
    pub oil_temperatures: Vec<Temperature>,
}

/// The diameter of one element that gives one of flow, share and pressure.
#[derive(Debug, Clone, PartialEq)]
pub struct Size {
    /// Name of the element whose diameter is sought.
    pub element: String,
    /// Smallest diameter that may be.
    pub smallest: Length,
    /// Largest diameter that may be.
    pub largest: Length,
    /// Name of the element whose flow or share is wanted, or of the node whose pressure is.
    pub at: String,
    /// Flow wanted, all side by side.
    pub flow: Option<Flow>,
    /// Share of the supply wanted.
    pub share: Option<Ratio>,
    /// Pressure wanted.
    pub pressure: Option<Pressure>,
}

/// The balanced circuit.
#[derive(Debug, Clone, PartialEq)]
pub struct Circuit {
    /// Of the oil in the circuit.
    pub viscosity: DynamicViscosity,
    /// Of the oil in the circuit.
    pub density: Density,
    /// Gauge pressures in the order of the nodes.
    pub pressures: Vec<Pressure>,
    /// In the order given.
    pub elements: Vec<ElementFound>,
    /// The operating point as a whole.
    pub point: Point,
    /// What the worst node gains or loses.
    pub residual: Flow,
    /// The same as a share of the supply.
    pub residual_share: f64,
    /// Newton steps taken.
    pub steps: u32,
    /// In the order of the sweep's values.
    pub sweep: Vec<Point>,
    /// For each temperature in order, all speeds in order.
    pub map: Vec<Point>,
    /// The diameter found.
    pub size: Option<SizeFound>,
    /// What to look at twice.
    pub cautions: Vec<Caution>,
}

/// One element in the balanced circuit.
#[derive(Debug, Clone, PartialEq)]
pub struct ElementFound {
    /// From its first to its second node, all side by side.
    pub flow: Flow,
    /// The flow as a share of the supply.
    pub share: f64,
    /// Pressure at its first node less that at its second.
    pub drop: Pressure,
    /// Of the mean velocity, where it has a round or an annular section.
    pub reynolds: Option<f64>,
    /// Mean velocity in that section.
    pub velocity: Option<Speed>,
    /// State of a relief or bypass valve.
    pub opening: Option<Opening>,
    /// What of the flow goes through the bypass.
    pub bypass_flow: Option<Flow>,
    /// Pressure at the innermost point of a rotating drilling.
    pub inner_pressure: Option<Pressure>,
}

/// One operating point as a whole.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Speed of the crankshaft.
    pub engine_speed: RotationalSpeed,
    /// Temperature of the oil.
    pub oil_temperature: Temperature,
    /// What the pumps deliver; without a pump, what comes from the nodes of known pressure.
    pub supply: Flow,
    /// What goes through relief valves.
    pub relief: Flow,
    /// State of the relief valve that is open farthest.
    pub opening: Option<Opening>,
    /// What each group's elements take that end in a node of known pressure: bottom end, top end, other.
    pub groups: [Flow; 3],
    /// Pressure at the rule's node, and what the rule wants there.
    pub rule: Option<[Pressure; 2]>,
    /// Pressures of the watched nodes.
    pub watched: Vec<Pressure>,
    /// Flow through the element that is swept.
    pub swept: Option<Flow>,
}

impl Point {
    /// The groups' flows as shares of the supply; none of nothing.
    #[must_use]
    pub fn shares(&self) -> [f64; 3] {
        let supply = self.supply.cubic_metres_per_second();
        self.groups.map(|flow| if supply == 0.0 { 0.0 } else { flow.cubic_metres_per_second() / supply })
    }
}

/// A diameter that was sought.
#[derive(Debug, Clone, PartialEq)]
pub struct SizeFound {
    /// The diameter.
    pub diameter: Length,
    /// The circuit with it.
    pub point: Point,
    /// Flow through the element with it.
    pub flow: Flow,
}

/// The balance of a circuit at an operating point, with sweep, map and a sought diameter where they are asked for.
///
/// **Equation** Sum of flows at every node of unknown pressure = 0, each flow by its element's law
///
/// **Shape** 2 to 1,000 nodes, 1 to 1,000 elements; sweep and map bounded by [`MOST_POINTS`] and [`MOST_WORK`].
///
/// **Units** Any; pressures are gauge pressures.
///
/// **Valid for** Steady flow of oil without air at one temperature; the range of each element's law.
///
/// **Errors** [`Error::Invalid`] with every field that is out of range, missing or of no use, and with every rule that is
/// broken; [`Error::NoSolution`] when no balance is found, with what was left, or when it would need a pressure that no oil
/// can have, or when no diameter gives what is wanted.
///
/// **Source** Todini and Pilati, 1988; those of the single laws.
pub fn evaluate(input: &CircuitInput) -> Result<Circuit, Error> {
    let mut study = Study::new(input)?;
    let (residual, steps) = study.balance(input.engine_speed, input.oil_temperature)?;
    let (pressures, elements) = (study.pressures(), study.elements());
    let point = study.point();
    let cautions = cautions::cautions(input, &study, &elements, &point);
    let state = study.state();
    let supply = point.supply.cubic_metres_per_second().abs();
    Ok(Circuit {
        viscosity: state.dynamic_viscosity,
        density: state.density,
        pressures,
        elements,
        residual_share: if supply > 0.0 { residual.cubic_metres_per_second() / supply } else { 0.0 },
        residual,
        steps,
        point,
        sweep: study.sweep()?,
        map: study.map()?,
        size: study.size()?,
        cautions,
    })
}
