//! One cylinder from intake closing to the end of the burn: pressure, and the gas that has not burnt yet.
//!
//! Why it is modelled so, each choice with what it costs:
//!
//! - Pressure from the first law over the whole gas as one zone. The gas's heat capacity is that of the trapped mixture (air and
//!   fuel vapour), unchanged by burning: between 300 and 2500 K its ratio of heat capacities falls from 1.35 to 1.22, close to
//!   that of burnt gas, whose own composition and dissociation would need an equilibrium solver.
//! - The burn by Wiebe's function, starting at the spark: the slow start of its curve stands for the delay of the flame.
//! - The heat that burning gives is the fuel's heating value, limited by the air at hand, less one share for what is lost to walls
//!   and crevices and left unburnt. The share is spread evenly over the burn instead of following a heat-transfer law.
//! - The unburnt gas is pressed together by the burning gas without exchanging heat, so that it follows dT/T = (R/cp) dp/p.
//! - Knock, when the sum of time divided by ignition delay reaches one before the burn ends (Livengood and Wu). To the end, for the
//!   last gas burns last; by then little gas is left to knock, which makes the answer cautious.

use crate::geometry::slider_crank::SliderCrank;
use crate::solve::runge_kutta;

use super::gas::Gas;

/// Largest step over the crank circle (degrees).
const STEP_DEGREES: f64 = 0.5;

/// Ignition delay by Douaud and Eyzat: tau = 17.68 ms (ON/100)^3.402 p^-1.7 exp(3800 K/T), p in atmospheres (from memory).
const DELAY_SECONDS: f64 = 17.68e-3;
const OCTANE_EXPONENT: f64 = 3.402;
const PRESSURE_EXPONENT: f64 = 1.7;
const ACTIVATION_KELVINS: f64 = 3800.0;
const ATMOSPHERE: f64 = 101_325.0;

/// The cylinder: volumes in clearance volumes, so that the bore does not matter.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cylinder {
    train: SliderCrank,
    /// Clearance volumes per metre of travel.
    scale: f64,
    /// Degrees after the top centre of the firing stroke.
    closing: f64,
    at_closing: f64,
}

impl Cylinder {
    pub(crate) fn new(train: SliderCrank, static_ratio: f64, closing: f64) -> Self {
        let scale = (static_ratio - 1.0) / train.actual_stroke();
        let at_closing = 1.0 + scale * train.travel(closing.to_radians());
        Self { train, scale, closing, at_closing }
    }

    /// Volume and its slope per degree.
    fn volume(&self, degrees: f64) -> (f64, f64) {
        let (travel, slope) = self.train.travel_and_slope(degrees.to_radians());
        (1.0 + self.scale * travel, self.scale * slope.to_radians())
    }
}

/// All that the burn needs; angles in degrees after the top centre of the firing stroke.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Burn {
    pub(crate) cylinder: Cylinder,
    pub(crate) spark: f64,
    pub(crate) duration: f64,
    pub(crate) wiebe_factor: f64,
    pub(crate) wiebe_form: f64,
    pub(crate) gas: Gas,
    /// Pascals.
    pub(crate) trapped_pressure: f64,
    /// Kelvins.
    pub(crate) trapped_temperature: f64,
    /// Joules per kilogram of charge that burning gives to the gas.
    pub(crate) heat: f64,
}

/// The gas at one crank angle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Moment {
    pub(crate) degrees: f64,
    pub(crate) pressure: f64,
    pub(crate) unburned_kelvins: f64,
    /// Integral of degrees over the ignition delay of octane number 100, in degrees per second.
    pub(crate) exposure: f64,
}

impl Burn {
    /// From closing to the end of the burn; `observe` sees every step. The last moment is given back.
    pub(crate) fn run(&self, mut observe: impl FnMut(&Moment)) -> Moment {
        let end = self.spark + self.duration;
        let mut last = [self.trapped_pressure, self.trapped_temperature, 0.0];
        observe(&moment(self.cylinder.closing, &last));
        // The burn's rate has a kink at the spark: the integration stops there and starts again.
        for [from, to] in [[self.cylinder.closing, self.spark], [self.spark, end]] {
            let steps = ((to - from) / STEP_DEGREES).ceil() as u32;
            let slopes = |degrees, state: &[f64; 3]| self.slopes(degrees, state);
            last = runge_kutta(slopes, [from, to], last, steps, |degrees, state| observe(&moment(degrees, state)));
        }
        moment(end, &last)
    }

    /// dp, dT of the unburnt gas and d(exposure) per degree.
    ///
    /// First law: V dp = (gamma - 1) dQ - gamma p dV with gamma at the mean temperature T = T1 p V/(p1 V1).
    fn slopes(&self, degrees: f64, [pressure, unburned, _]: &[f64; 3]) -> [f64; 3] {
        let (volume, volume_slope) = self.cylinder.volume(degrees);
        let heat_capacity = self.gas.heat_capacity(self.mean_temperature(*pressure, volume));
        let gamma = heat_capacity / (heat_capacity - 1.0);
        let heat = self.total_heat() * self.burn_rate(degrees);
        let rise = ((gamma - 1.0) * heat - gamma * pressure * volume_slope) / volume;
        let warming = unburned * rise / pressure / self.gas.heat_capacity(*unburned);
        let delay =
            DELAY_SECONDS * (pressure / ATMOSPHERE).powf(-PRESSURE_EXPONENT) * (ACTIVATION_KELVINS / unburned).exp();
        [rise, warming, 1.0 / delay]
    }

    fn mean_temperature(&self, pressure: f64, volume: f64) -> f64 {
        self.trapped_temperature * pressure * volume / (self.trapped_pressure * self.cylinder.at_closing)
    }

    /// Mean temperature of the whole gas at a moment (K).
    pub(crate) fn gas_kelvins(&self, moment: &Moment) -> f64 {
        self.mean_temperature(moment.pressure, self.cylinder.volume(moment.degrees).0)
    }

    /// Heat of the whole charge, in joules per cubic metre of clearance volume.
    fn total_heat(&self) -> f64 {
        let mass =
            self.trapped_pressure * self.cylinder.at_closing / (self.gas.gas_constant() * self.trapped_temperature);
        mass * self.heat
    }

    /// Wiebe's burnt share: 1 - exp(-a z^(m + 1)), z = (angle - spark)/duration.
    pub(crate) fn burned_share(&self, degrees: f64) -> f64 {
        let z = ((degrees - self.spark) / self.duration).clamp(0.0, 1.0);
        1.0 - (-self.wiebe_factor * z.powf(self.wiebe_form + 1.0)).exp()
    }

    /// Its slope per degree; nothing burns before the spark or after the duration.
    fn burn_rate(&self, degrees: f64) -> f64 {
        let z = (degrees - self.spark) / self.duration;
        // The end itself may come out a rounding above one.
        if z <= 0.0 || z > 1.0 + 1e-9 {
            return 0.0;
        }
        let (a, m) = (self.wiebe_factor, self.wiebe_form);
        let power = z.powf(m);
        a * (m + 1.0) / self.duration * power * (-a * power * z).exp()
    }
}

fn moment(degrees: f64, [pressure, unburned_kelvins, exposure]: &[f64; 3]) -> Moment {
    Moment { degrees, pressure: *pressure, unburned_kelvins: *unburned_kelvins, exposure: *exposure }
}

/// The octane number whose delay integral is one: the integral falls with (ON/100)^3.402, so that it is found without search.
pub(crate) fn octane_number(exposure: f64, degrees_per_second: f64) -> f64 {
    100.0 * (exposure / degrees_per_second).powf(1.0 / OCTANE_EXPONENT)
}
