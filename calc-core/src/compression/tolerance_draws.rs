//! The engines that tolerances allow: at the ends of all tolerances, and drawn at random.

use crate::error::Error;
use crate::geometry::displacement::cylinder_volume;
use crate::random::Random;
use crate::units::Quantity;

use super::r#static::{StaticInput, volumes};
use super::tolerance::{Distribution, Limits, Outcome, ToleranceInput};
use super::tolerance_items::Item;

/// A part with a tolerance above zero, in SI units.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Toleranced {
    pub(crate) item: Item,
    pub(crate) size: f64,
    pub(crate) tolerance: f64,
}

/// Ratio and squish clearance, unless nothing is left above the piston.
pub(crate) fn results(parts: &StaticInput) -> Option<[f64; 2]> {
    let clearance = volumes(parts).clearance().cubic_metres();
    let swept = cylinder_volume(parts.bore, parts.stroke).cubic_metres();
    let squish = parts.deck_clearance.metres() + parts.gasket_thickness.metres();
    (clearance > 0.0).then(|| [(swept + clearance) / clearance, squish])
}

/// The refusal when tolerances eat the clearance volume.
pub(crate) fn nothing_left() -> Error {
    Error::NoSolution {
        field: "tolerances",
        detail: "reach an engine with no volume left above the piston at top centre; narrow them or check the parts."
            .to_owned(),
    }
}

/// Least and most over all combinations of the parts' ends.
pub(crate) fn worst_case(nominal: &StaticInput, parts: &[Toleranced]) -> Result<[[f64; 2]; 2], Error> {
    let mut extremes = [[f64::INFINITY, f64::NEG_INFINITY]; 2];
    let mut engine = nominal.clone();
    for combination in 0..1_u32 << parts.len() {
        for (place, part) in parts.iter().enumerate() {
            let end = if combination >> place & 1 == 1 { part.tolerance } else { -part.tolerance };
            part.item.set(&mut engine, part.size + end);
        }
        let found = results(&engine).ok_or_else(nothing_left)?;
        for (extreme, value) in extremes.iter_mut().zip(found) {
            *extreme = [extreme[0].min(value), extreme[1].max(value)];
        }
    }
    Ok(extremes)
}

impl Distribution {
    /// The standard uncertainty of a part with this tolerance.
    pub(crate) fn standard_uncertainty(self, tolerance: f64) -> f64 {
        match self {
            Self::Rectangular => tolerance / 3.0_f64.sqrt(),
            Self::Normal => tolerance / 2.0,
        }
    }

    /// How far a part is off in one draw.
    pub(crate) fn draw(self, tolerance: f64, random: &mut Random) -> f64 {
        match self {
            Self::Rectangular => tolerance * (2.0 * random.uniform() - 1.0),
            Self::Normal => tolerance / 2.0 * random.normal(),
        }
    }
}

/// Ratio and squish clearance of every random engine.
pub(crate) fn draw(input: &ToleranceInput, parts: &[Toleranced]) -> Result<Vec<[f64; 2]>, Error> {
    let mut random = Random::new(u64::from(input.seed));
    let mut engine = input.nominal.clone();
    let one = |_| {
        for part in parts {
            part.item.set(&mut engine, part.size + input.distribution.draw(part.tolerance, &mut random));
        }
        results(&engine).ok_or_else(nothing_left)
    };
    (0..input.draws).map(one).collect()
}

/// What the draws of one result come to.
pub(crate) fn outcome(nominal: f64, standard_uncertainty: f64, worst: [f64; 2], values: &mut [f64]) -> Outcome<f64> {
    let count = values.len() as f64;
    // Counted from the nominal value, so that the last digits are not lost.
    let mean = nominal + values.iter().map(|value| value - nominal).sum::<f64>() / count;
    let squares: f64 = values.iter().map(|value| (value - mean) * (value - mean)).sum();
    // JCGM 101, 7.7.2: q = 95 percent of the draws, the ends at the ranks r and r + q, r = (M - q)/2.
    let inside = (0.95 * count).round() as usize;
    let low = (values.len() - inside).div_ceil(2).max(1);
    let mut rank = |rank: usize| *values.select_nth_unstable_by(rank - 1, f64::total_cmp).1;
    Outcome {
        nominal,
        standard_uncertainty,
        worst_low: worst[0],
        worst_high: worst[1],
        mean,
        standard_deviation: (squares / (count - 1.0)).sqrt(),
        interval_low: rank(low),
        interval_high: rank(low + inside),
        chance_within: None,
    }
}

/// The value below which a share of the draws is, straight between neighbours (Hyndman and Fan 1996, definition 7).
pub(crate) fn percentile(values: &mut [f64], share: f64) -> f64 {
    let place = share * (values.len() - 1) as f64;
    let (_, at, above) = values.select_nth_unstable_by(place as usize, f64::total_cmp);
    let at = *at;
    let next = above.iter().copied().reduce(f64::min).unwrap_or(at);
    at + place.fract() * (next - at)
}

/// Ends of the limits of ratio and squish; none where there is no limit.
pub(crate) fn limits(limits: &Limits) -> [Option<[f64; 2]>; 2] {
    fn ends<Q: Quantity>(min: Option<Q>, max: Option<Q>) -> Option<[f64; 2]> {
        (min.is_some() || max.is_some())
            .then(|| [min.map_or(f64::NEG_INFINITY, Q::si), max.map_or(f64::INFINITY, Q::si)])
    }
    [ends(limits.ratio_min, limits.ratio_max), ends(limits.squish_min, limits.squish_max)]
}

/// Whether a value keeps a limit.
pub(crate) fn within(value: f64, [min, max]: [f64; 2]) -> bool {
    value >= min && value <= max
}

/// Share of the draws that were kept.
pub(crate) fn share_within(kept: impl ExactSizeIterator<Item = bool>) -> f64 {
    let all = kept.len() as f64;
    kept.filter(|kept| *kept).count() as f64 / all
}
