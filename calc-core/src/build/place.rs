//! Every single number of a build sheet and of its consequences by name, so that calculations over a whole build can be told
//! which to vary, to want, to limit or to compare.
//!
//! A name is the path of the field in the request or answer of the build sheet, names joined by `/`: a JSON Pointer without
//! its first stroke. A place is looked up once; reading and writing through it is then a plain access to the field. A new
//! field of the sheet is one line in [`INPUTS`], a new result one line in [`RESULTS`].

use crate::units::{
    Acceleration, Altitude, Angle, Area, Length, Pressure, Quantity, Ratio, RotationalSpeed, Speed, Temperature,
    TemperatureDifference, Volume,
};

use super::evaluate::{Evaluation, Missing};
use super::sheet::{Atmosphere, Build, Camshaft, Running};

/// What kind of quantity a place holds.
#[derive(Debug, Clone, Copy)]
pub struct Dimension {
    /// What it is called in messages: `length`.
    pub name: &'static str,
    shown: fn(f64) -> String,
    difference: fn(f64) -> String,
}

impl Dimension {
    const fn of<Q: Quantity>() -> Self {
        Self { name: Q::NAME, shown: |si| Q::from_si(si).shown(), difference: |si| Q::from_si(si).shown() }
    }

    /// A temperature's differences are another quantity than itself.
    const fn of_temperature() -> Self {
        Self { difference: |si| TemperatureDifference::from_si(si).shown(), ..Self::of::<Temperature>() }
    }

    /// A value in shop units, for messages.
    #[must_use]
    pub fn shown(&self, si: f64) -> String {
        (self.shown)(si)
    }

    /// A difference of two values in shop units, for messages.
    #[must_use]
    pub fn shown_difference(&self, si: f64) -> String {
        (self.difference)(si)
    }
}

/// One number of the build sheet.
#[derive(Debug, Clone, Copy)]
pub struct Input {
    /// `block/bore`.
    pub path: &'static str,
    /// What it measures.
    pub dimension: Dimension,
    /// Whether it counts things: only whole numbers make sense.
    pub whole: bool,
    get: fn(&Build) -> Option<f64>,
    set: fn(&mut Build, f64) -> bool,
}

impl Input {
    /// The input with this path.
    #[must_use]
    pub fn at(path: &str) -> Option<&'static Self> {
        INPUTS.iter().find(|place| place.path == path)
    }

    /// The value in SI units; none when the sheet does not give it.
    #[must_use]
    pub fn get(&self, build: &Build) -> Option<f64> {
        (self.get)(build)
    }

    /// Gives the sheet another value, in SI units, whether it had one or not. The first field of an absent section begins the
    /// section. False when that cannot be: the field belongs to an absent section that another field must begin, or a count is
    /// not whole. The value itself is judged by the sheet's own rules.
    #[must_use]
    pub fn set(&self, build: &mut Build, si: f64) -> bool {
        (self.set)(build, si)
    }
}

/// One number of what follows from a build sheet.
#[derive(Debug, Clone, Copy)]
pub struct Output {
    /// `geometry/squish_clearance`.
    pub path: &'static str,
    /// What it measures.
    pub dimension: Dimension,
    get: fn(&Evaluation) -> Option<f64>,
}

impl Output {
    /// The result with this path.
    #[must_use]
    pub fn at(path: &str) -> Option<&'static Self> {
        RESULTS.iter().find(|place| place.path == path)
    }

    /// The value in SI units, a share as a share of one; none when the sheet lacks an input that it needs.
    #[must_use]
    pub fn get(&self, evaluation: &Evaluation) -> Option<f64> {
        (self.get)(evaluation)
    }

    /// What to say when an evaluation lacks this result.
    #[must_use]
    pub fn needs(&self, evaluation: &Evaluation) -> String {
        let inside = |missing: &&Missing| self.path.starts_with(missing.result);
        let needs: Vec<&str> = evaluation.missing.iter().filter(inside).map(|missing| missing.needs).collect();
        if needs.is_empty() {
            return "needs an input that the build does not give.".to_owned();
        }
        format!("needs an input that the build does not give: {}.", needs.join(", "))
    }
}

/// What a quantity measures.
macro_rules! dimension {
    (Temperature) => {
        Dimension::of_temperature()
    };
    ($quantity:ident) => {
        Dimension::of::<$quantity>()
    };
}
/// A field that every sheet has.
macro_rules! always {
    ($quantity:ident, $section:ident.$field:ident) => {
        Input {
            path: concat!(stringify!($section), "/", stringify!($field)),
            dimension: dimension!($quantity),
            whole: false,
            get: |build| Some(build.$section.$field.si()),
            set: |build, si| {
                build.$section.$field = $quantity::from_si(si);
                true
            },
        }
    };
}

/// A field that may be absent, in a section that every sheet has.
macro_rules! maybe {
    ($quantity:ident, $section:ident.$field:ident) => {
        Input {
            path: concat!(stringify!($section), "/", stringify!($field)),
            dimension: dimension!($quantity),
            whole: false,
            get: |build| build.$section.$field.map(Quantity::si),
            set: |build, si| {
                build.$section.$field = Some($quantity::from_si(si));
                true
            },
        }
    };
}

/// The field that an optional section cannot be without; `$new` begins the section.
macro_rules! begins {
    ($quantity:ident, $section:ident.$field:ident, $new:expr) => {
        Input {
            path: concat!(stringify!($section), "/", stringify!($field)),
            dimension: dimension!($quantity),
            whole: false,
            get: |build| build.$section.as_ref().map(|section| section.$field.si()),
            set: |build, si| {
                let value = $quantity::from_si(si);
                match &mut build.$section {
                    Some(section) => section.$field = value,
                    None => build.$section = Some($new(value)),
                }
                true
            },
        }
    };
}

/// A field that may be absent, in an optional section.
macro_rules! within {
    ($quantity:ident, $section:ident.$field:ident) => {
        Input {
            path: concat!(stringify!($section), "/", stringify!($field)),
            dimension: dimension!($quantity),
            whole: false,
            get: |build| build.$section.as_ref()?.$field.map(Quantity::si),
            set: |build, si| match &mut build.$section {
                Some(section) => {
                    section.$field = Some($quantity::from_si(si));
                    true
                }
                None => false,
            },
        }
    };
}

/// A result that every sound sheet has: a quantity, or a plain ratio.
macro_rules! result {
    (Ratio, $path:literal, $($field:ident).+) => {
        Output { path: $path, dimension: dimension!(Ratio), get: |evaluation| Some(evaluation.$($field).+) }
    };
    ($quantity:ident, $path:literal, $($field:ident).+) => {
        Output { path: $path, dimension: dimension!($quantity), get: |evaluation| Some(evaluation.$($field).+.si()) }
    };
}

/// A result that needs an optional input: how it is found, as an optional number.
macro_rules! result_if {
    ($quantity:ident, $path:literal, $get:expr) => {
        Output { path: $path, dimension: dimension!($quantity), get: $get }
    };
}

/// Every number of the build sheet, in its order. Readings of single cylinders are lists and have no place here.
pub static INPUTS: &[Input] = &[
    Input {
        path: "engine/cylinders",
        dimension: dimension!(Ratio),
        whole: true,
        get: |build| Some(f64::from(build.engine.cylinders)),
        set: |build, count| {
            let whole = (0.0..=f64::from(u32::MAX)).contains(&count) && count.fract() == 0.0;
            if whole {
                build.engine.cylinders = count as u32;
            }
            whole
        },
    },
    maybe!(Angle, engine.bank_angle),
    maybe!(Volume, engine.label_displacement),
    always!(Length, block.bore),
    always!(Length, block.deck_height),
    always!(Length, crankshaft.stroke),
    always!(Length, connecting_rod.length),
    always!(Length, piston.compression_height),
    always!(Volume, piston.dish_volume),
    always!(Volume, piston.dome_volume),
    always!(Length, piston.pin_offset),
    maybe!(Length, piston.top_land_height),
    maybe!(Length, piston.top_land_diameter),
    always!(Volume, cylinder_head.chamber_volume),
    maybe!(Length, head_gasket.bore),
    maybe!(Area, head_gasket.opening_area),
    always!(Length, head_gasket.compressed_thickness),
    begins!(Angle, camshaft.intake_closes_abdc, |intake_closes_abdc| Camshaft {
        intake_closes_abdc,
        at_lift: None,
        seat_difference: None
    }),
    within!(Length, camshaft.at_lift),
    within!(Angle, camshaft.seat_difference),
    begins!(RotationalSpeed, running.engine_speed, |engine_speed| Running { engine_speed }),
    begins!(Altitude, atmosphere.altitude, |altitude| Atmosphere { altitude, intake_temperature: None }),
    within!(Temperature, atmosphere.intake_temperature),
];

/// Every single number of the answer to a build sheet, in its order. The cylinders one by one are a list and have no place
/// here.
pub static RESULTS: &[Output] = &[
    result!(Volume, "geometry/displacement", geometry.displacement),
    result!(Volume, "geometry/displacement_litres", geometry.displacement),
    result_if!(Ratio, "geometry/label_difference_percent", |of| of.geometry.label_difference_ratio),
    result!(Volume, "geometry/swept_volume", geometry.swept_volume),
    result!(Length, "geometry/actual_stroke", geometry.actual_stroke),
    result!(Ratio, "geometry/bore_stroke_ratio", geometry.bore_stroke_ratio),
    result!(Ratio, "geometry/rod_stroke_ratio", geometry.rod_stroke_ratio),
    result!(Length, "geometry/deck_clearance", geometry.deck_clearance),
    result!(Length, "geometry/squish_clearance", geometry.squish_clearance),
    result_if!(Speed, "geometry/mean_piston_speed", |of| Some(of.geometry.running?.mean_speed.si())),
    result_if!(Speed, "geometry/peak_piston_speed", |of| Some(of.geometry.running?.peak_speed.si())),
    result!(Angle, "geometry/peak_piston_speed_angle", geometry.peak_piston_speed_angle),
    result_if!(Acceleration, "geometry/peak_piston_acceleration", |of| {
        Some(of.geometry.running?.peak_acceleration.si())
    }),
    result!(Ratio, "compression/static_ratio", compression.static_ratio),
    result!(Volume, "compression/clearance_volume", compression.clearance_volume),
    result!(Volume, "compression/volumes/chamber", compression.volumes.chamber),
    result!(Volume, "compression/volumes/gasket", compression.volumes.gasket),
    result!(Volume, "compression/volumes/deck", compression.volumes.deck),
    result!(Volume, "compression/volumes/dish", compression.volumes.dish),
    result!(Volume, "compression/volumes/dome", compression.volumes.dome),
    result!(Volume, "compression/volumes/top_land", compression.volumes.top_land),
    result_if!(Ratio, "compression/trapped_ratio", |of| Some(of.compression.trapped?.ratio)),
    result_if!(Volume, "compression/trapped_volume", |of| Some(of.compression.trapped?.volume.si())),
    result_if!(Pressure, "compression/end_of_compression/start_pressure", |of| {
        Some(of.compression.end_of_compression?.charge.trapped.pressure.si())
    }),
    result_if!(Temperature, "compression/end_of_compression/start_temperature", |of| {
        Some(of.compression.end_of_compression?.charge.trapped.temperature.si())
    }),
    result_if!(Ratio, "compression/end_of_compression/density_ratio", |of| {
        Some(of.compression.end_of_compression?.charge.density_ratio)
    }),
    result_if!(Pressure, "compression/end_of_compression/end_pressure", |of| {
        Some(of.compression.end_of_compression?.end_pressure.si())
    }),
    result_if!(Temperature, "compression/end_of_compression/end_temperature", |of| {
        Some(of.compression.end_of_compression?.end_temperature.si())
    }),
    result_if!(Pressure, "compression/end_of_compression/cranking_gauge_pressure/low", |of| {
        Some(of.compression.end_of_compression?.cranking.low.si())
    }),
    result_if!(Pressure, "compression/end_of_compression/cranking_gauge_pressure/high", |of| {
        Some(of.compression.end_of_compression?.cranking.high.si())
    }),
    result_if!(Ratio, "compression/ratio_spread", |of| of.compression.ratio_spread),
];

#[cfg(test)]
mod tests {
    use super::super::tests::demo;
    use super::*;

    #[test]
    fn what_is_set_is_read_back_and_nothing_else_changes() {
        for place in INPUTS {
            let mut build = demo();
            let before: Vec<_> = INPUTS.iter().map(|other| other.get(&build)).collect();
            let value = before.iter().flatten().sum::<f64>().round() + 1.0;
            assert!(place.set(&mut build, value), "{}", place.path);
            assert_eq!(place.get(&build), Some(value), "{}", place.path);
            for (other, earlier) in INPUTS.iter().zip(before).filter(|(other, _)| other.path != place.path) {
                assert_eq!(other.get(&build), earlier, "{} changed {}", place.path, other.path);
            }
        }
    }

    #[test]
    fn a_section_is_begun_by_its_first_field_only() {
        let mut build = Build { camshaft: None, ..demo() };
        let (lift, closing) =
            (Input::at("camshaft/at_lift").unwrap(), Input::at("camshaft/intake_closes_abdc").unwrap());
        assert!(!lift.set(&mut build, 0.001));
        assert_eq!(build.camshaft, None);
        assert!(closing.set(&mut build, 1.0) && lift.set(&mut build, 0.001));
    }

    #[test]
    fn half_a_cylinder_is_refused() {
        let cylinders = Input::at("engine/cylinders").unwrap();
        for count in [7.5, -1.0, 1e10, f64::NAN] {
            assert!(!cylinders.set(&mut demo(), count));
        }
    }

    #[test]
    fn every_path_stands_once() {
        let paths: Vec<_> =
            INPUTS.iter().map(|place| place.path).chain(RESULTS.iter().map(|place| place.path)).collect();
        for (index, path) in paths.iter().enumerate() {
            assert!(!paths[index + 1..].contains(path), "{path}");
        }
    }

    #[test]
    fn a_temperature_differs_by_degrees_without_an_offset() {
        let dimension = Input::at("atmosphere/intake_temperature").unwrap().dimension;
        assert_eq!(dimension.shown(288.15), "59 degF (15 degC)");
        assert_eq!(dimension.shown_difference(15.0), "27 degF (15 degC)");
    }
}
