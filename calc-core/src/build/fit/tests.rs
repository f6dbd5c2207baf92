//! The search against looking at every combination, on random catalogues: the naive way knows nothing of ranges, tables or
//! bounds, finds cuts by bisection, and takes every result from the evaluated build sheet.

use proptest::prelude::*;
use proptest::strategy::ValueTree;

use super::catalogue::{
    BearingFields, Catalogue, ConnectingRodFields, CrankshaftFields, CylinderHeadFields, FitBase, HeadGasketFields,
    Part, PistonFields,
};
use super::question::{Criterion, CutRange, FitInput, ResultLimit};
use super::search::Running;
use super::*;
use crate::build::place::Output;
use crate::build::sheet::{self, Atmosphere, Block, Camshaft, Engine, Layout};
use crate::stop::Stop;
use crate::units::{Altitude, Angle, Ratio, RotationalSpeed, Volume};

mod naive;

use naive::naive;

fn run(input: &FitInput, threads: usize) -> Result<Fit, Error> {
    evaluate(input, &Running { stop: &Stop::never(), threads })
}

fn inches(value: f64) -> Option<Length> {
    Some(Length::from_inches(value))
}

fn part<F>(slot: &str, index: usize, price: u32, fields: F) -> Part<F> {
    let price = Some(Price::from_per_set(f64::from(price) * 2.5));
    Part { part_number: format!("{slot}-{index}"), price, note: None, fields }
}

pub(super) fn base() -> FitBase {
    FitBase {
        engine: Engine { cylinders: 8, layout: Layout::Vee, bank_angle: None, label_displacement: None },
        block: Block { bore: Length::from_inches(4.03), deck_height: Length::from_inches(9.0) },
        crankshaft: CrankshaftFields::default(),
        connecting_rod: ConnectingRodFields::default(),
        piston: PistonFields::default(),
        head_gasket: HeadGasketFields { bore: inches(4.1), ..HeadGasketFields::default() },
        cylinder_head: CylinderHeadFields::default(),
        bearings: BearingFields::default(),
        camshaft: Some(Camshaft {
            intake_closes_abdc: Angle::from_degrees(60.0),
            at_lift: None,
            seat_difference: None,
        }),
        running: Some(sheet::Running { engine_speed: RotationalSpeed::from_revolutions_per_minute(5500.0) }),
        atmosphere: Some(Atmosphere { altitude: Altitude::from_altitude_metres(0.0), intake_temperature: None }),
    }
}

/// Small whole numbers make keys meet, prices tie and sizes fall exactly on limits now and then.
fn catalogue() -> impl Strategy<Value = Catalogue> {
    let mostly = || prop::bool::weighted(0.15).prop_map(u32::from);
    let cranks = prop::collection::vec((0_u32..4, mostly(), mostly(), 0_u32..5), 1..4);
    let rods = prop::collection::vec((0_u32..5, mostly(), mostly(), 0_u32..5), 1..4);
    let pistons = prop::collection::vec((0_u32..40, 0_u32..30, mostly(), 0_u32..2, 0_u32..5, 0_u32..9), 1..7);
    let gaskets = prop::collection::vec((0_u32..40, 0_u32..6, 0_u32..5), 1..4);
    let heads = prop::collection::vec((0_u32..30, 0_u32..4, 0_u32..5, 0_u32..9), 1..4);
    let bearings = prop::collection::vec((mostly(), mostly(), 0_u32..5), 1..3);
    (cranks, rods, pistons, gaskets, heads, bearings).prop_map(|(cranks, rods, pistons, gaskets, heads, bearings)| {
        let at = |first: f64, step: f64, count: u32| inches(first + step * f64::from(count));
        let cc =
            |first: f64, step: f64, count: u32| Some(Volume::from_cubic_centimetres(first + step * f64::from(count)));
        Catalogue {
            crankshaft: Some(list("c", &cranks, |&(stroke, journal, width, price)| {
                let fields = CrankshaftFields {
                    stroke: at(3.25, 0.125, stroke),
                    rod_journal: at(2.0, 0.1, journal),
                    bearing_width: at(0.9, 0.05, width),
                };
                (price, fields)
            })),
            connecting_rod: Some(list("r", &rods, |&(length, journal, pin, price)| {
                let fields = ConnectingRodFields {
                    length: at(5.85, 0.03, length),
                    pin_diameter: at(0.912, 0.015, pin),
                    rod_journal: at(2.0, 0.1, journal),
                    bearing_width: None,
                };
                (price, fields)
            })),
            piston: Some(list("p", &pistons, |&(crown, dish, pin, offset, price, bore)| {
                let fields = PistonFields {
                    compression_height: at(1.2, 0.005, crown),
                    dish_volume: cc(0.0, 1.0, dish),
                    dome_volume: cc(0.0, 3.0, price),
                    pin_offset: at(0.0, 0.06, offset),
                    pin_diameter: at(0.912, 0.015, pin),
                    cylinder_bore: if bore == 0 { inches(4.06) } else { Some(Length::from_millimetres(102.362)) },
                    ..PistonFields::default()
                };
                (price, fields)
            })),
            head_gasket: Some(list("g", &gaskets, |&(thickness, bore, price)| {
                let fields = HeadGasketFields {
                    bore: at(4.06, 0.03, bore),
                    compressed_thickness: at(0.02, 0.001, thickness),
                    ..HeadGasketFields::default()
                };
                (price, fields)
            })),
            cylinder_head: Some(list("h", &heads, |&(chamber, area, price, bore)| {
                let fields = CylinderHeadFields {
                    chamber_volume: cc(50.0, 1.0, chamber),
                    chamber_area: Some(crate::units::Area::from_square_inches(6.0 + f64::from(area))),
                    cylinder_bore: inches(if bore == 0 { 4.0 } else { 4.03 }),
                };
                (price, fields)
            })),
            bearings: Some(list("b", &bearings, |&(journal, width, price)| {
                let fields = BearingFields { rod_journal: at(2.0, 0.1, journal), bearing_width: at(0.9, 0.05, width) };
                (price, fields)
            })),
        }
    })
}

fn list<T, F>(slot: &str, rows: &[T], of: impl Fn(&T) -> (u32, F)) -> Vec<Part<F>> {
    let one = |(index, row)| {
        let (price, fields) = of(row);
        part(slot, index, price, fields)
    };
    rows.iter().enumerate().map(one).collect()
}

fn limit(path: &str, at_least: Option<f64>, at_most: Option<f64>) -> ResultLimit {
    ResultLimit { result: Output::at(path).unwrap(), at_least, at_most }
}

/// Any of the limits, each present half of the time.
fn limits() -> impl Strategy<Value = Vec<ResultLimit>> {
    let each = prop::collection::vec((prop::bool::weighted(0.4), 0.0_f64..1.0, 0.0_f64..1.0, 0_u8..3), 8);
    each.prop_map(|drawn| {
        let of = [
            ("geometry/deck_clearance", -2e-3, 10e-3),
            ("geometry/squish_clearance", -1e-3, 10e-3),
            ("compression/static_ratio", 6.0, 14.0),
            ("compression/trapped_ratio", 5.0, 12.0),
            ("compression/clearance_volume", 60e-6, 130e-6),
            ("geometry/rod_stroke_ratio", 1.4, 2.0),
            ("compression/end_of_compression/end_pressure", 12e5, 30e5),
            ("compression/volumes/gasket", 4e-6, 16e-6),
        ];
        let mut all = Vec::new();
        for ((path, low, high), (present, one, other, ends)) in of.into_iter().zip(drawn) {
            let at = |share: f64| low + share * (high - low);
            let (least, most) = (at(0.4 * one), at(1.0 - 0.4 * other));
            if present {
                all.push(limit(path, (ends != 1).then_some(least), (ends != 2).then_some(most)));
            }
        }
        all
    })
}

fn cut() -> impl Strategy<Value = Option<CutRange>> {
    prop::option::of((0_u32..3, 0_u32..60)).prop_map(|range| {
        let thou = |count: u32| Length::from_thousandths(f64::from(count));
        range.map(|(least, more)| CutRange { least: thou(3 * least), most: thou(3 * least + more) })
    })
}

fn preference() -> impl Strategy<Value = Vec<Criterion>> {
    let all = vec![
        Criterion::Price,
        Criterion::StaticRatio { wanted: Ratio::from_plain(9.5), step: Ratio::from_plain(0.1) },
        Criterion::SquishClearance { wanted: Length::from_inches(0.04), step: Length::from_inches(0.003) },
        Criterion::NumberOfCuts,
        Criterion::DepthOfCuts { step: Length::from_inches(0.002) },
    ];
    (Just(all).prop_shuffle(), 1_usize..6).prop_map(|(mut all, count)| {
        all.truncate(count);
        all
    })
}

fn input() -> impl Strategy<Value = FitInput> {
    (catalogue(), limits(), cut(), cut(), preference(), 1_u32..30).prop_map(
        |(catalogue, limits, deck_cut, head_cut, preference, best)| FitInput {
            base: base(),
            catalogue,
            places: ["catalogue"; 6],
            deck_cut,
            head_cut,
            limits,
            preference,
            best,
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    #[test]
    fn the_search_finds_and_counts_what_looking_at_everything_does(input in input(), threads in 1_usize..4) {
        let found = run(&input, threads);
        prop_assert!(found.is_ok(), "{:?}", found);
        let (found, wanted) = (found?, naive(&input));
        prop_assert_eq!(found.considered, wanted.considered);
        let rejected: Vec<_> = found.rejected.iter().map(|one| (one.by.to_owned(), one.combinations)).collect();
        prop_assert_eq!(&rejected, &wanted.rejected);
        let sum: u128 = rejected.iter().map(|(_, count)| count).sum();
        prop_assert_eq!(found.considered, found.fitting + sum);
        let parts: Vec<_> = found.best.iter().map(|one| one.parts.map(|part| part.unwrap())).collect();
        let wanted_parts: Vec<_> = wanted.best.iter().map(|(parts, _)| *parts).collect();
        prop_assert_eq!(parts, wanted_parts);
        for (one, (_, [deck, head])) in found.best.iter().zip(&wanted.best) {
            prop_assert!((one.deck_cut.si() - deck).abs() < 3e-9, "{:?} {deck}", one.deck_cut);
            prop_assert!((one.head_cut.si() - head).abs() < 3e-8, "{:?} {head}", one.head_cut);
        }
    }
}

/// The random catalogues are worth comparing: many have combinations that fit, with and without cuts.
#[test]
fn the_random_catalogues_hold_what_is_to_be_compared() {
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let (mut fits, mut cuts, mut many) = (0, 0, 0);
    for _ in 0..300 {
        let input = input().new_tree(&mut runner).unwrap().current();
        let found = run(&input, 1).unwrap();
        fits += u32::from(found.fitting > 0);
        many += u32::from(found.fitting > u128::from(input.best));
        let least = |range: Option<CutRange>| range.unwrap_or_default().least.si();
        let cut = |one: &Combination| {
            one.deck_cut.si() > least(input.deck_cut) + 1e-9 || one.head_cut.si() > least(input.head_cut) + 1e-9
        };
        cuts += u32::from(found.best.iter().any(cut));
    }
    assert!(fits > 60 && many > 20 && cuts > 10, "{fits} fit, {many} with more than wanted, {cuts} with a needed cut");
}
