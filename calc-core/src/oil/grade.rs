//! Viscosity grades of engine oils: windows, never one value.

use crate::caution::COMMON_PRACTICE;
use crate::method::Method;
use crate::units::{DynamicViscosity, KinematicViscosity, Temperature};

use super::viscosity_index::viscosity_at_40;

/// How a grade becomes an oil.
pub const METHOD: Method = Method {
    id: "oil-grade-window",
    title: "The window of an engine-oil viscosity grade",
    equation: "Viscosity at 100 degrees C: low the grade's least, high its most, typical the middle of the two; a multigrade oil \
         also meets the least of its W grade. Viscosity at 40 degrees C from an assumed viscosity index: 100 without a W grade, 105 \
         with 25W, 120 with 20W, 135 with 15W, 145 with 10W, 160 with 5W, 170 with 0W (common practice, no source).",
    valid_for: "New oil. A grade is a class, not an oil: two oils of one grade may differ by a third at 100 degrees C and by more \
         when cold. A W grade alone has no upper limit and gives no window. Use the oil's own data sheet where it matters.",
    sources: &[
        "SAE J300, Engine Oil Viscosity Classification, table 1, as reprinted in public tables of the editions of 1999 and 2015; \
         grades 8, 12 and 16 and the limit of grade 20 from memory",
    ],
};

/// Which oil of a grade's window is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GradePoint {
    /// The thinnest that may bear the grade.
    Low,
    /// The middle of the window.
    Typical,
    /// The thickest that may bear it.
    High,
}

/// A viscosity grade: hot, and cold where it is a multigrade.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Grade {
    winter: Option<usize>,
    hot: usize,
}

struct Winter {
    name: &'static str,
    /// Least viscosity at 100 degrees C, mm2/s.
    least: f64,
    /// Temperature of the pumping test, degrees C.
    pumping: f64,
    /// Assumed viscosity index: common practice, no source.
    index: f64,
}

struct Hot {
    name: &'static str,
    /// Viscosity at 100 degrees C, mm2/s: at least, below.
    window: [f64; 2],
    /// Least viscosity at 150 degrees C and high shear, mPa s.
    high_shear: f64,
}

const fn winter(name: &'static str, least: f64, pumping: f64, index: f64) -> Winter {
    Winter { name, least, pumping, index }
}

const fn hot(name: &'static str, window: [f64; 2], high_shear: f64) -> Hot {
    Hot { name, window, high_shear }
}

const WINTER: [Winter; 6] = [
    winter("0W", 3.8, -40.0, 170.0),
    winter("5W", 3.8, -35.0, 160.0),
    winter("10W", 4.1, -30.0, 145.0),
    winter("15W", 5.6, -25.0, 135.0),
    winter("20W", 5.6, -20.0, 120.0),
    winter("25W", 9.3, -15.0, 105.0),
];

const HOT: [Hot; 8] = [
    hot("8", [4.0, 6.1], 1.7),
    hot("12", [5.0, 7.1], 2.0),
    hot("16", [6.1, 8.2], 2.3),
    hot("20", [6.9, 9.3], 2.6),
    hot("30", [9.3, 12.5], 2.9),
    hot("40", [12.5, 16.3], 3.7),
    hot("50", [16.3, 21.9], 3.7),
    hot("60", [21.9, 26.1], 3.7),
];

/// The high-shear limit of 0W-40, 5W-40 and 10W-40 (mPa s); thicker winter grades of 40 have the table's.
const LIGHT_40_HIGH_SHEAR: f64 = 3.5;
/// Viscosity index of an oil without a W grade: common practice, no source.
const SINGLE_INDEX: f64 = 100.0;

impl Grade {
    /// Every grade that has a window.
    pub fn all() -> impl Iterator<Item = Self> {
        let winters = std::iter::once(None).chain((0..WINTER.len()).map(Some));
        winters
            .flat_map(|winter| (0..HOT.len()).map(move |hot| Self { winter, hot }))
            .filter(|grade| grade.ends()[0] < grade.ends()[1])
    }

    /// The grade of this name: `10W-30`, `30`.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::all().find(|grade| grade.name() == name)
    }

    /// Its name.
    #[must_use]
    pub fn name(self) -> String {
        let hot = HOT[self.hot].name;
        self.winter.map_or_else(|| hot.to_owned(), |winter| format!("{}-{hot}", WINTER[winter].name))
    }

    /// Least and most viscosity at 100 degrees C, mm2/s.
    fn ends(self) -> [f64; 2] {
        let [least, most] = HOT[self.hot].window;
        let winter_least = self.winter.map_or(0.0, |winter| WINTER[winter].least);
        [least.max(winter_least), most]
    }

    /// Viscosity at 100 degrees C of one oil of the window.
    #[must_use]
    pub fn viscosity_at_100(self, point: GradePoint) -> KinematicViscosity {
        let [least, most] = self.ends();
        KinematicViscosity::from_square_millimetres_per_second(match point {
            GradePoint::Low => least,
            GradePoint::Typical => 0.5 * (least + most),
            GradePoint::High => most,
        })
    }

    /// Viscosity at 40 degrees C of the same oil, by the assumed viscosity index.
    #[must_use]
    pub fn viscosity_at_40(self, point: GradePoint) -> KinematicViscosity {
        viscosity_at_40(self.viscosity_at_100(point), self.assumed_index())
    }

    /// The viscosity index assumed of the grade.
    #[must_use]
    pub fn assumed_index(self) -> f64 {
        self.winter.map_or(SINGLE_INDEX, |winter| WINTER[winter].index)
    }

    /// Least viscosity at 150 degrees C and high shear.
    #[must_use]
    pub fn least_high_shear(self) -> DynamicViscosity {
        let light = self.winter.is_some_and(|winter| WINTER[winter].pumping <= -30.0);
        let limit = if HOT[self.hot].name == "40" && light { LIGHT_40_HIGH_SHEAR } else { HOT[self.hot].high_shear };
        DynamicViscosity::from_millipascal_seconds(limit)
    }

    /// The temperature down to which the W grade's oils are proved to be pumped.
    #[must_use]
    pub fn pumping_limit(self) -> Option<Temperature> {
        self.winter.map(|winter| Temperature::from_degrees_celsius(WINTER[winter].pumping))
    }
}

/// What an oil that is known by its grade rests on.
pub const ASSUMPTION_SOURCE: &str = COMMON_PRACTICE;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_lead_back_to_their_grade_and_windows_are_in_order() {
        let mut count = 0;
        for grade in Grade::all() {
            count += 1;
            assert_eq!(Grade::named(&grade.name()), Some(grade));
            let at = |point| (grade.viscosity_at_100(point), grade.viscosity_at_40(point));
            assert!(
                at(GradePoint::Low).0 < at(GradePoint::Typical).0 && at(GradePoint::Typical).0 < at(GradePoint::High).0
            );
            assert!(
                at(GradePoint::Low).1 < at(GradePoint::Typical).1 && at(GradePoint::Typical).1 < at(GradePoint::High).1
            );
        }
        // Eight single grades; 25W goes only with those from 30 on.
        assert_eq!(count, 8 + 6 * 8 - 4);
        assert!(Grade::named("25W-20").is_none() && Grade::named("10W").is_none() && Grade::named("").is_none());
    }
}
