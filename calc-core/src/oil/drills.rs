//! Drills that can be bought: number, letter, fractional and metric sizes.

use crate::method::Method;
use crate::units::Length;

/// Where the sizes come from.
pub const METHOD: Method = Method {
    id: "drill-sizes",
    title: "Standard drill sizes",
    equation: "Tables: number sizes 1 to 97, letter sizes A to Z, fractions by 64ths of an inch up to 1-1/2 in; metric sizes by 0.02 \
         and 0.03 mm from 0.2 to 1 mm, by 0.05 mm to 3 mm, by 0.1 mm to 14 mm, by 0.25 mm to 25 mm.",
    valid_for: "The drill, not the hole: a twist drill usually cuts a little larger than itself, and a ground-over one anything. Gauge \
         the hole with pins.",
    sources: &[
        "ASME B94.11M, Twist Drills (number, letter and fractional sizes; from memory, compared with public reprints)",
        "ISO 235 and BS 328, Parallel shank twist drills (metric series; steps as in public reprints)",
    ],
};

/// A family of sizes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Series {
    /// Number gauge: 97 smallest, 1 largest.
    Number,
    /// Letter gauge: A smallest, Z largest.
    Letter,
    /// 64ths of an inch.
    Fractional,
    /// Millimetres.
    Metric,
}

impl Series {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Number, Self::Letter, Self::Fractional, Self::Metric];
}

/// One drill.
#[derive(Debug, Clone, PartialEq)]
pub struct Drill {
    /// Its family.
    pub series: Series,
    /// What is stamped on it: `43`, `Q`, `7/16 in`, `2.35 mm`.
    pub name: String,
    /// Its diameter.
    pub diameter: Length,
}

/// Number sizes 1 to 97, in ten-thousandths of an inch.
const NUMBERS: [u16; 97] = [
    2280, 2210, 2130, 2090, 2055, 2040, 2010, 1990, 1960, 1935, 1910, 1890, 1850, 1820, 1800, 1770, 1730, 1695, 1660,
    1610, 1590, 1570, 1540, 1520, 1495, 1470, 1440, 1405, 1360, 1285, 1200, 1160, 1130, 1110, 1100, 1065, 1040, 1015,
    995, 980, 960, 935, 890, 860, 820, 810, 785, 760, 730, 700, 670, 635, 595, 550, 520, 465, 430, 420, 410, 400, 390,
    380, 370, 360, 350, 330, 320, 310, 292, 280, 260, 250, 240, 225, 210, 200, 180, 160, 145, 135, 130, 125, 120, 115,
    110, 105, 100, 95, 91, 87, 83, 79, 75, 71, 67, 63, 59,
];

/// Letter sizes A to Z, in thousandths of an inch.
const LETTERS: [u16; 26] = [
    234, 238, 242, 246, 250, 257, 261, 266, 272, 277, 281, 290, 295, 302, 316, 323, 332, 339, 348, 358, 368, 377, 386,
    397, 404, 413,
];

/// Largest fraction, in 64ths of an inch.
const MOST_64THS: u16 = 96;

/// A diameter nearer than this share to a drill's is that drill's.
const SAME: f64 = 1e-9;

/// The largest drill of a series that is not larger than a diameter, and the smallest that is.
///
/// **Equation** Search of the table.
///
/// **Shape** One diameter; none on a side where the series has ended.
///
/// **Units** Lengths.
///
/// **Valid for** Any diameter.
///
/// **Errors** None.
///
/// **Source** ASME B94.11M; ISO 235 for metric sizes.
#[must_use]
pub fn nearest(series: Series, diameter: Length) -> [Option<Drill>; 2] {
    let metres = diameter.metres() * (1.0 + SAME);
    let by_size = |a: &Drill, b: &Drill| a.diameter.metres().total_cmp(&b.diameter.metres());
    let (below, above): (Vec<_>, Vec<_>) = sizes(series).partition(|drill| drill.diameter.metres() <= metres);
    [below.into_iter().max_by(by_size), above.into_iter().min_by(by_size)]
}

/// Every drill of a series.
fn sizes(series: Series) -> Box<dyn Iterator<Item = Drill>> {
    let drill = move |name: String, diameter: Length| Drill { series, name, diameter };
    match series {
        Series::Number => Box::new((1..).zip(NUMBERS).map(move |(number, size): (u32, u16)| {
            drill(number.to_string(), Length::from_inches(f64::from(size) * 1e-4))
        })),
        Series::Letter => Box::new(
            ('A'..='Z')
                .zip(LETTERS)
                .map(move |(letter, size)| drill(letter.to_string(), Length::from_inches(f64::from(size) * 1e-3))),
        ),
        Series::Fractional => Box::new(
            (1..=MOST_64THS).map(move |parts| drill(fraction(parts), Length::from_inches(f64::from(parts) / 64.0))),
        ),
        Series::Metric => Box::new(hundredths().map(move |parts| {
            let millimetres = f64::from(parts) / 100.0;
            drill(format!("{millimetres} mm"), Length::from_millimetres(millimetres))
        })),
    }
}

/// Metric sizes in hundredths of a millimetre.
fn hundredths() -> impl Iterator<Item = u16> {
    let fine = (20..100).filter(|parts| [0, 2, 5, 8].contains(&(parts % 10)));
    fine.chain((100..300).step_by(5)).chain((300..1400).step_by(10)).chain((1400..=2500).step_by(25))
}

/// `7/16 in`, `1-9/64 in`.
fn fraction(parts: u16) -> String {
    let (whole, mut top, mut bottom) = (parts / 64, parts % 64, 64);
    if top == 0 {
        return format!("{whole} in");
    }
    while top % 2 == 0 {
        (top, bottom) = (top / 2, bottom / 2);
    }
    if whole == 0 { format!("{top}/{bottom} in") } else { format!("{whole}-{top}/{bottom} in") }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn a_diameter_lies_between_its_two_drills(inches in 0.001..2.0) {
            for series in Series::ALL {
                let [below, above] = nearest(series, Length::from_inches(inches));
                prop_assert!(below.is_some() || above.is_some());
                prop_assert!(below.is_none_or(|drill| drill.diameter.inches() <= inches * (1.0 + 1e-8)));
                prop_assert!(above.is_none_or(|drill| drill.diameter.inches() > inches));
            }
        }
    }

    #[test]
    fn every_series_rises_or_falls_without_a_step_back() {
        for series in Series::ALL {
            let list: Vec<_> = sizes(series).map(|drill| drill.diameter.metres()).collect();
            let falling = series == Series::Number;
            assert!(list.windows(2).all(|pair| (pair[0] > pair[1]) == falling && pair[0] != pair[1]), "{series:?}");
            for (drill, metres) in sizes(series).zip(list) {
                let [itself, _] = nearest(series, Length::from_metres(metres));
                assert_eq!(itself, Some(drill));
            }
        }
        // The 230 sizes of BS 328, without the three above 25 mm.
        assert_eq!(sizes(Series::Metric).count(), 227);
    }

    #[test]
    fn fractions_are_in_lowest_terms() {
        assert_eq!([28, 73, 64, 1, 48].map(fraction), ["7/16 in", "1-9/64 in", "1 in", "1/64 in", "3/4 in"]);
    }
}
