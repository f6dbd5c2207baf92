//! What each element lets through at an operating point.

use std::f64::consts::PI;

use crate::network::{Law, Through};
use crate::oil::OilLaw;
use crate::oil::passage_law::{Fluid, Passage};
use crate::oil::restrictor_law::Hole;
use crate::units::{Length, Pressure, Quantity, Ratio, RotationalSpeed, Temperature};

use super::element::{Element, Kind};
use super::gap;
use super::pipe::Pipe;

/// What all elements of a circuit share at one operating point.
#[derive(Debug, Clone, Copy)]
pub(super) struct Running {
    /// Dynamic viscosity, Pa s.
    pub(super) viscosity: f64,
    /// Density, kg/m3.
    pub(super) density: f64,
    /// Of the crankshaft, rad/s.
    pub(super) speed: f64,
    /// The oil, for films that are warmer.
    oil: OilLaw,
    /// K.
    temperature: f64,
}

impl Running {
    pub(super) fn new(oil: OilLaw, temperature: Temperature, speed: RotationalSpeed) -> Self {
        let state = oil.state(temperature);
        Self {
            viscosity: state.dynamic_viscosity.pascal_seconds(),
            density: state.density.kilograms_per_cubic_metre(),
            speed: speed.radians_per_second(),
            oil,
            temperature: temperature.kelvins(),
        }
    }

    /// Dynamic viscosity of oil that is warmer by so many kelvins.
    fn warmer(&self, kelvins: f64) -> f64 {
        if kelvins == 0.0 {
            return self.viscosity;
        }
        self.oil.state(Temperature::from_kelvins(self.temperature + kelvins)).dynamic_viscosity.pascal_seconds()
    }
}

/// One element at one operating point, all that stand side by side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ElementLaw {
    count: f64,
    one: One,
}

/// One of them.
#[derive(Debug, Clone, Copy, PartialEq)]
enum One {
    /// Flow at no drop, and what a drop adds.
    Linear { free: f64, slope: f64 },
    /// Opens at a drop; wide open it is a sharp-edged port: flow over the root of the drop.
    Relief { opens: f64, slope: f64, port: f64 },
    /// Filter or cooler with its bypass.
    Bypassed { slope: f64, opens: f64, bypass: f64 },
    /// Passage, with a head of its own when it turns.
    Pipe { pipe: Pipe, head: f64 },
    /// Short hole.
    Hole { hole: Hole, viscosity: f64, density: f64 },
}

/// Discharge coefficient of a relief valve's port that is wide open: a sharp edge at high Reynolds number.
const PORT_COEFFICIENT: f64 = 0.61;
/// A shut valve's share of its open slope in the matrix: it lets nothing through, but Newton's step must know that it can.
const SHUT: f64 = 1e-6;

/// Drop along a hole, as a first guess (Pa).
const USUAL_DROP: f64 = 1e5;

impl ElementLaw {
    /// The law of an element that was checked.
    pub(super) fn new(element: &Element, running: &Running) -> Self {
        Self { count: f64::from(element.count), one: one(element, running) }
    }

    /// Whether a relief valve or a bypass lets oil through at a drop, and whether a relief valve is wide open.
    pub(super) fn opening(&self, drop: f64) -> Option<Opening> {
        match self.one {
            One::Relief { opens, slope, port } if drop > opens => {
                let wide = port > 0.0 && slope * (drop - opens) > port * drop.sqrt();
                Some(if wide { Opening::WideOpen } else { Opening::Open })
            }
            One::Bypassed { opens, bypass, .. } if bypass > 0.0 && drop > opens => Some(Opening::Open),
            One::Relief { .. } => Some(Opening::Shut),
            One::Bypassed { bypass, .. } if bypass > 0.0 => Some(Opening::Shut),
            _ => None,
        }
    }

    /// What of the flow goes through the bypass, all side by side.
    pub(super) fn bypassed(&self, drop: f64) -> f64 {
        match self.one {
            One::Bypassed { opens, bypass, .. } if drop > opens => self.count * bypass * (drop - opens),
            _ => 0.0,
        }
    }
}

/// State of a valve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Opening {
    /// Below its opening pressure.
    Shut,
    /// It lets oil through.
    Open,
    /// Its port, no longer its spring, limits the flow.
    WideOpen,
}

impl Law for ElementLaw {
    fn through(&self, drop: f64, expected: Option<f64>) -> Through {
        let one = match &self.one {
            One::Linear { free, slope } => Through::known(free + slope * drop, *slope),
            One::Relief { opens, slope, port } => relief(drop, *opens, *slope, *port),
            One::Bypassed { slope, opens, bypass } if drop > *opens => {
                Through::known(slope * drop + bypass * (drop - opens), slope + bypass)
            }
            One::Bypassed { slope, .. } => Through::known(slope * drop, *slope),
            One::Pipe { pipe, head } => pipe.through(drop + head, expected.map(|flow| flow / self.count)),
            One::Hole { hole, viscosity, density } => {
                // Without a drop yet, one straight line through a usual one: the creeping slope would promise far too much.
                let straight = expected.is_none() && drop.abs() < USUAL_DROP;
                match hole.flow(if straight { USUAL_DROP } else { drop }, *viscosity, *density) {
                    Ok(found) if straight => {
                        let slope = found.value / USUAL_DROP;
                        Through { flow: slope * drop, slope, settled: false }
                    }
                    Ok(found) => Through::known(found.value, found.slope),
                    // The solver stops at what is not a number, and reports it.
                    Err(_) => Through::known(f64::NAN, f64::NAN),
                }
            }
        };
        Through { flow: self.count * one.flow, slope: self.count * one.slope, settled: one.settled }
    }
}

fn relief(drop: f64, opens: f64, slope: f64, port: f64) -> Through {
    if drop <= opens {
        return Through::known(0.0, SHUT * slope);
    }
    let spring = slope * (drop - opens);
    let wide = port * drop.sqrt();
    if port > 0.0 && spring > wide { Through::known(wide, 0.5 * wide / drop) } else { Through::known(spring, slope) }
}

fn one(element: &Element, running: &Running) -> One {
    let length = |value: Option<Length>| value.map_or(0.0, |value| value.metres());
    let pressure = |value: Option<Pressure>| value.map_or(0.0, |value| value.pascals());
    let plain = |value: Option<Ratio>| value.map_or(0.0, |value| value.plain());
    let (diameter, along) = (length(element.diameter), length(element.length));
    let pipe = || {
        let passage = Passage {
            diameter,
            length: along,
            roughness: length(element.roughness),
            open_ends: false,
            bends: plain(element.bends),
            loss_coefficient: plain(element.loss_coefficient),
        };
        Pipe::new(passage, Fluid { density: running.density, viscosity: running.viscosity })
    };
    match element.kind {
        Kind::Pump => pump(element, running),
        Kind::ReliefValve => {
            let area = 0.25 * PI * diameter * diameter;
            One::Relief {
                opens: pressure(element.opening_pressure),
                slope: spring(element.rated_flow.map(Quantity::si), element.rated_pressure, element.opening_pressure),
                port: PORT_COEFFICIENT * area * (2.0 / running.density).sqrt(),
            }
        }
        Kind::Filter | Kind::Cooler => {
            let viscosity = element.rated_viscosity.map_or(running.viscosity, |value| value.pascal_seconds());
            let rated = element.rated_flow.map_or(0.0, |value| value.cubic_metres_per_second());
            let opens = element.bypass_opening_pressure;
            One::Bypassed {
                slope: rated / pressure(element.rated_pressure) * viscosity / running.viscosity,
                opens: opens.map_or(f64::INFINITY, |opens| opens.pascals()),
                bypass: spring(element.bypass_rated_flow.map(Quantity::si), element.bypass_rated_pressure, opens),
            }
        }
        Kind::Passage => One::Pipe { pipe: pipe(), head: 0.0 },
        Kind::RotatingDrilling => {
            let (entry, exit) = (length(element.entry_radius), length(element.exit_radius));
            One::Pipe { pipe: pipe(), head: centrifugal(running, entry, exit) }
        }
        Kind::Restrictor | Kind::Jet => One::Hole {
            hole: Hole::new(diameter, along, element.discharge_coefficient.map(Quantity::si)),
            viscosity: running.viscosity / running.density,
            density: running.density,
        },
        Kind::Annulus => One::Linear { free: 0.0, slope: gap::annulus(element, running.viscosity) },
        Kind::JournalBearing => {
            let rise = element.film_temperature_rise.map_or(0.0, |rise| rise.kelvin_steps());
            One::Linear { free: 0.0, slope: gap::bearing(element, running.warmer(rise)) }
        }
        Kind::FixedConsumer => {
            One::Linear { free: element.flow.map_or(0.0, |value| value.cubic_metres_per_second()), slope: 0.0 }
        }
    }
}

/// Displacement times speed, less what slips back: in proportion to pressure over viscosity.
fn pump(element: &Element, running: &Running) -> One {
    let displacement = element.displacement.map_or(0.0, |volume| volume.cubic_metres());
    let ratio = element.drive_ratio.map_or(1.0, |ratio| ratio.plain());
    let slip = match (element.slip_flow, element.slip_pressure, element.slip_viscosity) {
        (Some(flow), Some(pressure), Some(viscosity)) => {
            flow.cubic_metres_per_second() / pressure.pascals() * viscosity.pascal_seconds() / running.viscosity
        }
        _ => 0.0,
    };
    One::Linear { free: displacement * ratio * running.speed / (2.0 * PI), slope: slip }
}

/// Flow per pressure above the opening pressure.
fn spring(flow: Option<f64>, rated: Option<Pressure>, opens: Option<Pressure>) -> f64 {
    match (flow, rated, opens) {
        (Some(flow), Some(rated), Some(opens)) => flow / (rated.pascals() - opens.pascals()),
        _ => 0.0,
    }
}

/// What turning adds to the pressure between two radii.
pub(super) fn centrifugal(running: &Running, inner: f64, outer: f64) -> f64 {
    0.5 * running.density * running.speed * running.speed * (outer * outer - inner * inner)
}
