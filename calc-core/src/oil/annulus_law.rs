//! Leakage along a thin annular gap, in SI units: what [`super::annulus`] and the circuit share.

use std::f64::consts::PI;

/// A round part in a slightly larger bore.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Annulus {
    /// Diameter of the bore.
    pub(crate) diameter: f64,
    /// Radial clearance when centred.
    pub(crate) radial_clearance: f64,
    /// Length of the gap along the flow.
    pub(crate) length: f64,
    /// Off centre as a share of the radial clearance, 0 to 1.
    pub(crate) eccentricity: f64,
}

impl Annulus {
    /// Flow per pressure drop: pi D c^3 (1 + 1.5 e^2)/(12 mu l).
    pub(crate) fn conductance(&self, viscosity: f64) -> f64 {
        let off_centre = 1.0 + 1.5 * self.eccentricity * self.eccentricity;
        PI * self.diameter * self.radial_clearance.powi(3) * off_centre / (12.0 * viscosity * self.length)
    }

    /// Area of the gap, pi D c.
    pub(crate) fn area(&self) -> f64 {
        PI * self.diameter * self.radial_clearance
    }
}
