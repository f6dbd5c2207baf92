//! Pressure drop of a drilled passage, in SI units: what [`super::passage`] and the circuit share.

use std::f64::consts::PI;

use crate::error::Error;
use crate::solve::bracketed_newton;

/// Entry and exit of a passage between two wide spaces, together, in units of the dynamic pressure: turbulent; laminar, where the
/// profile takes its shape and leaves with twice the energy.
pub(crate) const END_LOSS: [f64; 2] = [1.5, 2.28];

/// Reynolds numbers between which the loss of the ends changes over. It falls slower than the square of the speed rises, so
/// that the drop always rises with the flow.
pub(crate) const CHANGE_OVER: [f64; 2] = [2000.0, 4000.0];

/// Two constants of a square drilled turn: K = K1/Re + K2.
pub(crate) const BEND_LOSS: [f64; 2] = [1000.0, 1.15];

/// Below this Reynolds number Churchill's factor is 64/Re to the thirteenth digit.
const SURELY_LAMINAR: f64 = 1000.0;

/// A passage and the oil in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Passage {
    pub(crate) diameter: f64,
    /// May be zero: then only the losses are left.
    pub(crate) length: f64,
    /// Height of the wall's roughness.
    pub(crate) roughness: f64,
    /// Whether it begins and ends in wide spaces.
    pub(crate) open_ends: bool,
    /// Square turns.
    pub(crate) bends: f64,
    /// Sum of other loss coefficients.
    pub(crate) loss_coefficient: f64,
}

/// Density in kg/m3 and dynamic viscosity in Pa s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Fluid {
    pub(crate) density: f64,
    pub(crate) viscosity: f64,
}

/// Pressure drop at a flow, by cause, and how it grows.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Drop {
    pub(crate) friction: f64,
    pub(crate) ends: f64,
    pub(crate) bends: f64,
    pub(crate) other: f64,
    /// d(drop)/d(flow) of the whole; always above zero.
    pub(crate) slope: f64,
}

impl Drop {
    pub(crate) fn total(&self) -> f64 {
        self.friction + self.ends + self.bends + self.other
    }
}

impl Passage {
    /// Reynolds number at a flow.
    pub(crate) fn reynolds(&self, fluid: Fluid, flow: f64) -> f64 {
        4.0 * fluid.density * flow.abs() / (PI * self.diameter * fluid.viscosity)
    }

    /// The drop at a flow; odd in the flow.
    pub(crate) fn drop(&self, fluid: Fluid, flow: f64) -> Drop {
        // With v = mu Re/(rho d), every term is k(Re) Re^2 times one scale of pressure; the laminar parts are linear in Re.
        let reynolds = self.reynolds(fluid, flow);
        let scale = fluid.viscosity * fluid.viscosity / (2.0 * fluid.density * self.diameter * self.diameter);
        let (factor, factor_slope) = friction_times_reynolds(reynolds, self.roughness / self.diameter);
        let slender = self.length / self.diameter;
        let (ends, ends_slope) = if self.open_ends { end_loss(reynolds) } else { (0.0, 0.0) };
        let [linear, square] = BEND_LOSS.map(|k| k * self.bends);
        let signed = scale * reynolds.copysign(flow);
        let by_reynolds = slender * (factor + reynolds * factor_slope)
            + linear
            + reynolds * (2.0 * (ends + square + self.loss_coefficient) + reynolds * ends_slope);
        Drop {
            friction: signed * slender * factor,
            ends: signed * reynolds * ends,
            bends: signed * (linear + reynolds * square),
            other: signed * reynolds * self.loss_coefficient,
            slope: scale * by_reynolds * 4.0 * fluid.density / (PI * self.diameter * fluid.viscosity),
        }
    }

    /// The flow at a drop, and d(flow)/d(drop); odd in the drop. `guess` is a flow to begin with, zero for none.
    pub(crate) fn flow(&self, fluid: Fluid, drop: f64, guess: f64) -> Result<(f64, f64), Error> {
        let at_rest = self.drop(fluid, 0.0).slope;
        if drop == 0.0 {
            return Ok((0.0, 1.0 / at_rest));
        }
        // No passage lets more through than one that stayed as it is at rest, nor than its losses alone would.
        let wanted = drop.abs();
        let most = (1.0 + 1e-9) * (wanted / at_rest).min(self.inertial_flow(fluid, wanted));
        let balance = |flow: f64| {
            let found = self.drop(fluid, flow);
            (found.total() - wanted, found.slope)
        };
        let start = if guess == 0.0 { most } else { guess.abs() };
        let flow = bracketed_newton("flow of a passage", balance, 0.0, most, start)?;
        Ok((flow.copysign(drop), 1.0 / self.drop(fluid, flow).slope))
    }

    /// What the constant part of the losses would let through.
    fn inertial_flow(&self, fluid: Fluid, drop: f64) -> f64 {
        let ends = if self.open_ends { END_LOSS[0] } else { 0.0 };
        let losses = ends + self.bends * BEND_LOSS[1] + self.loss_coefficient;
        if losses == 0.0 {
            return f64::INFINITY;
        }
        PI / 4.0 * self.diameter * self.diameter * (2.0 * drop / (fluid.density * losses)).sqrt()
    }
}

/// Churchill's friction factor (Darcy's, four times Fanning's) times Re, and d(factor Re)/dRe.
fn friction_times_reynolds(reynolds: f64, roughness: f64) -> (f64, f64) {
    if reynolds < SURELY_LAMINAR {
        return (64.0, 0.0);
    }
    let (factor, slope) = churchill(reynolds, roughness);
    (factor * reynolds, factor + reynolds * slope)
}

/// Darcy's friction factor: 64/Re as long as that is exact, Churchill's equation from there.
pub(crate) fn friction_factor(reynolds: f64, roughness: f64) -> f64 {
    if reynolds < SURELY_LAMINAR { 64.0 / reynolds } else { churchill(reynolds, roughness).0 }
}

/// f = 8 [(8/Re)^12 + (A + B)^-1.5]^(1/12), A = {2.457 ln 1/[(7/Re)^0.9 + 0.27 e/d]}^16, B = (37530/Re)^16, and its slope.
fn churchill(reynolds: f64, roughness: f64) -> (f64, f64) {
    // Roots and one logarithm instead of powers, which a network would wait for.
    let log = 0.9 * (7.0 / reynolds).ln();
    let (share, root) = if roughness > 0.0 {
        let viscous = log.exp();
        let inside = viscous + 0.27 * roughness;
        (viscous / inside, -2.457 * inside.ln())
    } else {
        (1.0, -2.457 * log)
    };
    let rough = root.powi(16);
    let between = (37530.0 / reynolds).powi(16);
    let laminar = (8.0 / reynolds).powi(12);
    let turbulent = 1.0 / ((rough + between) * (rough + between).sqrt());
    let sum = laminar + turbulent;
    let factor = 8.0 * (sum.ln() / 12.0).exp();
    let rough_slope = 16.0 * rough / root * (2.457 * 0.9 * share);
    let turbulent_slope = -1.5 * turbulent / (rough + between) * (rough_slope - 16.0 * between);
    let slope = factor / 12.0 * (turbulent_slope - 12.0 * laminar) / (sum * reynolds);
    (factor, slope)
}

/// Loss of the two ends, and its slope by Reynolds number: a smooth step in the logarithm of Re.
fn end_loss(reynolds: f64) -> (f64, f64) {
    let [turbulent, laminar] = END_LOSS;
    let [from, to] = CHANGE_OVER;
    if reynolds <= from {
        return (laminar, 0.0);
    }
    if reynolds >= to {
        return (turbulent, 0.0);
    }
    let width = (to / from).ln();
    let t = (reynolds / from).ln() / width;
    let step = t * t * (3.0 - 2.0 * t);
    let slope = 6.0 * t * (1.0 - t) / (width * reynolds);
    (laminar + (turbulent - laminar) * step, (turbulent - laminar) * slope)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn passages() -> impl Strategy<Value = Passage> {
        (0.5e-3..0.03, 0.0..400.0, 0.0..0.02, any::<bool>(), 0..6, 0.0..5.0).prop_map(
            |(diameter, slender, roughness, open_ends, bends, other)| Passage {
                diameter,
                length: (1.0 + slender) * diameter,
                roughness: roughness * diameter,
                open_ends,
                bends: f64::from(bends),
                loss_coefficient: other,
            },
        )
    }

    fn fluids() -> impl Strategy<Value = Fluid> {
        (700.0..1000.0, -3.0..1.0).prop_map(|(density, exponent)| Fluid { density, viscosity: 10_f64.powf(exponent) })
    }

    /// The flow that has a Reynolds number.
    fn flow_at(passage: &Passage, fluid: Fluid, reynolds: f64) -> f64 {
        reynolds * PI * passage.diameter * fluid.viscosity / (4.0 * fluid.density)
    }

    proptest! {
        #[test]
        fn the_drop_rises_with_the_flow_and_its_slope_is_its_slope(passage in passages(), fluid in fluids(), exponent in -3.0..6.0) {
            let flow = flow_at(&passage, fluid, 10_f64.powf(exponent));
            let near = |share: f64| passage.drop(fluid, share * flow).total();
            let here = passage.drop(fluid, flow);
            prop_assert!(here.slope > 0.0);
            let difference = (near(1.0 + 1e-5) - near(1.0 - 1e-5)) / (2e-5 * flow);
            prop_assert!((here.slope / difference - 1.0).abs() < 1e-5, "{} {difference}", here.slope);
        }

        #[test]
        fn flow_and_drop_are_each_others_inverse(passage in passages(), fluid in fluids(), exponent in -3.0..6.0, guess in 0.1..10.0) {
            let flow = flow_at(&passage, fluid, 10_f64.powf(exponent));
            let drop = passage.drop(fluid, flow);
            for start in [0.0, guess * flow] {
                let (back, slope) = passage.flow(fluid, drop.total(), start)?;
                prop_assert!((back / flow - 1.0).abs() < 1e-8, "{back} for {flow}");
                prop_assert!((slope * drop.slope - 1.0).abs() < 1e-5);
            }
        }

        #[test]
        fn everything_is_odd(passage in passages(), fluid in fluids(), drop in 1.0..1e7) {
            let (forth, slope) = passage.flow(fluid, drop, 0.0)?;
            let (back, same) = passage.flow(fluid, -drop, 0.0)?;
            prop_assert_eq!((forth, slope), (-back, same));
            let turned = passage.drop(fluid, -forth);
            prop_assert_eq!(turned.total(), -passage.drop(fluid, forth).total());
        }

        #[test]
        fn slow_flow_between_joined_ends_is_hagen_poiseuille(fluid in fluids(), reynolds in 1e-6..900.0) {
            let passage = Passage { diameter: 0.006, length: 0.3, roughness: 1e-5, open_ends: false, bends: 0.0, loss_coefficient: 0.0 };
            let flow = flow_at(&passage, fluid, reynolds);
            let poiseuille = 128.0 * fluid.viscosity * passage.length * flow / (PI * passage.diameter.powi(4));
            prop_assert!((passage.drop(fluid, flow).total() / poiseuille - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn the_friction_factor_has_no_step_where_churchill_takes_over() {
        let before = friction_factor(SURELY_LAMINAR * (1.0 - 1e-15), 0.0);
        assert!((friction_factor(SURELY_LAMINAR, 0.05) / before - 1.0).abs() < 1e-12);
    }
}
