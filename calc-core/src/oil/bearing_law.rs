//! Oil pressed through a journal bearing by its supply, in SI units: what [`super::journal_bearing`] and the circuit share.

use std::f64::consts::{PI, TAU};

/// How the oil comes into a bearing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Feed {
    /// By no pressure: from a full bath.
    None,
    /// By a groove all round, in the middle, with a land of this length on either side.
    Full { land: f64 },
    /// By a groove over an arc, in the middle.
    PartialArc { land: f64, arc: f64, centre: f64 },
    /// By one hole in the middle of a bearing of this width.
    SingleHole { width: f64, diameter: f64, centre: f64 },
}

/// A bearing that runs off centre; angles such as a feed's `centre` count from the thickest film along the motion.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Bearing {
    pub(crate) radius: f64,
    pub(crate) radial_clearance: f64,
    /// Off centre as a share of the radial clearance, 0 to 1.
    pub(crate) eccentricity: f64,
    pub(crate) feed: Feed,
}

impl Bearing {
    /// Side flow per supply pressure: linear, for the film's shape is given.
    ///
    /// Full groove: pi r c^3 (1 + 1.5 e^2)/(3 mu l), both lands. Arc: r/(6 mu l) times h^3 integrated over it, a lower bound, for
    /// what leaves round its ends is not in it. Hole: pi h^3/(6 mu ln(4 l/(pi d))), the source in a strip of width l.
    pub(crate) fn conductance(&self, viscosity: f64) -> f64 {
        let cube = self.radial_clearance.powi(3);
        match self.feed {
            Feed::None => 0.0,
            Feed::Full { land } => self.radius * cube * self.film_cubed(-PI, PI) / (6.0 * viscosity * land),
            Feed::PartialArc { land, arc, centre } => {
                let half = (arc / 2.0).min(PI);
                self.radius * cube * self.film_cubed(centre - half, centre + half) / (6.0 * viscosity * land)
            }
            Feed::SingleHole { width, diameter, centre } => {
                let film = self.radial_clearance * (1.0 + self.eccentricity * centre.cos());
                PI * film.powi(3) / (6.0 * viscosity * (4.0 * width / (PI * diameter)).ln())
            }
        }
    }

    /// The integral of (1 + e cos t)^3 from one angle to another.
    fn film_cubed(&self, from: f64, to: f64) -> f64 {
        let e = self.eccentricity;
        let whole = |t: f64| {
            let (sin, cos) = t.sin_cos();
            t + 3.0 * e * sin + 1.5 * e * e * (t + sin * cos) + e.powi(3) * (sin - sin.powi(3) / 3.0)
        };
        // Whole turns beyond one are no part of a groove.
        whole(to.min(from + TAU)) - whole(from)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn bearing(eccentricity: f64, feed: Feed) -> Bearing {
        Bearing { radius: 0.03, radial_clearance: 3e-5, eccentricity, feed }
    }

    proptest! {
        #[test]
        fn a_full_groove_is_the_textbooks(eccentricity in 0.0..1.0) {
            let found = bearing(eccentricity, Feed::Full { land: 0.01 }).conductance(0.01);
            let textbook = PI * 0.03 * 3e-5_f64.powi(3) * (1.0 + 1.5 * eccentricity * eccentricity) / (3.0 * 0.01 * 0.01);
            prop_assert!((found / textbook - 1.0).abs() < 1e-12);
        }

        #[test]
        fn arcs_side_by_side_make_the_whole_groove(eccentricity in 0.0..1.0, first in 0.1..6.0, start in 0.0..TAU) {
            let part = |arc: f64, from: f64| bearing(eccentricity, Feed::PartialArc { land: 0.01, arc, centre: from + arc / 2.0 }).conductance(0.01);
            let full = bearing(eccentricity, Feed::Full { land: 0.01 }).conductance(0.01);
            let sum = part(first, start) + part(TAU - first, start + first);
            prop_assert!((sum / full - 1.0).abs() < 1e-9);
        }

        #[test]
        fn a_hole_gives_most_where_the_film_is_thickest(eccentricity in 0.01..1.0, centre in 0.1..6.1) {
            let at = |centre| bearing(eccentricity, Feed::SingleHole { width: 0.02, diameter: 0.005, centre }).conductance(0.01);
            prop_assert!(at(centre) < at(0.0) && at(centre) >= at(PI));
        }
    }
}
