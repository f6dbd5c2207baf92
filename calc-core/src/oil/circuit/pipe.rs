//! Flow through a passage for a given drop, quick enough for a network: the passage's own law, with a short way through it.

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
}

/// Below this Reynolds number the law is a q + b q^2 exactly.
const LAMINAR: f64 = 900.0;

impl Pipe {
    pub(super) fn new(passage: Passage, fluid: Fluid) -> Self {
        let laminar = LAMINAR / passage.reynolds(fluid, 1.0);
        let linear = passage.drop(fluid, 0.0).slope;
        let square = (passage.drop(fluid, laminar).total() - linear * laminar) / (laminar * laminar);
        // Without any loss but friction the difference is only rounding.
        let square = if square * laminar > 1e-9 * linear { square } else { 0.0 };
        Self { passage, fluid, linear, square, laminar }
    }

    /// Flow and slope at a drop. In laminar flow the flow is the root of a q + b q^2; above, Newton's steps in logarithms begin
    /// at the flow of the last call.
    pub(super) fn through(&self, drop: f64, memory: &mut f64) -> Through {
        let size = drop.abs();
        let root = (self.linear * self.linear + 4.0 * self.square * size).sqrt();
        let most = 2.0 * size / (self.linear + root);
        if most < self.laminar {
            *memory = 0.0;
            return Through { flow: most.copysign(drop), slope: 1.0 / root };
        }
        let (flow, slope) = self.turbulent(size, if *memory > 0.0 { *memory } else { 0.7 * most }, most);
        *memory = flow;
        Through { flow: flow.copysign(drop), slope }
    }

    /// Between the flow where laminar flow ends and the one that laminar flow would have.
    fn turbulent(&self, size: f64, guess: f64, most: f64) -> (f64, f64) {
        const MOST_STEPS: u32 = 60;
        const NEAR: f64 = 1e-3;
        const ENOUGH: f64 = 1e-5;
        let (mut low, mut high) = (0.9 * self.laminar, 1.000_001 * most);
        let mut flow = guess.min(high).max(low);
        let mut slope = 0.0;
        for _ in 0..MOST_STEPS {
            let found = self.passage.drop(self.fluid, flow);
            let head = found.total();
            slope = found.slope;
            let off = size / head - 1.0;
            if off > 0.0 {
                low = flow;
            } else {
                high = flow;
            }
            // Near the root plain Newton, from afar Newton in logarithms.
            let next = if off.abs() < NEAR {
                flow + off * head / slope
            } else {
                flow * (size / head).powf(head / (slope * flow))
            };
            if off.abs() < ENOUGH {
                return (next, 1.0 / slope);
            }
            flow = if next > low && next < high { next } else { (low * high).sqrt() };
        }
        (flow, 1.0 / slope)
    }
}
