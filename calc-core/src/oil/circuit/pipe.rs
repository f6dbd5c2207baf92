//! Flow through a passage for a given drop, quick enough for a network: the passage's own law, with a short way through it.

use std::f64::consts::PI;

use crate::network::Through;
use crate::oil::passage_law::{Fluid, Passage};

/// One passage at one operating point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pipe {
    passage: Passage,
    fluid: Fluid,
    /// Drop over flow at rest, Pa s/m3.
    linear: f64,
    /// Drop over flow squared as long as friction and losses are those of laminar flow, Pa s2/m6.
    square: f64,
    /// Flow up to which that is exact.
    laminar: f64,
    /// Flow over drop at a usual velocity: where a network begins that knows nothing yet.
    usual: f64,
}

/// Oil in passages is as fast as this (m/s), as a first guess.
const USUAL_VELOCITY: f64 = 2.0;
/// Below this Reynolds number the law is a q + b q^2 exactly.
const LAMINAR: f64 = 900.0;

impl Pipe {
    pub(super) fn new(passage: Passage, fluid: Fluid) -> Self {
        let laminar = LAMINAR / passage.reynolds(fluid, 1.0);
        let linear = passage.drop(fluid, 0.0).slope;
        let square = (passage.drop(fluid, laminar).total() - linear * laminar) / (laminar * laminar);
        // Without any loss but friction the difference is only rounding.
        let square = if square * laminar > 1e-9 * linear { square } else { 0.0 };
        let usual = USUAL_VELOCITY * 0.25 * PI * passage.diameter * passage.diameter;
        let usual = usual / passage.drop(fluid, usual).total();
        Self { passage, fluid, linear, square, laminar, usual }
    }

    /// Flow and slope at a drop. The first call takes the passage as one straight line. In laminar flow the flow is the root of
    /// a q + b q^2; above, the law is one straight line at the flow that is expected: Newton's method on flows and pressures
    /// at once, which arrives sooner than one on pressures alone.
    pub(super) fn through(&self, drop: f64, expected: Option<f64>) -> Through {
        let Some(expected) = expected else {
            return Through { flow: self.usual * drop, slope: self.usual, settled: false };
        };
        let size = drop.abs();
        let root = (self.linear * self.linear + 4.0 * self.square * size).sqrt();
        let most = 2.0 * size / (self.linear + root);
        if most < self.laminar {
            return Through::known(most.copysign(drop), 1.0 / root);
        }
        let expected = expected.copysign(drop * expected);
        let found = self.turbulent(size, if expected > 0.0 { expected } else { 0.7 * most }, most);
        Through { flow: found.flow.copysign(drop), ..found }
    }

    /// Between the flow where laminar flow ends and the one that laminar flow would have.
    fn turbulent(&self, size: f64, guess: f64, most: f64) -> Through {
        const MOST_STEPS: u32 = 60;
        /// Relative error of the drop below which what one more step leaves is beyond the twelfth digit.
        const SETTLED: f64 = 1e-6;
        let (mut low, mut high) = (0.9 * self.laminar, 1.000_001 * most);
        let mut flow = guess.min(high).max(low);
        let mut slope = f64::NAN;
        for _ in 0..MOST_STEPS {
            let found = self.passage.drop(self.fluid, flow);
            let head = found.total();
            slope = 1.0 / found.slope;
            let missing = size - head;
            let next = flow + missing * slope;
            if next > low && next < high {
                return Through { flow: next, slope, settled: missing.abs() < SETTLED * size };
            }
            if missing > 0.0 {
                low = flow;
            } else {
                high = flow;
            }
            flow = (low * high).sqrt();
        }
        Through { flow, slope, settled: true }
    }
}
