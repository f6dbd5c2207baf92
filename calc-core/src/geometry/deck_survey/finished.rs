//! The highest planes, parallel to the crank axis, that no measured point lies below.

use super::{CrossSlope, DeckSurveyInput, SurfacePoint};

/// A cut thinner than this, a nanometre, is rounding and no cut.
const NO_CUT: f64 = 1e-9;

/// A plane parallel to the crank axis.
#[derive(Debug, Clone, Copy)]
pub(super) struct Level {
    /// At the bore axis.
    pub(super) height: f64,
    /// Rise per length across.
    pub(super) slope_across: f64,
}

impl Level {
    fn at(&self, point: &SurfacePoint) -> f64 {
        self.height + self.slope_across * point.across.metres()
    }

    /// How much of each point stands above the plane.
    pub(super) fn cuts(&self, points: &[SurfacePoint]) -> impl Iterator<Item = f64> + Clone {
        points.iter().map(|point| point.height.metres() - self.at(point))
    }
}

/// The finished deck of each bank: as high as possible, less the allowance, at one height when that is wanted.
pub(super) fn finished_decks(input: &DeckSurveyInput) -> Vec<Level> {
    let mut decks: Vec<_> = input
        .banks
        .iter()
        .map(|bank| {
            let highest = match input.cross_slope {
                CrossSlope::SquareToBore => square_deck(&bank.points),
                CrossSlope::Free => free_deck(&bank.points),
            };
            let is_cut = highest.cuts(&bank.points).any(|cut| cut > NO_CUT);
            let allowance = if is_cut { input.cleanup_allowance.metres() } else { 0.0 };
            Level { height: highest.height - allowance, ..highest }
        })
        .collect();
    if input.equal_banks {
        let lowest = decks.iter().fold(f64::MAX, |lowest, deck| lowest.min(deck.height));
        decks.iter_mut().for_each(|deck| deck.height = lowest);
    }
    decks
}

fn square_deck(points: &[SurfacePoint]) -> Level {
    let lowest = points.iter().fold(f64::MAX, |lowest, point| lowest.min(point.height.metres()));
    Level { height: lowest, slope_across: 0.0 }
}

/// The line z = h + b y under all points that is highest at their mean position across.
///
/// Seen along the crank, that is the edge of the points' lower hull over the mean: no line between a point on its left and one
/// on its right may pass above the height sought, and the lowest such line gives it.
fn free_deck(points: &[SurfacePoint]) -> Level {
    let middle = points.iter().map(|point| point.across.metres()).sum::<f64>() / points.len() as f64;
    let place = |point: &SurfacePoint| (point.across.metres() - middle, point.height.metres());
    let mut top = f64::MAX;
    for (left_y, left_z) in points.iter().map(place).filter(|(y, _)| *y <= 0.0) {
        for (right_y, right_z) in points.iter().map(place).filter(|(y, _)| *y >= 0.0) {
            let breadth = right_y - left_y;
            let between =
                if breadth > 0.0 { (left_z * right_y - right_z * left_y) / breadth } else { left_z.min(right_z) };
            top = top.min(between);
        }
    }
    let steepest = |side: f64| {
        let beside = points.iter().map(place).filter(move |(y, _)| *y * side > 0.0);
        beside.map(|(y, z)| (z - top) / (y * side)).fold(f64::MAX, f64::min)
    };
    let (least, most) = (-steepest(-1.0), steepest(1.0));
    let slope_across = 0.0_f64.min(most).max(least);
    // Rounding of the slope may leave a point below the plane by the last bit: the plane goes down to it.
    let sloped = Level { height: 0.0, slope_across };
    Level { height: sloped.cuts(points).fold(f64::MAX, f64::min), slope_across }
}
