//! The equation of every single result of a build, as data beside the table of places: what is printed when an answer is
//! explained.
//!
//! An equation is written for quantities, not for figures: each symbol carries its unit, so that no factor of a unit stands in
//! it. A result may have several equations; the first whose symbols all have a value, and whose condition holds, is the one
//! that was used. A result without an equation is found by a test.

use crate::compression::gas::Gas;
use crate::compression::{end_state, standard_atmosphere, r#static, trapped};
use crate::geometry::slider_crank::SliderCrank;
use crate::geometry::{deck_stack, displacement, piston_motion};

use super::evaluate::Evaluation;
use super::every_place::{CHAMBERS, DECKS};
use super::sheet::Build;
use Meaning::{Constant, Found, Input, OfCylinder, Output, Reading};

/// What a symbol stands for.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Meaning {
    /// An input of the sheet, by its path.
    Input(&'static str),
    /// Another result, by its path.
    Output(&'static str),
    /// A result of the same cylinder, by its last name; only for results of single cylinders.
    OfCylinder(&'static str),
    /// The same cylinder's reading of a list, or the input that stands for it when there is none.
    Reading(&'static str, &'static str),
    /// A constant with its unit, as it is printed.
    Constant(&'static str),
    /// A number found on the way that is no result of its own, in the unit named beside it.
    Found(fn(&Build, &Evaluation) -> Option<f64>, &'static str),
}

/// One equation of one result.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Equation {
    /// Path of the result; of a single cylinder's, with a star for the cylinder.
    pub(crate) result: &'static str,
    /// The right-hand side.
    pub(crate) text: &'static str,
    /// Parts of the right-hand side that have a name, each as its own right-hand side.
    pub(crate) parts: &'static [(&'static str, &'static str)],
    /// What the symbols mean.
    pub(crate) symbols: &'static [Symbol],
    /// The method it belongs to, whose sources are the equation's.
    pub(crate) method: &'static str,
    /// When it is the one that was used.
    pub(crate) used_when: fn(&Build, &Evaluation) -> bool,
}

type Symbol = (&'static str, Meaning);

impl Equation {
    const fn new(result: &'static str, method: &'static str, text: &'static str, symbols: &'static [Symbol]) -> Self {
        Self { result, text, parts: &[], symbols, method, used_when: |_, _| true }
    }

    const fn with(self, parts: &'static [(&'static str, &'static str)]) -> Self {
        Self { parts, ..self }
    }

    const fn when(self, used_when: fn(&Build, &Evaluation) -> bool) -> Self {
        Self { used_when, ..self }
    }
}

const N: Symbol = ("n", Input("engine/cylinders"));
const B: Symbol = ("B", Input("block/bore"));
const H: Symbol = ("H", Input("block/deck_height"));
const S: Symbol = ("S", Input("crankshaft/stroke"));
const L: Symbol = ("L", Input("connecting_rod/length"));
const E: Symbol = ("e", Input("piston/pin_offset"));
const W: Symbol = ("w", Input("running/engine_speed"));
const GASKET_THICKNESS: Symbol = ("t", Input("head_gasket/compressed_thickness"));
const TRAVEL: Symbol = ("S", Output("geometry/actual_stroke"));
const SWEPT: Symbol = ("Vs", Output("geometry/swept_volume"));
const CLEARANCE: Symbol = ("Vc", Output("compression/clearance_volume"));
const DECK: Symbol = ("c", Output("geometry/deck_clearance"));
const RATIO: Symbol = ("E", Output("compression/trapped_ratio"));
const START_PRESSURE: Symbol = ("p1", Output("compression/end_of_compression/start_pressure"));
const START_TEMPERATURE: Symbol = ("T1", Output("compression/end_of_compression/start_temperature"));
const END_TEMPERATURE: Symbol = ("T2", Output("compression/end_of_compression/end_temperature"));
const ALTITUDE: Symbol = ("H", Input("atmosphere/altitude"));
const SEA_LEVEL_TEMPERATURE: Symbol = ("T0", Constant("288.15 K"));
const SEA_LEVEL_PRESSURE: Symbol = ("p0", Constant("101325 Pa"));
const LAPSE: Symbol = ("b", Constant("0.0065 K/m"));
const TROPOPAUSE: Symbol = ("Ht", Constant("11000 m"));

/// The crank's radius, its position from upright a crank angle after true top centre, and the rod's two sides.
const MOTION: &[(&str, &str)] =
    &[("r", "S/2"), ("a", "A + asin(e/(L + r))"), ("x", "r*sin(a) - e"), ("u", "sqrt(L^2 - x^2)")];
const AT_PEAK_SPEED: Symbol = ("A", Output("geometry/peak_piston_speed_angle"));

const DISPLACEMENT: &str = displacement::METHOD.id;
const STACK: &str = deck_stack::METHOD.id;
const CRANK: &str = piston_motion::METHOD.id;
const STATIC: &str = r#static::METHOD.id;
const TRAPPED: &str = trapped::METHOD.id;
const AIR: &str = standard_atmosphere::METHOD.id;
const END: &str = end_state::METHOD.id;

/// Every equation, in the order of the results.
pub(crate) static EQUATIONS: &[Equation] = &[
    Equation::new("geometry/displacement", DISPLACEMENT, "n*(pi/4)*B^2*S", &[N, B, TRAVEL]),
    Equation::new("geometry/displacement_litres", DISPLACEMENT, "n*(pi/4)*B^2*S", &[N, B, TRAVEL]),
    Equation::new(
        "geometry/label_difference_percent",
        DISPLACEMENT,
        "(V - V_label)/V_label",
        &[("V", Output("geometry/displacement")), ("V_label", Input("engine/label_displacement"))],
    ),
    Equation::new("geometry/swept_volume", DISPLACEMENT, "(pi/4)*B^2*S", &[B, TRAVEL]),
    Equation::new(
        "geometry/actual_stroke",
        CRANK,
        "sqrt((L + r)^2 - e^2) - sqrt((L - r)^2 - e^2)",
        &[S, L, E],
    )
    .with(&[("r", "S/2")]),
    Equation::new("geometry/bore_stroke_ratio", DISPLACEMENT, "B/S", &[B, S]),
    Equation::new("geometry/rod_stroke_ratio", CRANK, "L/S", &[L, S]),
    Equation::new(
        "geometry/deck_clearance",
        STACK,
        "H - sqrt((L + S/2)^2 - e^2) - CH",
        &[H, L, S, E, ("CH", Input("piston/compression_height"))],
    ),
    Equation::new("geometry/squish_clearance", STACK, "c + t", &[DECK, GASKET_THICKNESS]),
    Equation::new("geometry/mean_piston_speed", CRANK, "2*S*w/(2*pi)", &[TRAVEL, W]),
    Equation::new("geometry/peak_piston_speed", CRANK, "w*(r*sin(a) + x*r*cos(a)/u)", &[W, AT_PEAK_SPEED, S, L, E])
        .with(MOTION),
    // The root of y'' = 0, written so that the angle stands on both sides.
    Equation::new(
        "geometry/peak_piston_speed_angle",
        CRANK,
        "acos((x*r*sin(a) - (r*cos(a))^2 - (x*r*cos(a)/u)^2)/(u*r)) - asin(e/(L + r))",
        &[AT_PEAK_SPEED, S, L, E],
    )
    .with(MOTION),
    Equation::new("geometry/peak_piston_acceleration", CRANK, "w^2*(r + r^2/L)", &[W, S, L])
        .with(&[("r", "S/2")])
        .when(|build, _| build.piston.pin_offset.metres() == 0.0),
    Equation::new(
        "geometry/peak_piston_acceleration",
        CRANK,
        "w^2*(r*cos(a) + ((r*cos(a))^2 - x*r*sin(a) + (x*r*cos(a)/u)^2)/u)",
        &[W, ("a", Found(peak_acceleration_at, "deg")), S, L, E],
    )
    .with(&[("r", "S/2"), ("x", "r*sin(a) - e"), ("u", "sqrt(L^2 - x^2)")]),
    Equation::new("compression/static_ratio", STATIC, "(Vs + Vc)/Vc", &[SWEPT, CLEARANCE]),
    Equation::new(
        "compression/clearance_volume",
        STATIC,
        "chamber + gasket + deck + dish - dome + top_land",
        &[
            ("chamber", Output("compression/volumes/chamber")),
            ("gasket", Output("compression/volumes/gasket")),
            ("deck", Output("compression/volumes/deck")),
            ("dish", Output("compression/volumes/dish")),
            ("dome", Output("compression/volumes/dome")),
            ("top_land", Output("compression/volumes/top_land")),
        ],
    ),
    Equation::new(
        "compression/volumes/chamber",
        STATIC,
        "chamber",
        &[("chamber", Input("cylinder_head/chamber_volume"))],
    ),
    Equation::new(
        "compression/volumes/gasket",
        STATIC,
        "A*t",
        &[("A", Input("head_gasket/opening_area")), GASKET_THICKNESS],
    ),
    Equation::new(
        "compression/volumes/gasket",
        STATIC,
        "(pi/4)*Bg^2*t",
        &[("Bg", Input("head_gasket/bore")), GASKET_THICKNESS],
    ),
    Equation::new("compression/volumes/deck", STATIC, "(pi/4)*B^2*c", &[B, DECK]),
    Equation::new("compression/volumes/dish", STATIC, "dish", &[("dish", Input("piston/dish_volume"))]),
    Equation::new("compression/volumes/dome", STATIC, "dome", &[("dome", Input("piston/dome_volume"))]),
    Equation::new(
        "compression/volumes/top_land",
        STATIC,
        "(pi/4)*(B^2 - D^2)*h",
        &[B, ("D", Input("piston/top_land_diameter")), ("h", Input("piston/top_land_height"))],
    ),
    // Height and diameter are given together or not at all.
    Equation::new("compression/volumes/top_land", STATIC, "none", &[("none", Constant("0 cm3"))]),
    Equation::new(
        "compression/trapped_ratio",
        TRAPPED,
        "V/Vc",
        &[("V", Output("compression/trapped_volume")), CLEARANCE],
    ),
    Equation::new(
        "compression/trapped_volume",
        TRAPPED,
        "Vc + (pi/4)*B^2*(h - r*cos(a) - sqrt(L^2 - (r*sin(a) - e)^2))",
        &[
            CLEARANCE,
            B,
            S,
            L,
            E,
            ("closes", Input("camshaft/intake_closes_abdc")),
            ("later", Found(seat_difference, "deg")),
        ],
    )
    .with(&[
        ("r", "S/2"),
        ("h", "sqrt((L + r)^2 - e^2)"),
        ("a", "pi + closes + later + asin(e/(L + r))"),
    ]),
    Equation::new(
        "compression/end_of_compression/start_pressure",
        AIR,
        "p0*(T/T0)^(g/(b*R))*exp(-g*(H - min(H, Ht))/(R*T))",
        &[
            SEA_LEVEL_PRESSURE,
            SEA_LEVEL_TEMPERATURE,
            LAPSE,
            TROPOPAUSE,
            ("g", Constant("9.80665 m/s2")),
            ("R", Constant("287.05287 J/(kg K)")),
            ALTITUDE,
        ],
    )
    .with(&[("T", "T0 - b*min(H, Ht)")]),
    Equation::new(
        "compression/end_of_compression/start_temperature",
        AIR,
        "T",
        &[("T", Input("atmosphere/intake_temperature"))],
    ),
    Equation::new(
        "compression/end_of_compression/start_temperature",
        AIR,
        "T0 - b*min(H, Ht)",
        &[SEA_LEVEL_TEMPERATURE, LAPSE, TROPOPAUSE, ALTITUDE],
    ),
    Equation::new(
        "compression/end_of_compression/density_ratio",
        AIR,
        "p1*T0/(p0*T1)",
        &[START_PRESSURE, START_TEMPERATURE, SEA_LEVEL_PRESSURE, SEA_LEVEL_TEMPERATURE],
    ),
    Equation::new(
        "compression/end_of_compression/end_pressure",
        END,
        "p1*E*T2/T1",
        &[START_PRESSURE, RATIO, END_TEMPERATURE, START_TEMPERATURE],
    ),
    // The balance of entropy, written so that the temperature stands on both sides.
    Equation::new(
        "compression/end_of_compression/end_temperature",
        END,
        "T1/E*exp(a1*ln(T2/T1) + a2*(T2 - T1) + a3/2*(T2^2 - T1^2) + a4/3*(T2^3 - T1^3) + a5/4*(T2^4 - T1^4))",
        &[START_TEMPERATURE, RATIO, END_TEMPERATURE, A[0], A[1], A[2], A[3], A[4]],
    )
    .when(|_, evaluation| !ends_hot(evaluation)),
    Equation::new(
        "compression/end_of_compression/end_temperature",
        END,
        "T1/E*exp(h1*ln(T2/K) - a1*ln(T1/K) + h2*T2 - a2*T1 + (h3*T2^2 - a3*T1^2)/2 + (h4*T2^3 - a4*T1^3)/3 + (h5*T2^4 - \
         a5*T1^4)/4 + h7 - a7)",
        &[
            START_TEMPERATURE,
            RATIO,
            END_TEMPERATURE,
            ("K", Constant("1 K")),
            A[0],
            A[1],
            A[2],
            A[3],
            A[4],
            A[5],
            ("h1", Found(|_, _| Some(Gas::dry_air().hot()[0]), "")),
            ("h2", Found(|_, _| Some(Gas::dry_air().hot()[1]), "1/K")),
            ("h3", Found(|_, _| Some(Gas::dry_air().hot()[2]), "1/K2")),
            ("h4", Found(|_, _| Some(Gas::dry_air().hot()[3]), "1/K3")),
            ("h5", Found(|_, _| Some(Gas::dry_air().hot()[4]), "1/K4")),
            ("h7", Found(|_, _| Some(Gas::dry_air().hot()[6]), "")),
        ],
    )
    .when(|_, evaluation| ends_hot(evaluation)),
    Equation::new(
        "compression/end_of_compression/cranking_gauge_pressure/low",
        END,
        "p1*(E^n - 1)",
        &[START_PRESSURE, RATIO, ("n", Found(|_, _| Some(end_state::CRANKING_EXPONENTS[0]), ""))],
    ),
    Equation::new(
        "compression/end_of_compression/cranking_gauge_pressure/high",
        END,
        "p1*(E^n - 1)",
        &[START_PRESSURE, RATIO, ("n", Found(|_, _| Some(end_state::CRANKING_EXPONENTS[1]), ""))],
    ),
    Equation::new(
        "compression/ratio_spread",
        STATIC,
        "highest - lowest",
        &[
            ("highest", Found(|_, evaluation| cylinder_ratios(evaluation).reduce(f64::max), "")),
            ("lowest", Found(|_, evaluation| cylinder_ratios(evaluation).reduce(f64::min), "")),
        ],
    ),
    Equation::new(
        "compression/cylinders/*/deck_clearance",
        STACK,
        "c + h - H",
        &[DECK, ("h", Reading(DECKS, "block/deck_height")), H],
    ),
    Equation::new(
        "compression/cylinders/*/clearance_volume",
        STATIC,
        "chamber + gasket + (pi/4)*B^2*c + dish - dome + top_land",
        &[
            ("chamber", Reading(CHAMBERS, "cylinder_head/chamber_volume")),
            ("gasket", Output("compression/volumes/gasket")),
            B,
            ("c", OfCylinder("deck_clearance")),
            ("dish", Output("compression/volumes/dish")),
            ("dome", Output("compression/volumes/dome")),
            ("top_land", Output("compression/volumes/top_land")),
        ],
    ),
    Equation::new(
        "compression/cylinders/*/static_ratio",
        STATIC,
        "(Vs + Vc)/Vc",
        &[SWEPT, ("Vc", OfCylinder("clearance_volume"))],
    ),
];

/// Coefficients of dry air below the polynomials' break.
const A: [Symbol; 6] = [
    ("a1", Found(|_, _| Some(Gas::dry_air().cold()[0]), "")),
    ("a2", Found(|_, _| Some(Gas::dry_air().cold()[1]), "1/K")),
    ("a3", Found(|_, _| Some(Gas::dry_air().cold()[2]), "1/K2")),
    ("a4", Found(|_, _| Some(Gas::dry_air().cold()[3]), "1/K3")),
    ("a5", Found(|_, _| Some(Gas::dry_air().cold()[4]), "1/K4")),
    ("a7", Found(|_, _| Some(Gas::dry_air().cold()[6]), "")),
];

/// The compression starts below the polynomials' break: the warmest charge that is accepted is far from it.
fn ends_hot(evaluation: &Evaluation) -> bool {
    let end = evaluation.compression.end_of_compression.as_ref();
    end.is_some_and(|end| Gas::is_hot(end.end_temperature.kelvins()))
}

fn peak_acceleration_at(build: &Build, _: &Evaluation) -> Option<f64> {
    let train = SliderCrank::new(build.crankshaft.stroke, build.connecting_rod.length, build.piston.pin_offset);
    train.peak_acceleration().ok().map(|(at, _)| at.to_degrees())
}

fn seat_difference(build: &Build, _: &Evaluation) -> Option<f64> {
    Some(build.camshaft.as_ref()?.seat_difference.map_or(0.0, |difference| difference.degrees()))
}

fn cylinder_ratios(evaluation: &Evaluation) -> impl Iterator<Item = f64> {
    evaluation.compression.cylinders.iter().map(|cylinder| cylinder.static_ratio)
}
