//! What is asked of a catalogue: limits, cuts that are allowed, and what is preferred.

use crate::build::place::Output;
use crate::units::{Length, Ratio};

use super::catalogue::{Catalogue, FitBase};

/// A catalogue and what is wanted of it.
#[derive(Debug, Clone)]
pub struct FitInput {
    /// The build that the parts go into.
    pub base: FitBase,
    /// Candidates by slot.
    pub catalogue: Catalogue,
    /// Where each slot's list stands in the caller's request: `catalogue`, or another name for lists that came in another form.
    pub places: [&'static str; 6],
    /// What may be taken off the decks; nothing when absent.
    pub deck_cut: Option<CutRange>,
    /// What may be taken off the heads; nothing when absent.
    pub head_cut: Option<CutRange>,
    /// What the results must keep to.
    pub limits: Vec<ResultLimit>,
    /// What is better, the most important first.
    pub preference: Vec<Criterion>,
    /// How many combinations are wanted.
    pub best: u32,
}

/// The least and the most that one cut takes.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CutRange {
    /// The least; what every combination gets.
    pub least: Length,
    /// The most.
    pub most: Length,
}

/// What one result must keep to.
#[derive(Debug, Clone, Copy)]
pub struct ResultLimit {
    /// The result.
    pub result: &'static Output,
    /// Not less than this, in SI units.
    pub at_least: Option<f64>,
    /// Not more than this, in SI units.
    pub at_most: Option<f64>,
}

/// What makes one combination better than another; less is better.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Criterion {
    /// The sum of the prices.
    Price,
    /// How far the static ratio is from a wanted one, in whole steps.
    StaticRatio {
        /// The wanted ratio.
        wanted: Ratio,
        /// Differences within the same step count as equal.
        step: Ratio,
    },
    /// How far the squish clearance is from a wanted one, in whole steps.
    SquishClearance {
        /// The wanted clearance.
        wanted: Length,
        /// Differences within the same step count as equal.
        step: Length,
    },
    /// How many of the two cuts are made.
    NumberOfCuts,
    /// How much the two cuts take together, in whole steps.
    DepthOfCuts {
        /// Depths within the same step count as equal.
        step: Length,
    },
}

impl Criterion {
    /// What it is called.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Price => "price",
            Self::StaticRatio { .. } => "static_ratio",
            Self::SquishClearance { .. } => "squish_clearance",
            Self::NumberOfCuts => "number_of_cuts",
            Self::DepthOfCuts { .. } => "depth_of_cuts",
        }
    }
}

/// Most criteria: each of them once.
pub const MOST_CRITERIA: usize = 5;

/// Most combinations that are given back.
pub const MOST_BEST: u32 = 100;
