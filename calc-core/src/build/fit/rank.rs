//! The total order of combinations, and the best of those seen.

use crate::units::Quantity;

use super::question::{Criterion, MOST_CRITERIA};
use super::settle::Settled;

/// A length within this of another is the same length: a nanometre, far below what can be measured and far above rounding.
pub(super) const SAME_LENGTH: f64 = 1e-9;
/// The same for ratios, as a share.
pub(super) const SAME_SHARE: f64 = 1e-9;

/// Where a combination stands: by the criteria in their order, then by the places of its parts in the slots. No two
/// combinations are equal, so that the best do not depend on the order in which they are found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Rank {
    pub(super) criteria: [u64; MOST_CRITERIA],
    pub(super) parts: [u32; 6],
}

/// The best ranks seen.
#[derive(Debug, Clone)]
pub(super) struct Best {
    ranks: Vec<Rank>,
    wanted: usize,
}

impl Best {
    pub(super) fn of(wanted: usize) -> Self {
        Self { ranks: Vec::with_capacity(wanted + 1), wanted }
    }

    /// Whether a combination that is no better than `floor` could still be among the best.
    pub(super) fn admits(&self, floor: &Rank) -> bool {
        self.ranks.len() < self.wanted || self.ranks.last().is_some_and(|worst| floor < worst)
    }

    pub(super) fn offer(&mut self, rank: Rank) {
        if self.admits(&rank) {
            let place = self.ranks.partition_point(|better| *better < rank);
            self.ranks.insert(place, rank);
            self.ranks.truncate(self.wanted);
        }
    }

    pub(super) fn merge(&mut self, other: &Self) {
        other.ranks.iter().for_each(|rank| self.offer(*rank));
    }

    pub(super) fn ranks(&self) -> &[Rank] {
        &self.ranks
    }
}

/// How many whole steps cover a difference; one that is a multiple of the step is not lifted to the next by rounding.
pub(super) fn steps(difference: f64, step: f64, same: f64) -> u64 {
    // A conversion of a float to an integer saturates: a very small step only makes ties rarer.
    ((difference - same) / step).ceil().max(0.0) as u64
}

/// The criteria of a combination.
pub(super) fn measure(preference: &[Criterion], settled: &Settled, price: i64) -> [u64; MOST_CRITERIA] {
    let mut criteria = [0; MOST_CRITERIA];
    for (place, criterion) in criteria.iter_mut().zip(preference) {
        *place = match criterion {
            Criterion::Price => price.unsigned_abs(),
            Criterion::StaticRatio { wanted, step } => {
                steps((settled.ratio - wanted.plain()).abs(), step.plain(), SAME_SHARE)
            }
            Criterion::SquishClearance { wanted, step } => {
                steps((settled.squish - wanted.si()).abs(), step.si(), SAME_LENGTH)
            }
            Criterion::NumberOfCuts => number_of_cuts(settled.deck_cut, settled.head_cut),
            Criterion::DepthOfCuts { step } => steps(settled.deck_cut + settled.head_cut, step.si(), SAME_LENGTH),
        };
    }
    criteria
}

pub(super) fn number_of_cuts(deck: f64, head: f64) -> u64 {
    u64::from(deck > SAME_LENGTH) + u64::from(head > SAME_LENGTH)
}

/// What a whole group of combinations cannot be better than.
pub(super) struct Floor {
    pub(super) price: i64,
    /// Least distance from the wanted ratio.
    pub(super) ratio: f64,
    /// Range that the squish clearance is in.
    pub(super) squish: [f64; 2],
    pub(super) deck_cut: f64,
    pub(super) head_cut: f64,
}

/// Takes off what rounding may have added to a bound that was computed on another way than the value itself.
const ROUNDING: f64 = 1e-12;

/// The criteria that no combination of a group is better than.
pub(super) fn least(preference: &[Criterion], floor: &Floor) -> [u64; MOST_CRITERIA] {
    let mut criteria = [0; MOST_CRITERIA];
    for (place, criterion) in criteria.iter_mut().zip(preference) {
        *place = match criterion {
            Criterion::Price => floor.price.unsigned_abs(),
            Criterion::StaticRatio { step, .. } => steps(floor.ratio - ROUNDING, step.plain(), SAME_SHARE),
            Criterion::SquishClearance { wanted, step } => {
                let [low, high] = floor.squish;
                let distance = (low - wanted.si()).max(wanted.si() - high).max(0.0);
                steps(distance - ROUNDING, step.si(), SAME_LENGTH)
            }
            Criterion::NumberOfCuts => number_of_cuts(floor.deck_cut - ROUNDING, floor.head_cut - ROUNDING),
            Criterion::DepthOfCuts { step } => {
                steps(floor.deck_cut + floor.head_cut - ROUNDING, step.si(), SAME_LENGTH)
            }
        };
    }
    criteria
}
