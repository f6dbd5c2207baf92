//! The law of a drilled restrictor: what one hole lets through, and how that changes with pressure.

use std::f64::consts::PI;

use crate::error::Error;
use crate::method::Method;
use crate::solve::bracketed_newton;
use crate::units::{Flow, Length, Pressure, Ratio};

use super::law::OilState;

/// How a drilled hole restricts.
pub const METHOD: Method = Method {
    id: "restrictor-flow",
    title: "Flow of oil through a drilled hole",
    equation: "Q = n Cd (pi/4) d^2 sqrt(2 dp/rho); Re = d sqrt(2 dp/rho)/nu, built on the ideal velocity; s = l/d. 1.5 <= s <= 10: Cd \
         = 1/(1/Cdu + 20/Re (1 + 2.25 s) - 0.005 s/(1 + 7.5 (log10(0.00015 Re))^2)), Cdu = 0.827 - 0.0085 s from s = 2 on and \
         0.810 below. s < 1.5: linear in s between the thin plate, Cd = 0.61 (1 + 1.07 e^(-0.126 sqrt Re) - 2.07 e^(-0.246 sqrt \
         Re)), and s = 1.5. s >= 20: dp = rho v^2/2 (K + f s), K = 2.28 laminar, 1.5 turbulent (blended in the logarithm of v d/nu \
         from 2000 to 4000), f after Churchill for a smooth wall, Cd = v/sqrt(2 dp/rho). 10 < s < 20: linear in s \
         between the two. Everywhere Cd <= Re/(12 pi + 64 s), the creeping limit. Chamfered: the given coefficient takes the place of Cdu at any s up to 10, and 1/coefficient^2 that of \
         K = 1.5 above.",
    valid_for: "Straight round holes with sharp edges, or with a coefficient of your own, l/d 0.02 to 200, oil without air. Within 6 \
         percent of an axisymmetric Navier-Stokes solution for l/d from 2 to 10, within 9 percent overall. A burr, a drill that \
         wandered or a rounded edge is worth more than that. Not cavitating: see the flag.",
    sources: &[
        "A. Lichtarowicz, R. K. Duggins and E. Markland, Discharge coefficients for incompressible non-cavitating flow through long \
         orifices, J. Mech. Eng. Sci. 7 (1965) 210",
        "R. A. Sampson, Phil. Trans. R. Soc. A 182 (1891) 449; Z. Dagan, S. Weinbaum and R. Pfeffer, J. Fluid Mech. 115 (1982) 505 \
         (creeping limit)",
        "D. Wu, R. Burton and G. Schoenau, Int. J. Fluid Power 3 (2002) (thin plate)",
        "S. W. Churchill, Chem. Eng. 84, 24 (1977) 91 (friction factor)",
        "W. H. Nurick, J. Fluids Eng. 98 (1976) 681 (cavitating coefficient 0.62 sqrt((p1 - pv)/(p1 - p2)))",
    ],
};

/// The slenderness l/d between which the law is used.
pub(crate) const SLENDERNESS: [f64; 2] = [0.02, 200.0];
/// Within what share of the truth the law is: where one equation rules, and where two are mixed.
const UNCERTAINTY: [f64; 2] = [0.06, 0.09];

/// Below this slenderness the thin plate has a part.
const SHORT: f64 = 1.5;
/// Above this slenderness the law of orifices ends, and from the second on the hole is a pipe.
const LONG: f64 = 10.0;
const PIPE: f64 = 20.0;
/// Reynolds numbers (on the mean velocity) between which flow turns turbulent.
const TRANSITION: [f64; 2] = [2000.0, 4000.0];
/// Entry and exit losses of a long hole: laminar flow loses this much more than turbulent.
const LAMINAR_EXCESS: f64 = 0.78;
const TURBULENT_LOSS: f64 = 1.5;
/// Below this the friction factor is 64 over the Reynolds number to the last bit.
const ALL_LAMINAR: f64 = 100.0;
/// No smooth pipe's turbulent friction factor is above this.
const MOST_FRICTION: f64 = 0.05;

/// Flow through one drilled hole.
///
/// **Equation** Q = Cd (pi/4) d^2 sqrt(2 dp/rho); Cd of l/d and Re = d sqrt(2 dp/rho)/nu
///
/// **Shape** One hole; `edge_coefficient` is that of a chamfered edge, none for a sharp one.
///
/// **Units** Any; the flow has the sign of the pressure difference.
///
/// **Valid for** l/d from 0.02 to 200, oil without air, not cavitating; nothing is checked here.
///
/// **Errors** [`Error::NotConverged`] for a hole longer than ten diameters whose velocity is not found: a fault of ours.
///
/// **Source** Lichtarowicz, Duggins and Markland, J. Mech. Eng. Sci. 7 (1965) 210, and the others of [`METHOD`].
pub fn flow(
    [diameter, length]: [Length; 2],
    edge_coefficient: Option<Ratio>,
    difference: Pressure,
    oil: &OilState,
) -> Result<Flow, Error> {
    let hole = Hole::new(diameter.metres(), length.metres(), edge_coefficient.map(Ratio::plain));
    let viscosity = oil.kinematic_viscosity.square_metres_per_second();
    let found = hole.flow(difference.pascals(), viscosity, oil.density.kilograms_per_cubic_metre())?;
    Ok(Flow::from_cubic_metres_per_second(found.value))
}

/// One hole, made once and asked at any pressure difference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Hole {
    diameter: f64,
    slenderness: f64,
    /// Coefficient given for a chamfered edge.
    given: Option<f64>,
}

/// A value and its slope.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Sloped {
    pub(crate) value: f64,
    pub(crate) slope: f64,
}

/// Reynolds number of the mean velocity, and which law gave it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Reynolds {
    /// On the mean velocity.
    pub(crate) value: f64,
    /// d(value)/d(Reynolds number on the ideal velocity).
    pub(crate) slope: f64,
    /// Whether the creeping limit gave it.
    pub(crate) creeping: bool,
}

impl Hole {
    /// A hole of this diameter and length in metres; `given` is the coefficient of a chamfered edge, none for a sharp one.
    pub(crate) fn new(diameter: f64, length: f64, given: Option<f64>) -> Self {
        Self { diameter, slenderness: length / diameter, given }
    }

    /// Length over diameter.
    pub(crate) fn slenderness(&self) -> f64 {
        self.slenderness
    }

    /// The share within which the law is true.
    pub(crate) fn uncertainty(&self) -> f64 {
        let mixed = self.slenderness < 2.0 || (self.slenderness > LONG && self.slenderness < PIPE);
        UNCERTAINTY[usize::from(mixed)]
    }

    /// Flow in m3/s through one hole and its slope in m3/(s Pa), for a pressure difference in Pa, a kinematic viscosity in m2/s
    /// and a density in kg/m3. The flow has the sign of the difference; at none the slope is the creeping one.
    ///
    /// # Errors
    /// [`Error::NotConverged`] for a hole longer than ten diameters whose velocity is not found: a fault of ours.
    pub(crate) fn flow(&self, difference: f64, viscosity: f64, density: f64) -> Result<Sloped, Error> {
        let squared = 2.0 * self.diameter * self.diameter / (density * viscosity * viscosity);
        let to_flow = 0.25 * PI * self.diameter * viscosity;
        let drop = difference.abs();
        let ideal = (squared * drop).sqrt();
        let found = self.reynolds(ideal)?;
        if found.creeping {
            let slope = to_flow * squared / self.creeping_resistance();
            return Ok(Sloped { value: slope * difference, slope });
        }
        let value = (to_flow * found.value).copysign(difference);
        Ok(Sloped { value, slope: to_flow * found.slope * ideal / (2.0 * drop) })
    }

    /// The Reynolds number of the mean velocity for that of the ideal velocity: the discharge coefficient is their quotient.
    ///
    /// # Errors
    /// As [`Hole::flow`].
    pub(crate) fn reynolds(&self, ideal: f64) -> Result<Reynolds, Error> {
        let resistance = self.creeping_resistance();
        let creeping = Reynolds { value: ideal * ideal / resistance, slope: 2.0 * ideal / resistance, creeping: true };
        if ideal < f64::MIN_POSITIVE {
            return Ok(creeping);
        }
        let free = match self.given {
            _ if self.slenderness > LONG => self.long(ideal)?,
            Some(given) => orifice(ideal, self.slenderness, given),
            None if self.slenderness < SHORT => {
                thin_plate(ideal).mixed(orifice(ideal, SHORT, sharp_coefficient(SHORT)), self.slenderness / SHORT)
            }
            None => orifice(ideal, self.slenderness, sharp_coefficient(self.slenderness)),
        };
        if free.value < creeping.value {
            return Ok(Reynolds { value: free.value, slope: free.slope, creeping: false });
        }
        Ok(creeping)
    }

    /// A hole longer than ten diameters: a pipe, with the orifice's law fading out, so that no length makes a jump.
    fn long(&self, ideal: f64) -> Result<Sloped, Error> {
        let fade = (self.slenderness - LONG) / (PIPE - LONG);
        if fade >= 1.0 {
            return pipe(ideal, self.slenderness, self.given);
        }
        let orifice = orifice(ideal, LONG, self.given.unwrap_or(sharp_coefficient(LONG)));
        Ok(orifice.mixed(pipe(ideal, PIPE, self.given)?, fade))
    }

    /// The square of the ideal Reynolds number over the mean one, in creeping flow.
    fn creeping_resistance(&self) -> f64 {
        12.0 * PI + 64.0 * self.slenderness
    }
}

impl Sloped {
    /// So much of the way to another.
    fn mixed(self, other: Self, weight: f64) -> Self {
        Self {
            value: self.value + weight * (other.value - self.value),
            slope: self.slope + weight * (other.slope - self.slope),
        }
    }
}

/// The coefficient of a sharp-edged hole at high Reynolds number.
fn sharp_coefficient(slenderness: f64) -> f64 {
    if slenderness < 2.0 { 0.810 } else { 0.827 - 0.0085 * slenderness }
}

/// A hole up to ten diameters long, not creeping.
fn orifice(ideal: f64, slenderness: f64, ultimate: f64) -> Sloped {
    let x = (0.000_15 * ideal).log10();
    let viscous = 20.0 * (1.0 + 2.25 * slenderness) / ideal;
    let bell = 1.0 + 7.5 * x * x;
    let hump = 0.005 * slenderness / bell;
    let inverse = 1.0 / ultimate + viscous - hump;
    // Slope of the hump against the natural logarithm of the Reynolds number.
    let hump_slope = -hump * 15.0 * x / (bell * std::f64::consts::LN_10);
    Sloped { value: ideal / inverse, slope: (inverse + viscous + hump_slope) / (inverse * inverse) }
}

/// A pipe: the velocity at which losses and friction use up the pressure difference.
fn pipe(ideal: f64, slenderness: f64, given: Option<f64>) -> Result<Sloped, Error> {
    let turbulent = given.map_or(TURBULENT_LOSS, |given| 1.0 / (given * given));
    let laminar = turbulent + LAMINAR_EXCESS;
    // Positive root of a quadratic: the velocity with constant losses beside laminar friction.
    let root = |losses: f64| {
        let linear = 64.0 * slenderness;
        2.0 * ideal * ideal / (linear + (linear * linear + 4.0 * losses * ideal * ideal).sqrt())
    };
    let smooth = root(laminar);
    if smooth < ALL_LAMINAR {
        let slope = 2.0 * ideal / (2.0 * laminar * smooth + 64.0 * slenderness);
        return Ok(Sloped { value: smooth, slope });
    }
    // The ideal Reynolds number that a mean one needs, less the one there is: nearly straight, so that few steps are taken.
    let residual = |reynolds: f64| {
        let losses = pipe_losses(reynolds, slenderness, turbulent);
        let heads = losses.value.sqrt();
        (reynolds * heads - ideal, heads + 0.5 * reynolds * losses.slope / heads)
    };
    let low = 0.9 * root(laminar + MOST_FRICTION * slenderness);
    let guess = if smooth > TRANSITION[0] { root(turbulent + 0.03 * slenderness) } else { smooth };
    let value = bracketed_newton("velocity in a long hole", residual, low, ideal * (1.0 + 1e-9), guess)?;
    Ok(Sloped { value, slope: 1.0 / residual(value).1 })
}

/// Entry, exit and friction in velocity heads at a Reynolds number of the mean velocity.
fn pipe_losses(reynolds: f64, slenderness: f64, turbulent: f64) -> Sloped {
    let (friction, excess) = (churchill(reynolds), laminar_excess(reynolds));
    Sloped {
        value: turbulent + excess.value + friction.value * slenderness,
        slope: excess.slope + friction.slope * slenderness,
    }
}

/// A plate so thin that the jet does not touch the hole's wall again.
fn thin_plate(ideal: f64) -> Sloped {
    let creeping = Sloped { value: ideal * ideal / (12.0 * PI), slope: ideal / (6.0 * PI) };
    let root = ideal.sqrt();
    let (slow, fast) = (1.07 * (-0.126 * root).exp(), 2.07 * (-0.246 * root).exp());
    let coefficient = 0.61 * (1.0 + slow - fast);
    let plate =
        Sloped { value: ideal * coefficient, slope: coefficient + 0.61 * (0.246 * fast - 0.126 * slow) * 0.5 * root };
    if plate.value < creeping.value { plate } else { creeping }
}

/// What entry and exit lose more in laminar flow; a smooth step in the logarithm of the Reynolds number.
fn laminar_excess(reynolds: f64) -> Sloped {
    let [start, end] = TRANSITION;
    if reynolds <= start {
        return Sloped { value: LAMINAR_EXCESS, slope: 0.0 };
    }
    if reynolds >= end {
        return Sloped { value: 0.0, slope: 0.0 };
    }
    let width = (end / start).ln();
    let x = (reynolds / start).ln() / width;
    Sloped {
        value: LAMINAR_EXCESS * (1.0 - x * x * (3.0 - 2.0 * x)),
        slope: -LAMINAR_EXCESS * 6.0 * x * (1.0 - x) / (width * reynolds),
    }
}

/// Darcy friction factor of a smooth pipe, all regimes: 8 ((8/Re)^12 + (A + B)^-1.5)^(1/12).
fn churchill(reynolds: f64) -> Sloped {
    if reynolds < ALL_LAMINAR {
        return Sloped { value: 64.0 / reynolds, slope: -64.0 / (reynolds * reynolds) };
    }
    let log = 2.457 * 0.9 * (reynolds / 7.0).ln();
    let (turbulent, step) = (log.powi(16), (37_530.0 / reynolds).powi(16));
    let laminar = (8.0 / reynolds).powi(12);
    let sum = turbulent + step;
    let rough = 1.0 / (sum * sum.sqrt());
    let total = laminar + rough;
    let value = 8.0 * total.cbrt().sqrt().sqrt();
    // Each term's growth against the natural logarithm of the Reynolds number.
    let sum_growth = (turbulent * 2.457 * 0.9 / log - step) * 16.0 / sum;
    let growth = (-12.0 * laminar - 1.5 * rough * sum_growth) / total;
    Sloped { value, slope: value * growth / (12.0 * reynolds) }
}

#[cfg(test)]
mod tests;
