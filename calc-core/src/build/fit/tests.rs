//! The search against looking at every combination, on random catalogues: the naive way knows nothing of ranges, tables or
//! bounds, finds cuts by bisection, and takes every result from the evaluated build sheet.

use proptest::prelude::*;
use proptest::strategy::ValueTree;

use super::catalogue::*;
use super::question::{Criterion, CutRange, FitInput, ResultLimit};
use super::search::Running;
use super::*;
use crate::build::evaluate::numbers;
use crate::build::place::Output;
use crate::build::sheet::*;
use crate::stop::Stop;
use crate::units::{Altitude, Angle, Ratio, RotationalSpeed, Volume};

fn run(input: &FitInput, threads: usize) -> Result<Fit, Error> {
    evaluate(input, &Running { stop: &Stop::never(), threads, progress: &|_| {} })
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
        running: Some(Running_ { engine_speed: RotationalSpeed::from_revolutions_per_minute(5500.0) }),
        atmosphere: Some(Atmosphere { altitude: Altitude::from_altitude_metres(0.0), intake_temperature: None }),
    }
}

use crate::build::sheet::Running as Running_;

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

/// What the naive way finds.
#[derive(Debug, PartialEq)]
struct Naive {
    considered: u128,
    rejected: Vec<(String, u128)>,
    best: Vec<([usize; 6], [f64; 2])>,
}

struct Tried {
    build: Build,
    parts: [usize; 6],
    chamber_area: f64,
}

impl Tried {
    fn cut(&self, deck: f64, head: f64) -> Build {
        let mut build = self.build.clone();
        build.block.deck_height = Length::from_si(build.block.deck_height.si() - deck);
        let chamber = build.cylinder_head.chamber_volume.si() - self.chamber_area * head;
        build.cylinder_head.chamber_volume = Volume::from_si(chamber);
        build
    }

    fn value(&self, path: &str, deck: f64, head: f64) -> Option<f64> {
        Output::at(path).unwrap().get(&numbers(&self.cut(deck, head)).ok()?)
    }
}

/// Limits in closed form: more cutting lowers the first kind and lifts the second.
const LOWERED: [&str; 3] = ["geometry/deck_clearance", "geometry/squish_clearance", "compression/clearance_volume"];
const LIFTED: [&str; 2] = ["compression/static_ratio", "compression/trapped_ratio"];

/// Whether a limit asks for more cutting, or for less, at a cut.
fn asks(limit: &ResultLimit, value: f64) -> (bool, bool) {
    let lifted = LIFTED.contains(&limit.result.path);
    let only = |at_least, at_most| ResultLimit { result: limit.result, at_least, at_most };
    let too_low = !super::limits::keeps(&only(limit.at_least, None), value);
    let too_high = !super::limits::keeps(&only(None, limit.at_most), value);
    if lifted { (too_low, too_high) } else { (too_high, too_low) }
}

/// The least value of a range at which something that stays true once it is true is true, by bisection.
fn least_true([least, most]: [f64; 2], holds: impl Fn(f64) -> bool) -> Option<f64> {
    if holds(least) {
        return Some(least);
    }
    if !holds(most) {
        return None;
    }
    let (mut low, mut high) = (least, most);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if holds(middle) { high = middle } else { low = middle }
    }
    Some(high)
}

/// The smallest deck cut for which some head cut keeps the limits, and the smallest such head cut.
fn smallest_cut(tried: &Tried, limits: &[ResultLimit], deck: [f64; 2], head: [f64; 2]) -> Option<[f64; 2]> {
    let wants = |deck: f64, head: f64| {
        let one = |limit: &ResultLimit| match tried.value(limit.result.path, deck, head) {
            Some(value) => asks(limit, value),
            // Nothing left above the piston: less cutting.
            None => (false, true),
        };
        let all: Vec<_> = limits.iter().map(one).collect();
        let empty = tried.value("compression/clearance_volume", deck, head).is_none();
        (all.iter().any(|(more, _)| *more), empty || all.iter().any(|(_, less)| *less))
    };
    // With the most of the head cut, no limit asks for a deeper deck cut.
    let deck_cut = least_true(deck, |deck| !wants(deck, head[1]).0)?;
    let head_cut = least_true(head, |head| !wants(deck_cut, head).0)?;
    (!wants(deck_cut, head_cut).1).then_some([deck_cut, head_cut])
}

fn naive(input: &FitInput) -> Naive {
    let catalogue = &input.catalogue;
    let mut names: Vec<String> = RULES.iter().map(|name| (*name).to_owned()).collect();
    let closed = |path: &str| LOWERED.contains(&path) || LIFTED.contains(&path);
    let of = |pick: &dyn Fn(&str) -> bool| {
        input.limits.iter().filter(|limit| pick(limit.result.path)).copied().collect::<Vec<_>>()
    };
    let train = of(&|path| path == "geometry/rod_stroke_ratio");
    let stack: Vec<_> = LOWERED[..2].iter().flat_map(|wanted| of(&|path| path == *wanted)).collect();
    let volume = of(&|path| closed(path) && !LOWERED[..2].contains(&path));
    let others = of(&|path| !closed(path) && path != "geometry/rod_stroke_ratio");
    names.extend(train.iter().chain(&stack).map(|limit| limit.result.path.to_owned()));
    names.push(HIGHEST_RATIO.to_owned());
    names.extend(volume.iter().chain(&others).map(|limit| limit.result.path.to_owned()));
    let mut counts = vec![0; names.len()];
    let mut fitting = Vec::new();
    let mut considered = 0;
    let range = |cut: Option<CutRange>| cut.map_or([0.0; 2], |cut| [cut.least.si(), cut.most.si()]);
    let (deck, head) = (range(input.deck_cut), range(input.head_cut));
    let place = |name: &str| names.iter().position(|other| other == name).unwrap();
    for tried in every(input) {
        considered += 1;
        if let Some(rule) = broken_key(catalogue, &tried.parts) {
            counts[place(rule)] += 1;
            continue;
        }
        let (stroke, rod) = (tried.build.crankshaft.stroke.si(), tried.build.connecting_rod.length.si());
        if rod <= stroke || tried.build.piston.pin_offset.si().abs() > stroke / 4.0 {
            counts[place(RULES[4])] += 1;
            continue;
        }
        if let Some(limit) = train.iter().find(|limit| !super::limits::keeps(limit, rod / stroke)) {
            counts[place(limit.result.path)] += 1;
            continue;
        }
        // A combination is counted under the first limit that, with those before it, no cut can keep.
        let mut kept: Vec<ResultLimit> = Vec::new();
        let mut broken = None;
        // Deck and squish do not care whether anything is left above the piston.
        let roomy = {
            let mut build = tried.build.clone();
            build.cylinder_head.chamber_volume = Volume::from_litres(40.0);
            build
        };
        let roomy = Tried { build: roomy, ..tried };
        for limit in &stack {
            kept.push(*limit);
            if smallest_cut(&roomy, &kept, deck, head).is_none() {
                broken = broken.or(Some(limit.result.path));
            }
        }
        kept.push(limit("compression/static_ratio", None, Some(40.0)));
        if smallest_cut(&tried, &kept, deck, head).is_none() {
            broken = broken.or(Some(HIGHEST_RATIO));
        }
        for limit in &volume {
            kept.push(*limit);
            if smallest_cut(&tried, &kept, deck, head).is_none() {
                broken = broken.or(Some(limit.result.path));
            }
        }
        let cut = smallest_cut(&tried, &kept, deck, head);
        if let (None, Some([deck, head])) = (broken, cut) {
            let found = numbers(&tried.cut(deck, head)).unwrap();
            let value = |limit: &ResultLimit| limit.result.get(&found).unwrap();
            broken =
                others.iter().find(|limit| !super::limits::keeps(limit, value(limit))).map(|limit| limit.result.path);
        }
        match (broken, cut) {
            (Some(path), _) => counts[place(path)] += 1,
            (None, Some(cut)) => fitting.push((tried, cut)),
            (None, None) => unreachable!("a limit is named"),
        }
    }
    let mut ranked: Vec<_> =
        fitting.iter().map(|(tried, cut)| (criteria(input, tried, *cut), tried.parts, *cut)).collect();
    ranked.sort_by(|one, other| (&one.0, one.1).cmp(&(&other.0, other.1)));
    let best = ranked.into_iter().take(input.best as usize).map(|(_, parts, cut)| (parts, cut)).collect();
    let rejected = names.into_iter().zip(counts).collect();
    Naive { considered, rejected, best }
}

fn criteria(input: &FitInput, tried: &Tried, [deck, head]: [f64; 2]) -> Vec<u64> {
    let steps = |difference: f64, step: f64| (0..).find(|count| difference <= *count as f64 * step + 1e-9).unwrap();
    let catalogue = &input.catalogue;
    let price = |slot: usize| {
        let place = tried.parts[slot];
        let price = match slot {
            0 => catalogue.crankshaft.as_ref().unwrap()[place].price,
            1 => catalogue.connecting_rod.as_ref().unwrap()[place].price,
            2 => catalogue.piston.as_ref().unwrap()[place].price,
            3 => catalogue.head_gasket.as_ref().unwrap()[place].price,
            4 => catalogue.cylinder_head.as_ref().unwrap()[place].price,
            _ => catalogue.bearings.as_ref().unwrap()[place].price,
        };
        price.unwrap().per_set()
    };
    let one = |criterion: &Criterion| match criterion {
        Criterion::Price => ((0..6).map(price).sum::<f64>() * 1e4).round() as u64,
        Criterion::StaticRatio { wanted, step } => {
            let ratio = tried.value("compression/static_ratio", deck, head).unwrap();
            steps((ratio - wanted.plain()).abs(), step.plain())
        }
        Criterion::SquishClearance { wanted, step } => {
            let squish = tried.value("geometry/squish_clearance", deck, head).unwrap();
            steps((squish - wanted.si()).abs(), step.si())
        }
        Criterion::NumberOfCuts => u64::from(deck > 1e-9) + u64::from(head > 1e-9),
        Criterion::DepthOfCuts { step } => steps(deck + head, step.si()),
    };
    input.preference.iter().map(one).collect()
}

/// Every combination as a build sheet.
fn every(input: &FitInput) -> Vec<Tried> {
    let Catalogue { crankshaft, connecting_rod, piston, head_gasket, cylinder_head, bearings } = &input.catalogue;
    let mut all = Vec::new();
    let base = &input.base;
    for (c, crank) in crankshaft.iter().flatten().enumerate() {
        for (r, rod) in connecting_rod.iter().flatten().enumerate() {
            for (p, piston) in piston.iter().flatten().enumerate() {
                for (g, gasket) in head_gasket.iter().flatten().enumerate() {
                    for (h, head) in cylinder_head.iter().flatten().enumerate() {
                        for b in 0..bearings.as_ref().unwrap().len() {
                            let build = Build {
                                engine: base.engine.clone(),
                                block: base.block.clone(),
                                crankshaft: Crankshaft { stroke: crank.fields.stroke.unwrap() },
                                connecting_rod: ConnectingRod { length: rod.fields.length.unwrap() },
                                piston: Piston {
                                    compression_height: piston.fields.compression_height.unwrap(),
                                    dish_volume: piston.fields.dish_volume.unwrap(),
                                    dome_volume: piston.fields.dome_volume.unwrap(),
                                    pin_offset: piston.fields.pin_offset.unwrap(),
                                    top_land_height: None,
                                    top_land_diameter: None,
                                },
                                cylinder_head: CylinderHead { chamber_volume: head.fields.chamber_volume.unwrap() },
                                head_gasket: HeadGasket {
                                    bore: gasket.fields.bore,
                                    opening_area: None,
                                    compressed_thickness: gasket.fields.compressed_thickness.unwrap(),
                                },
                                camshaft: base.camshaft.clone(),
                                running: base.running.clone(),
                                atmosphere: base.atmosphere.clone(),
                                measured: None,
                                oil: None,
                            };
                            let chamber_area = head.fields.chamber_area.unwrap().si();
                            all.push(Tried { build, parts: [c, r, p, g, h, b], chamber_area });
                        }
                    }
                }
            }
        }
    }
    all
}

fn broken_key(catalogue: &Catalogue, parts: &[usize; 6]) -> Option<&'static str> {
    let [c, r, p, _, h, b] = *parts;
    let crank = catalogue.crankshaft.as_ref().unwrap()[c].fields;
    let rod = catalogue.connecting_rod.as_ref().unwrap()[r].fields;
    let piston = catalogue.piston.as_ref().unwrap()[p].fields;
    let head = catalogue.cylinder_head.as_ref().unwrap()[h].fields;
    let bearing = catalogue.bearings.as_ref().unwrap()[b].fields;
    let differ = |one: Option<Length>, other: Option<Length>| {
        one.zip(other).is_some_and(|(one, other)| (one.si() - other.si()).abs() > 1e-9)
    };
    let bore = Some(base().block.bore);
    if differ(piston.cylinder_bore, bore) || differ(head.cylinder_bore, bore) {
        return Some("cylinder_bore");
    }
    if differ(rod.pin_diameter, piston.pin_diameter) {
        return Some("pin_diameter");
    }
    if differ(crank.rod_journal, rod.rod_journal) || differ(rod.rod_journal, bearing.rod_journal) {
        return Some("rod_journal");
    }
    differ(crank.bearing_width, bearing.bearing_width).then_some("bearing_width")
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
