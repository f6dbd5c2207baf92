//! The film of a finite journal bearing, read from [`super::bearing_table`]; everything without dimensions.

use std::f64::consts::{PI, TAU};

use crate::error::Error;
use crate::solve::bracketed_newton;

use super::bearing_table::{ATTITUDE, COLUMNS, LEAST_FILM, LOAD, PEAK, ROWS, SIDE_FLOW, Table, WIDTH_RATIOS};

/// Width over diameter between which the table is.
pub(crate) const WIDTHS: [f64; 2] = WIDTH_RATIOS;
/// The largest eccentricity of the table.
pub(crate) const MOST_ECCENTRIC: f64 = 1.0 - LEAST_FILM;

/// Bearings of one width over diameter; logarithms of ratios to short-bearing theory by column.
#[derive(Debug, Clone)]
pub(crate) struct Films {
    width_ratio: f64,
    load: [f64; COLUMNS],
    attitude: [f64; COLUMNS],
    side_flow: [f64; COLUMNS],
    peak: [f64; COLUMNS],
}

/// One film. Radius r, radial clearance c, width l, angular speed w, N = w/(2 pi), viscosity mu.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Film {
    pub(crate) eccentricity: f64,
    /// W/(mu w r l (r/c)^2): one over pi times Sommerfeld's number.
    pub(crate) load: f64,
    /// Between the load and the line of centres: the thinnest film is so far beyond the load along the motion.
    pub(crate) attitude: f64,
    /// Flow out of both edges, Qs/(r c N l).
    pub(crate) side_flow: f64,
    /// Highest pressure p/(mu w (r/c)^2).
    pub(crate) peak: f64,
    /// Drag torque on the journal, M/(mu w r^3 l/c).
    pub(crate) drag: f64,
}

impl Films {
    /// Films of a width over diameter inside [`WIDTHS`].
    pub(crate) fn of(width_ratio: f64) -> Self {
        let [narrowest, widest] = WIDTHS;
        let place = (width_ratio / narrowest).ln() / (widest / narrowest).ln() * (ROWS - 1) as f64;
        // The cubic through four rows, the middle two of which enclose the place.
        let first = (place.floor() as usize).saturating_sub(1).min(ROWS - 4);
        let t = place - first as f64;
        let weights = [
            -(t - 1.0) * (t - 2.0) * (t - 3.0) / 6.0,
            t * (t - 2.0) * (t - 3.0) / 2.0,
            -t * (t - 1.0) * (t - 3.0) / 2.0,
            t * (t - 1.0) * (t - 2.0) / 6.0,
        ];
        let row = |table: &Table| {
            std::array::from_fn(|column| {
                weights.iter().enumerate().map(|(i, weight)| weight * table[first + i][column]).sum()
            })
        };
        Self { width_ratio, load: row(&LOAD), attitude: row(&ATTITUDE), side_flow: row(&SIDE_FLOW), peak: row(&PEAK) }
    }

    /// The film at an eccentricity from 0 to [`MOST_ECCENTRIC`].
    pub(crate) fn at(&self, eccentricity: f64) -> Film {
        let e = eccentricity;
        let narrow = 1.0 - e * e;
        let load = self.load_and_slope(e).0;
        let attitude = between(&self.attitude, e).0 * (PI * narrow.sqrt()).atan2(4.0 * e);
        // Cosine of the place of the highest pressure of a short bearing.
        let place = -6.0 * e / (1.0 + (1.0 + 24.0 * e * e).sqrt());
        let short_peak = 3.0 * self.width_ratio.powi(2) * e * (1.0 - place * place).sqrt() / (1.0 + e * place).powi(3);
        Film {
            eccentricity: e,
            load,
            attitude,
            side_flow: between(&self.side_flow, e).0 * TAU * e,
            peak: between(&self.peak, e).0 * short_peak,
            // The film is taken as full all round, as Raimondi and Boyd do; the pressure adds e/2 sin(attitude) W c.
            drag: TAU / narrow.sqrt() + 0.5 * e * attitude.sin() * load,
        }
    }

    /// The heaviest load of the table.
    pub(crate) fn most_load(&self) -> f64 {
        self.load_and_slope(MOST_ECCENTRIC).0
    }

    /// The film that carries a load from zero to [`Films::most_load`].
    pub(crate) fn carrying(&self, load: f64) -> Result<Film, Error> {
        if load == 0.0 {
            return Ok(self.at(0.0));
        }
        let balance = |e: f64| {
            let (found, slope) = self.load_and_slope(e);
            (found - load, slope)
        };
        // The short bearing's load grows as e near the middle and as 1/(1 - e)^2 near the wall; both at once for a guess.
        let relative = load / (PI * self.width_ratio.powi(2));
        let guess = relative / (relative + 1.0 + relative.sqrt());
        Ok(self.at(bracketed_newton("eccentricity of a bearing", balance, 0.0, MOST_ECCENTRIC, guess)?))
    }

    /// Load and its slope by eccentricity.
    fn load_and_slope(&self, e: f64) -> (f64, f64) {
        let narrow = 1.0 - e * e;
        let blend = PI * PI * narrow + 16.0 * e * e;
        let per_e = self.width_ratio.powi(2) * blend.sqrt() / (narrow * narrow);
        let per_e_growth = (16.0 - PI * PI) * e / blend + 4.0 * e / narrow;
        let (ratio, ratio_slope) = between(&self.load, e);
        (e * per_e * ratio, per_e * (ratio + e * ratio_slope + e * ratio * per_e_growth))
    }
}

/// The ratio at an eccentricity, and its slope: cubics in the logarithm, through the nodes and with the slopes there that five
/// neighbours give.
fn between(row: &[f64; COLUMNS], eccentricity: f64) -> (f64, f64) {
    let last = COLUMNS - 1;
    let scale = last as f64 / LEAST_FILM.ln();
    let place = (1.0 - eccentricity).ln() * scale;
    let left = (place.floor().max(0.0) as usize).min(last - 1);
    let t = place - left as f64;
    let (a, b, rise) = (node_slope(row, left), node_slope(row, left + 1), row[left + 1] - row[left]);
    let (square, cube) = (3.0 * rise - 2.0 * a - b, a + b - 2.0 * rise);
    let ratio = (row[left] + t * (a + t * (square + t * cube))).exp();
    let slope = a + t * (2.0 * square + 3.0 * t * cube);
    (ratio, -ratio * slope * scale / (1.0 - eccentricity))
}

/// Slope per column at a node, to the fourth order: of the five nodes around it, or the first or last five.
fn node_slope(row: &[f64; COLUMNS], node: usize) -> f64 {
    const WEIGHTS: [[f64; 5]; 5] = [
        [-25.0, 48.0, -36.0, 16.0, -3.0],
        [-3.0, -10.0, 18.0, -6.0, 1.0],
        [1.0, -8.0, 0.0, 8.0, -1.0],
        [-1.0, 6.0, -18.0, 10.0, 3.0],
        [3.0, -16.0, 36.0, -48.0, 25.0],
    ];
    let first = node.saturating_sub(2).min(COLUMNS - 5);
    WEIGHTS[node - first].iter().zip(&row[first..]).map(|(weight, value)| weight * value).sum::<f64>() / 12.0
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn widths() -> impl Strategy<Value = f64> {
        (WIDTHS[0].ln()..WIDTHS[1].ln()).prop_map(f64::exp)
    }

    proptest! {
        #[test]
        fn load_and_eccentricity_are_each_others_inverse(width in widths(), eccentricity in 0.0..MOST_ECCENTRIC) {
            let films = Films::of(width);
            let film = films.carrying(films.at(eccentricity).load)?;
            prop_assert!((film.eccentricity - eccentricity).abs() < 1e-8, "{} {eccentricity}", film.eccentricity);
        }

        #[test]
        fn the_load_rises_with_eccentricity_and_its_slope_is_its_slope(width in widths(), eccentricity in 1e-4..0.9799) {
            const STEP: f64 = 1e-7;
            let films = Films::of(width);
            let (load, slope) = films.load_and_slope(eccentricity);
            let above = films.load_and_slope(eccentricity + STEP).0;
            prop_assert!(above > load);
            let difference = (above - films.load_and_slope(eccentricity - STEP).0) / (2.0 * STEP);
            prop_assert!((slope / difference - 1.0).abs() < 1e-4, "{slope} {difference}");
        }

        #[test]
        fn a_wider_bearing_carries_more_per_width_but_less_than_short_theory_says(width in 0.05..1.8, eccentricity in 0.01..0.98) {
            let (here, wider) = (Films::of(width).at(eccentricity), Films::of(1.1 * width).at(eccentricity));
            prop_assert!(wider.load > here.load);
            prop_assert!(wider.load < here.load * 1.21);
            // The peak of a wide one hardly grows any more.
            prop_assert!(wider.peak > here.peak * 0.999);
        }

        #[test]
        fn the_peak_is_above_the_mean(width in widths(), eccentricity in 0.01..0.98) {
            // Mean pressure W/(2 r l) is half the load in these units.
            let film = Films::of(width).at(eccentricity);
            prop_assert!(film.peak > 0.5 * film.load);
            prop_assert!(film.attitude > 0.0 && film.attitude < PI / 2.0);
        }
    }

    #[test]
    fn a_centred_bearing_is_petroffs() {
        let film = Films::of(0.5).carrying(0.0).expect("a film");
        assert_eq!((film.eccentricity, film.load, film.side_flow), (0.0, 0.0, 0.0));
        assert!((film.drag - TAU).abs() < 1e-15);
    }
}
