//! What one combination comes to: its cuts, squish clearance, clearance volume and ratio in closed form.

use crate::geometry::slider_crank::SliderCrank;
use crate::units::{Length, Quantity};

use super::limits::Limits;
use super::rank::{SAME_LENGTH, SAME_SHARE};

/// The ends that a value must keep to, each widened by what counts as the same, and the upper end as it was asked for: what a
/// cut brings the value down to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bounds {
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) target: f64,
}

impl Bounds {
    pub(super) const NONE: Self = Self { low: f64::NEG_INFINITY, high: f64::INFINITY, target: f64::INFINITY };

    pub(super) fn of_length(at_least: Option<f64>, at_most: Option<f64>) -> Self {
        let target = at_most.unwrap_or(f64::INFINITY);
        Self { low: at_least.map_or(f64::NEG_INFINITY, |low| low - SAME_LENGTH), high: target + SAME_LENGTH, target }
    }

    /// Clearance volumes at which `volume`, above the clearance volume, makes a ratio within limits.
    pub(super) fn of_ratio(volume: f64, at_least: Option<f64>, at_most: Option<f64>) -> Self {
        // A ratio is more than one: a lower end of one or less asks for nothing, such an upper end cannot be met.
        let clearance = |ratio: f64| if ratio > 1.0 { volume / (ratio - 1.0) } else { f64::INFINITY };
        Self {
            low: at_most.map_or(f64::NEG_INFINITY, |ratio| clearance(ratio * (1.0 + SAME_SHARE))),
            high: at_least.map_or(f64::INFINITY, |ratio| clearance(ratio * (1.0 - SAME_SHARE))),
            target: at_least.map_or(f64::INFINITY, clearance),
        }
    }

    pub(super) fn of_volume(at_least: Option<f64>, at_most: Option<f64>) -> Self {
        let target = at_most.unwrap_or(f64::INFINITY);
        Self {
            low: at_least.map_or(f64::NEG_INFINITY, |low| low * (1.0 - SAME_SHARE)),
            high: target * (1.0 + SAME_SHARE),
            target,
        }
    }

    pub(super) fn and(self, other: Self) -> Self {
        Self { low: self.low.max(other.low), high: self.high.min(other.high), target: self.target.min(other.target) }
    }
}

/// What is the same for every combination: SI units.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    /// Area of the bore.
    pub(super) area: f64,
    /// Deck height before any cut.
    pub(super) deck_height: f64,
    pub(super) deck_cut: [f64; 2],
    pub(super) head_cut: [f64; 2],
    pub(super) clearance: Bounds,
    pub(super) squish: Bounds,
}

/// What crank, rod and pin offset decide.
#[derive(Debug, Clone, Copy)]
pub(super) struct Train {
    /// Pin height at top centre.
    pub(super) pin: f64,
    /// Swept volume of a cylinder.
    pub(super) swept: f64,
    /// Where the clearance volume must be.
    pub(super) volume: Bounds,
}

impl Train {
    /// Where the highest ratio and then each limit want the clearance volume is left in `bounds`.
    pub(super) fn bounded(
        stroke: f64,
        rod: f64,
        offset: f64,
        limits: &Limits,
        frame: &Frame,
        bounds: &mut Vec<Bounds>,
    ) -> Self {
        let [stroke, rod, offset] = [stroke, rod, offset].map(Length::from_si);
        let train = SliderCrank::new(stroke, rod, offset);
        let swept = frame.area * train.actual_stroke();
        limits.volume_bounds(&train, frame.area, swept, bounds);
        let volume = bounds.last().copied().unwrap_or(Bounds::NONE);
        Self { pin: train.top_height(), swept, volume }
    }
}

/// A gasket, in SI units.
#[derive(Debug, Clone, Copy)]
pub(super) struct Gasket {
    pub(super) thickness: f64,
    pub(super) volume: f64,
    pub(super) price: i64,
    pub(super) index: u32,
}

/// A head, in SI units: its chamber as it is, after the least cut and after the most.
#[derive(Debug, Clone, Copy)]
pub(super) struct Head {
    pub(super) chamber: f64,
    pub(super) open_area: f64,
    pub(super) large: f64,
    pub(super) small: f64,
    pub(super) price: i64,
    pub(super) index: u32,
}

/// A combination within the limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Settled {
    pub(super) deck_cut: f64,
    pub(super) head_cut: f64,
    pub(super) squish: f64,
    pub(super) ratio: f64,
}

impl Frame {
    pub(super) fn deck_is_fixed(&self) -> bool {
        self.deck_cut[0] >= self.deck_cut[1]
    }

    /// The deck cuts that bring deck clearance and squish into their limits, given that there are any. `clearance` is that
    /// before any cut. Nothing more than the least is cut while the limits hold as they are.
    pub(super) fn deck_cuts(&self, clearance: f64, thickness: f64) -> [f64; 2] {
        let [least, most] = self.deck_cut;
        if self.deck_is_fixed() {
            return [least, least];
        }
        let squish = clearance + thickness;
        let needed = |value: f64, bounds: &Bounds| {
            if value - bounds.high > least { value - bounds.target } else { least }
        };
        let low = needed(clearance, &self.clearance).max(needed(squish, &self.squish)).max(least).min(most);
        let high = most.min(clearance - self.clearance.low).min(squish - self.squish.low);
        [low, high.max(low)]
    }

    /// Thicknesses of gasket that a deck clearance (before any cut) can take.
    pub(super) fn thicknesses(&self, clearance: f64) -> [f64; 2] {
        let [least, most] = self.deck_cut;
        [
            (self.squish.low + least - clearance).max(self.squish.low - self.clearance.high),
            (self.squish.high + most - clearance).min(self.squish.high - self.clearance.low),
        ]
    }

    /// Compression heights that leave a deck clearance within its limits.
    pub(super) fn crowns(&self, pin: f64) -> [f64; 2] {
        let [least, most] = self.deck_cut;
        let room = self.deck_height - pin;
        [room - self.clearance.high - most, room - self.clearance.low - least]
    }

    /// The combination with the smallest deck cut, and for that the smallest head cut, that keeps all limits; none when there
    /// is no such cut. `above` is the volume above the piston before any cut without gasket and chamber.
    pub(super) fn settle(
        &self,
        train: &Train,
        clearance: f64,
        above: f64,
        gasket: &Gasket,
        head: &Head,
    ) -> Option<Settled> {
        let [low, high] = self.deck_cuts(clearance, gasket.thickness);
        let rest = above + gasket.volume;
        let largest = rest + head.large - self.area * low;
        if largest < train.volume.low || rest + head.small - self.area * high > train.volume.high {
            return None;
        }
        let (mut deck_cut, mut head_cut) = (low, self.head_cut[0]);
        if largest > train.volume.high {
            let needed = (rest + head.small - train.volume.target) / self.area;
            deck_cut = needed.min(high).max(low);
            if head.open_area > 0.0 {
                let excess = rest + head.chamber - self.area * deck_cut - train.volume.target;
                head_cut = (excess / head.open_area).max(head_cut).min(self.head_cut[1]);
            }
        }
        let volume = rest + head.chamber - head.open_area * head_cut - self.area * deck_cut;
        let squish = clearance - deck_cut + gasket.thickness;
        Some(Settled { deck_cut, head_cut, squish, ratio: 1.0 + train.swept / volume })
    }
}
