//! Looking at every combination: no ranges, tables or bounds; cuts by bisection, every result from the evaluated build sheet.

use crate::build::evaluate::numbers;
use crate::build::fit::catalogue::Catalogue;
use crate::build::fit::limits::keeps;
use crate::build::fit::question::{Criterion, CutRange, FitInput, ResultLimit};
use crate::build::fit::{HIGHEST_RATIO, RULES};
use crate::build::place::Output;
use crate::build::sheet::{Build, ConnectingRod, Crankshaft, CylinderHead, HeadGasket, Piston};
use crate::units::{Length, Quantity, Volume};

use super::{base, limit};

/// What the naive way finds.
#[derive(Debug, PartialEq)]
pub(super) struct Naive {
    pub(super) considered: u128,
    pub(super) rejected: Vec<(String, u128)>,
    pub(super) best: Vec<([usize; 6], [f64; 2])>,
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
    let too_low = !keeps(&only(limit.at_least, None), value);
    let too_high = !keeps(&only(None, limit.at_most), value);
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

pub(super) fn naive(input: &FitInput) -> Naive {
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
        if let Some(limit) = train.iter().find(|limit| !keeps(limit, rod / stroke)) {
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
            broken = others.iter().find(|limit| !keeps(limit, value(limit))).map(|limit| limit.result.path);
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
