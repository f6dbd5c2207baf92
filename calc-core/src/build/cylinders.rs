//! The ratio of each cylinder from what was measured on it.

use crate::compression::r#static::ratio;
use crate::error::Error;
use crate::units::{Length, Volume};

use super::evaluate::{Geometry, clearance_volumes};
use super::sheet::{Build, STATIC_NAMES};

/// One cylinder by its own chamber and deck.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cylinder {
    /// Counted from one, in the order of the readings.
    pub number: u32,
    /// Positive when the piston stops below the deck.
    pub deck_clearance: Length,
    /// Volume above the piston at top centre.
    pub clearance_volume: Volume,
    /// (Vs + Vc)/Vc.
    pub static_ratio: f64,
}

/// Static ratio of each cylinder, from the chambers and deck heights measured.
///
/// **Equation** (Vs + Vc)/Vc per cylinder, with that cylinder's chamber and deck clearance and the sheet's other items
///
/// **Shape** One entry per cylinder; none when neither chambers nor deck heights were measured.
///
/// **Units** Lengths and volumes, any.
///
/// **Valid for** What the static ratio is valid for; all bores, rods and pistons alike.
///
/// **Errors** [`Error::NoSolution`] when nothing is left above the piston of a cylinder.
///
/// **Source** Heywood, Internal Combustion Engine Fundamentals, 1st edition, equation 2.1.
pub fn cylinders(build: &Build, geometry: &Geometry) -> Result<Vec<Cylinder>, Error> {
    let Some(measured) = &build.measured else { return Ok(Vec::new()) };
    let (chambers, decks) = (measured.chamber_volumes.as_deref(), measured.deck_heights.as_deref());
    if chambers.is_none() && decks.is_none() {
        return Ok(Vec::new());
    }
    let cylinder = |number: u32| {
        let index = number as usize - 1;
        let of_all = build.cylinder_head.chamber_volume;
        let chamber = chambers.and_then(|list| list.get(index)).copied().unwrap_or(of_all);
        let deck = decks.and_then(|list| list.get(index)).copied().unwrap_or(build.block.deck_height);
        let higher = deck.metres() - build.block.deck_height.metres();
        let deck_clearance = Length::from_metres(geometry.deck_clearance.metres() + higher);
        let clearance_volume = clearance_volumes(build, geometry, chamber, deck_clearance).clearance();
        let static_ratio = ratio(&STATIC_NAMES, geometry.swept_volume, clearance_volume)?;
        Ok(Cylinder { number, deck_clearance, clearance_volume, static_ratio })
    };
    (1..=build.engine.cylinders).map(cylinder).collect()
}

/// Highest ratio less the lowest; nothing for no cylinders.
pub(crate) fn spread(cylinders: &[Cylinder]) -> Option<f64> {
    let ratios = || cylinders.iter().map(|cylinder| cylinder.static_ratio);
    let (low, high) = (ratios().reduce(f64::min)?, ratios().reduce(f64::max)?);
    Some(high - low)
}
