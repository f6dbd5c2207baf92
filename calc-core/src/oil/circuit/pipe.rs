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

    /// Flow and slope at a drop. The first call takes the passage as one straight line. In laminar flow the flow is the root of a q + b q^2; above, one Newton's step from the flow of
    /// the last call, or several when that was far off.
    pub(super) fn through(&self, drop: f64, memory: &mut f64) -> Through {
        if *memory == 0.0 {
            *memory = f64::MIN_POSITIVE;
            return Through { flow: self.usual * drop, slope: self.usual, settled: false };
        }
        let size = drop.abs();
        let root = (self.linear * self.linear + 4.0 * self.square * size).sqrt();
        let most = 2.0 * size / (self.linear + root);
        if most < self.laminar {
            *memory = f64::MIN_POSITIVE;
            return Through::known(most.copysign(drop), 1.0 / root);
        }
        let guess = if *memory > self.laminar { *memory } else { 0.7 * most };
        let found = self.turbulent(size, guess, most);
        *memory = found.flow;
        Through { flow: found.flow.copysign(drop), ..found }
    }

    /// Between the flow where laminar flow ends and the one that laminar flow would have.
    fn turbulent(&self, size: f64, guess: f64, most: f64) -> Through {
        const MOST_STEPS: u32 = 60;
        /// Relative error of the drop from which the network's own steps do the rest.
        const NEAR: f64 = 0.3;
        /// Below this what one more step leaves is beyond the twelfth digit.
        const SETTLED: f64 = 1e-5;
        let (mut low, mut high) = (0.9 * self.laminar, 1.000_001 * most);
        let mut flow = guess.min(high).max(low);
        let mut slope = f64::NAN;
        for _ in 0..MOST_STEPS {
            let found = self.passage.drop(self.fluid, flow);
            let head = found.total();
            slope = 1.0 / found.slope;
            let missing = size - head;
            let step = missing * slope;
            // Here the drop is a power of the flow; its exponent less one tells how the slope bends.
            let bend = flow / (slope * head) - 1.0;
            let next = flow + step * (1.0 - 0.5 * bend * step / flow);
            if missing.abs() < NEAR * size && next > low && next < high {
                let slope = slope / (1.0 + bend * (next - flow) / flow);
                return Through { flow: next, slope, settled: missing.abs() < SETTLED * size };
            }
            if missing > 0.0 {
                low = flow;
            } else {
                high = flow;
            }
            flow = if next > low && next < high { next } else { (low * high).sqrt() };
        }
        Through { flow, slope, settled: true }
    }
}
