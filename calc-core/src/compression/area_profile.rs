//! The open area of a chamber by depth, and the volume between the face and a depth.

use validator::ValidationError;

use crate::error::{Error, broken_rule};
use crate::solve::bracketed_newton;
use crate::units::{Angle, Length, Quantity, Volume};

use super::flat_mill::AreaLevel;
use super::outline::{OutlinePoint, offset_law};

/// Open area by depth, in pieces whose area is a polynomial of second degree in the depth.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct AreaProfile {
    pieces: Vec<Piece>,
}

/// From `from` to `to` the area is a + b t + c t^2, with t the depth below `from`.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Piece {
    from: f64,
    to: f64,
    coefficients: [f64; 3],
    /// Volume between the face and `from`.
    volume_above: f64,
}

impl Piece {
    fn area(&self, depth: f64) -> f64 {
        let (t, [a, b, c]) = (depth - self.from, self.coefficients);
        a + t * (b + t * c)
    }

    fn volume(&self, depth: f64) -> f64 {
        let (t, [a, b, c]) = (depth - self.from, self.coefficients);
        self.volume_above + t * (a + t * (b / 2.0 + t * c / 3.0))
    }
}

impl AreaProfile {
    /// Area linear between levels; needs levels that passed [`check_levels`].
    pub(crate) fn from_levels(levels: &[AreaLevel]) -> Self {
        let mut pieces: Vec<Piece> = Vec::new();
        for pair in levels.windows(2) {
            let (from, to) = (pair[0].depth.metres(), pair[1].depth.metres());
            let (upper, lower) = (pair[0].area.square_metres(), pair[1].area.square_metres());
            let volume_above = pieces.last().map_or(0.0, |piece| piece.volume(piece.to));
            pieces.push(Piece { from, to, coefficients: [upper, (lower - upper) / (to - from), 0.0], volume_above });
        }
        Self { pieces }
    }

    /// One piece: the outline moved inwards by the wall's slope, as deep as the wall is straight.
    pub(crate) fn from_outline(outline: &[OutlinePoint], wall: Angle, depth: Length) -> Result<Self, Error> {
        let slope = wall.radians().tan();
        let [area, perimeter, corners] = offset_law(outline, slope * depth.metres())?;
        let coefficients = [area, -perimeter * slope, corners * slope * slope];
        Ok(Self { pieces: vec![Piece { from: 0.0, to: depth.metres(), coefficients, volume_above: 0.0 }] })
    }

    /// How deep the profile goes.
    pub(crate) fn depth(&self) -> f64 {
        self.pieces.last().map_or(0.0, |piece| piece.to)
    }

    /// Volume between the face and the end of the profile.
    pub(crate) fn whole(&self) -> f64 {
        self.pieces.last().map_or(0.0, |piece| piece.volume(piece.to))
    }

    /// Open area at a depth inside the profile.
    pub(crate) fn area_at(&self, depth: f64) -> f64 {
        self.pieces.iter().find(|piece| depth <= piece.to).map_or(0.0, |piece| piece.area(depth))
    }

    /// Volume between the face and a depth; `field` is to blame when that is beyond the profile.
    pub(crate) fn volume_to(&self, field: &'static str, depth: f64) -> Result<f64, Error> {
        let piece = self.pieces.iter().find(|piece| depth <= piece.to);
        piece.map(|piece| piece.volume(depth)).ok_or_else(|| self.beyond(field, Length::from_metres(depth).shown()))
    }

    /// Depth at which the volume is reached; `field` is to blame when that is beyond the profile.
    pub(crate) fn depth_for(&self, field: &'static str, volume: f64) -> Result<f64, Error> {
        let piece = self.pieces.iter().find(|piece| volume <= piece.volume(piece.to));
        let piece = piece.ok_or_else(|| self.beyond(field, Volume::from_cubic_metres(volume).shown()))?;
        let guess = piece.from + (volume - piece.volume_above) / piece.area(piece.from).max(f64::MIN_POSITIVE);
        let gap = |depth: f64| (piece.volume(depth) - volume, piece.area(depth));
        bracketed_newton("depth of the cut", gap, piece.from, piece.to, guess)
    }

    fn beyond(&self, field: &'static str, wanted: String) -> Error {
        let depth = Length::from_metres(self.depth()).shown();
        let whole = Volume::from_cubic_metres(self.whole()).shown();
        Error::NoSolution {
            field,
            detail: format!(
                "needs {wanted}, beyond the profile, which ends at {depth} and {whole}; measure the chamber deeper, nothing is \
                 assumed below."
            ),
        }
    }
}

/// Fewest and most levels.
const COUNT: std::ops::RangeInclusive<usize> = 2..=200;

pub(crate) fn check_level_count(field: &'static str, count: usize) -> Result<(), ValidationError> {
    if COUNT.contains(&count) {
        return Ok(());
    }
    let detail = format!("must hold {} to {} levels; got {count}.", COUNT.start(), COUNT.end());
    Err(broken_rule(field, "wrong_length", detail))
}

/// The first level is at the face, and every next one is deeper.
pub(crate) fn check_levels(field: &'static str, levels: &[AreaLevel]) -> Result<(), ValidationError> {
    let not_increasing = |detail| Err(broken_rule(field, "not_increasing", detail));
    if let Some(first) = levels.first().filter(|level| level.depth != Length::default()) {
        return not_increasing(format!(
            "must begin at the present face, depth 0; the first is at {}.",
            first.depth.shown()
        ));
    }
    match levels.windows(2).position(|pair| pair[1].depth <= pair[0].depth) {
        None => Ok(()),
        Some(index) => not_increasing(format!(
            "must grow in depth; entry {} is at {}, after {}.",
            index + 1,
            levels[index + 1].depth.shown(),
            levels[index].depth.shown()
        )),
    }
}
