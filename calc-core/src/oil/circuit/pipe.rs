//! Flow through a passage for a given drop.

use std::f64::consts::PI;

use crate::network::Through;

use super::friction::churchill;
use super::law::Running;

/// One passage at one operating point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pipe {
    /// Drop over flow in laminar flow, Pa s/m3.
    laminar: f64,
    /// Drop over flow squared of bends, Pa s2/m6.
    bends: f64,
    /// Drop over flow squared for each unit of the friction factor.
    friction: f64,
    /// Reynolds number over flow.
    reynolds: f64,
    /// Roughness over diameter.
    roughness: f64,
}

/// Below this Reynolds number friction is laminar to the last digit of the friction law.
const LAMINAR: f64 = 800.0;

impl Pipe {
    /// A round passage in metres, with the sum of its loss coefficients.
    pub(super) fn new(diameter: f64, length: f64, losses: f64, roughness: f64, running: &Running) -> Self {
        let area = 0.25 * PI * diameter * diameter;
        let dynamic = 0.5 * running.density / (area * area);
        Self {
            laminar: 128.0 * running.viscosity * length / (PI * diameter.powi(4)),
            bends: losses * dynamic,
            friction: dynamic * length / diameter,
            reynolds: running.density * diameter / (area * running.viscosity),
            roughness: roughness / diameter,
        }
    }

    /// Flow and slope at a drop. In laminar flow the flow is the root of a q + b q^2; above, Newton's steps in logarithms begin
    /// at the flow of the last call.
    pub(super) fn through(&self, drop: f64, memory: &mut f64) -> Through {
        let size = drop.abs();
        let root = (self.laminar * self.laminar + 4.0 * self.bends * size).sqrt();
        let laminar = 2.0 * size / (self.laminar + root);
        if laminar * self.reynolds < LAMINAR {
            *memory = 0.0;
            return Through { flow: laminar.copysign(drop), slope: 1.0 / root };
        }
        let (flow, slope) = self.turbulent(size, if *memory > 0.0 { *memory } else { 0.7 * laminar }, laminar);
        *memory = flow;
        Through { flow: flow.copysign(drop), slope }
    }

    fn turbulent(&self, size: f64, guess: f64, most: f64) -> (f64, f64) {
        const MOST_STEPS: u32 = 60;
        const NEAR: f64 = 1e-3;
        const ENOUGH: f64 = 3e-6;
        let (mut low, mut high) = (0.5 * LAMINAR.min(most * self.reynolds) / self.reynolds, most);
        let mut flow = guess.min(most).max(low);
        let mut growth = 1.0;
        for _ in 0..MOST_STEPS {
            let (head, rises) = self.head(flow);
            growth = rises;
            let ratio = size / head;
            let off = ratio - 1.0;
            if off > 0.0 {
                low = flow;
            } else {
                high = flow;
            }
            let next = if off.abs() < NEAR { flow * (1.0 + off / growth) } else { flow * ratio.powf(1.0 / growth) };
            if off.abs() < ENOUGH {
                flow = next;
                break;
            }
            flow = if next > low && next < high { next } else { (low * high).sqrt() };
        }
        (flow, flow / (growth * size))
    }

    /// Drop at a flow, and d ln(drop)/d ln(flow).
    fn head(&self, flow: f64) -> (f64, f64) {
        let (factor, growth) = churchill(flow * self.reynolds, self.roughness);
        let wall = self.friction * factor * flow * flow;
        let bends = self.bends * flow * flow;
        (wall + bends, 2.0 + growth * wall / (wall + bends))
    }
}
