//! Candidates sorted for the search: pools of what matches by its keys, each in the order of what the limits ask for.

use std::collections::HashMap;

use crate::compression::r#static::top_land_volume;
use crate::error::{Error, broken_rule};
use crate::units::{Length, Quantity};

use super::catalogue::{ConnectingRodFields, CrankshaftFields, PistonFields, SLOTS};
use super::fields::Fields;
use super::merge::{Candidates, Whole};
use super::settle::{Frame, Gasket, Head};

/// A size that must match, in nanometres; none when one of the two slots does not state it.
pub(super) type Key = Option<i64>;

pub(super) fn key(length: Option<Length>) -> Key {
    length.map(|length| (length.si() * 1e9).round() as i64)
}

/// Whether two sizes may go together; one that is not stated is not checked.
fn match_each_other(one: Key, other: Key) -> bool {
    one.is_none() || other.is_none() || one == other
}

/// A crankshaft or rod, in SI units.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bar {
    /// Stroke or rod length.
    pub(super) length: f64,
    pub(super) price: i64,
    pub(super) index: u32,
}

/// A piston, in SI units.
#[derive(Debug, Clone, Copy)]
pub(super) struct Piston {
    pub(super) crown: f64,
    /// Dish less dome, with the top land.
    pub(super) volume: f64,
    pub(super) price: i64,
    pub(super) index: u32,
}

/// Pistons with one pin diameter and offset, by compression height.
#[derive(Debug)]
pub(super) struct PistonPool {
    pub(super) offset: f64,
    pub(super) pistons: Vec<Piston>,
}

/// Crankshafts and rods that match, with the bearings and pistons that match them.
#[derive(Debug)]
pub(super) struct Block {
    pub(super) cranks: usize,
    pub(super) rods: usize,
    pub(super) bearings: usize,
}

/// A rod-bearing pool: by price where that counts, then in the catalogue's order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Bearing {
    pub(super) price: i64,
    pub(super) index: u32,
}

/// Rods of one set of keys.
#[derive(Debug)]
pub(super) struct RodPool {
    pub(super) rods: Vec<Bar>,
    /// The piston pools that match their pin.
    pub(super) pistons: Vec<usize>,
    journal: Key,
    width: Key,
}

#[derive(Debug)]
pub(super) struct CrankPool {
    pub(super) cranks: Vec<Bar>,
    journal: Key,
    width: Key,
}

/// Everything sorted, and how many combinations the keys leave.
#[derive(Debug)]
pub(super) struct Pools {
    pub(super) cranks: Vec<CrankPool>,
    pub(super) rods: Vec<RodPool>,
    pub(super) pistons: Vec<PistonPool>,
    pub(super) bearings: Vec<Vec<Bearing>>,
    pub(super) blocks: Vec<Block>,
    /// By thickness.
    pub(super) gaskets: Vec<Gasket>,
    /// By chamber after the most cut.
    pub(super) heads: Vec<Head>,
    /// Of all combinations, those left after each key in turn: bore, pin, journal, width.
    pub(super) left: [u128; 5],
}

impl Pools {
    pub(super) fn sort(parts: &Candidates, frame: &Frame, bore: Length, by_price: bool) -> Result<Self, Error> {
        let gaskets = gaskets(parts, bore);
        let heads = heads(parts, frame, bore);
        let (rod_pins, piston_pins) = (parts.rods.iter(), parts.pistons.iter());
        let pins_count = rod_pins.into_iter().any(|rod| rod.fields.pin_diameter.is_some())
            && piston_pins.into_iter().any(|piston| piston.fields.pin_diameter.is_some());
        let fitting = parts.pistons.iter().filter(|piston| fits_bore(*piston, bore) && land_fits(&piston.fields, bore));
        let (pistons, by_pin) = piston_pools(fitting, pins_count, bore);
        let mut pools = Self {
            cranks: crank_pools(&parts.cranks),
            rods: rod_pools(&parts.rods, &by_pin, pins_count),
            pistons,
            bearings: Vec::new(),
            blocks: Vec::new(),
            gaskets,
            heads,
            left: [0; 5],
        };
        let bearings = bearing_pools(parts, by_price);
        let compared = [pools.cranks.len(), pools.rods.len(), bearings.len()];
        if compared.into_iter().fold(1, usize::saturating_mul) > MOST_COMPARED {
            return Err(too_many_sizes(compared));
        }
        pools.join(parts, &bearings);
        Ok(pools)
    }

    /// The pools of crankshafts and rods that match, and the counts.
    fn join(&mut self, parts: &Candidates, bearings: &HashMap<(Key, Key), Vec<Bearing>>) {
        let mut found: HashMap<(Key, Key), usize> = HashMap::new();
        let covers = (self.gaskets.len() as u128) * (self.heads.len() as u128);
        let of = |counts: &[usize]| counts.iter().map(|count| *count as u128).product::<u128>();
        let pistons: usize = self.pistons.iter().map(|pool| pool.pistons.len()).sum();
        self.left[0] = of(&[parts.cranks.len(), parts.rods.len(), parts.pistons.len(), parts.bearings.len()])
            * of(&[parts.gaskets.len(), parts.heads.len()]);
        self.left[1] = of(&[parts.cranks.len(), parts.rods.len(), pistons, parts.bearings.len()]) * covers;
        for (crank_place, crank) in self.cranks.iter().enumerate() {
            for (rod_place, rod) in self.rods.iter().enumerate() {
                let crowns: usize = rod.pistons.iter().map(|pool| self.pistons[*pool].pistons.len()).sum();
                let here = of(&[crank.cranks.len(), rod.rods.len(), crowns]) * covers;
                self.left[2] += here * parts.bearings.len() as u128;
                if !match_each_other(crank.journal, rod.journal) {
                    continue;
                }
                let keys = (crank.journal.or(rod.journal), crank.width.or(rod.width));
                let of_journal = bearings.iter().filter(|((journal, _), _)| match_each_other(*journal, keys.0));
                self.left[3] += here * of_journal.map(|(_, pool)| pool.len() as u128).sum::<u128>();
                if !match_each_other(crank.width, rod.width) {
                    continue;
                }
                let place = *found.entry(keys).or_insert_with(|| {
                    let matching = bearings.iter().filter(|((journal, width), _)| {
                        match_each_other(*journal, keys.0) && match_each_other(*width, keys.1)
                    });
                    let mut pool: Vec<_> = matching.flat_map(|(_, pool)| pool.iter().copied()).collect();
                    pool.sort_unstable();
                    self.bearings.push(pool);
                    self.bearings.len() - 1
                });
                let count = self.bearings[place].len();
                self.left[4] += here * count as u128;
                if count > 0 && crowns > 0 && covers > 0 {
                    self.blocks.push(Block { cranks: crank_place, rods: rod_place, bearings: place });
                }
            }
        }
    }
}

/// Most sets of keys that are compared.
const MOST_COMPARED: usize = 20_000_000;

fn too_many_sizes([cranks, rods, bearings]: [usize; 3]) -> Error {
    let detail = format!(
        "has too many different sizes: {cranks} sets of sizes of crankshafts, {rods} of rods and {bearings} of bearings would \
         have to be compared one by one, and at most {MOST_COMPARED} such comparisons are made. Leave out parts whose journals \
         or widths cannot match."
    );
    Error::of_rules([broken_rule(&format!("catalogue/{}", SLOTS[0]), "too_much_work", detail)])
}

fn fits_bore<F: Fields>(part: &Whole<F>, bore: Length) -> bool {
    let made_for = part.fields.keys().into_iter().find(|(name, _)| *name == "cylinder_bore").and_then(|(_, size)| size);
    match_each_other(key(made_for), key(Some(bore)))
}

fn land_fits(piston: &PistonFields, bore: Length) -> bool {
    piston.top_land_diameter.is_none_or(|diameter| diameter < bore)
}

fn crank_pools(cranks: &[Whole<CrankshaftFields>]) -> Vec<CrankPool> {
    let mut places: HashMap<(Key, Key), usize> = HashMap::new();
    let mut pools: Vec<CrankPool> = Vec::new();
    for crank in cranks {
        let (journal, width) = (key(crank.fields.rod_journal), key(crank.fields.bearing_width));
        let place = *places.entry((journal, width)).or_insert_with(|| {
            pools.push(CrankPool { cranks: Vec::new(), journal, width });
            pools.len() - 1
        });
        pools[place].cranks.push(bar(crank.fields.stroke, crank.price, crank.index));
    }
    pools.iter_mut().for_each(|pool| cheapest_first(&mut pool.cranks));
    pools
}

fn bar(length: Option<Length>, price: i64, index: u32) -> Bar {
    Bar { length: length.unwrap_or_default().si(), price, index }
}

/// The good ones are then found early, which spares most of the rest.
fn cheapest_first(bars: &mut [Bar]) {
    bars.sort_by_key(|bar| (bar.price, bar.index));
}

fn rod_pools(rods: &[Whole<ConnectingRodFields>], by_pin: &HashMap<Key, Vec<usize>>, pins_count: bool) -> Vec<RodPool> {
    let mut places: HashMap<(Key, Key, Key), usize> = HashMap::new();
    let mut pools: Vec<RodPool> = Vec::new();
    for rod in rods {
        let (journal, width) = (key(rod.fields.rod_journal), key(rod.fields.bearing_width));
        let pin = key(rod.fields.pin_diameter).filter(|_| pins_count);
        let place = *places.entry((journal, width, pin)).or_insert_with(|| {
            let pistons = by_pin.get(&pin).cloned().unwrap_or_default();
            pools.push(RodPool { rods: Vec::new(), pistons, journal, width });
            pools.len() - 1
        });
        pools[place].rods.push(bar(rod.fields.length, rod.price, rod.index));
    }
    pools.iter_mut().for_each(|pool| cheapest_first(&mut pool.rods));
    pools
}

fn piston_pools<'a>(
    pistons: impl Iterator<Item = &'a Whole<PistonFields>>,
    pins_count: bool,
    bore: Length,
) -> (Vec<PistonPool>, HashMap<Key, Vec<usize>>) {
    let mut places: HashMap<(Key, Key), usize> = HashMap::new();
    let mut by_pin: HashMap<Key, Vec<usize>> = HashMap::new();
    let mut pools: Vec<PistonPool> = Vec::new();
    for piston in pistons {
        let fields = &piston.fields;
        let pin = key(fields.pin_diameter).filter(|_| pins_count);
        let offset = fields.pin_offset.unwrap_or_default();
        let place = *places.entry((pin, key(Some(offset)))).or_insert_with(|| {
            pools.push(PistonPool { offset: offset.si(), pistons: Vec::new() });
            by_pin.entry(pin).or_default().push(pools.len() - 1);
            pools.len() - 1
        });
        pools[place].pistons.push(Piston {
            crown: fields.compression_height.unwrap_or_default().si(),
            volume: crown_volume(fields, bore),
            price: piston.price,
            index: piston.index,
        });
    }
    for pool in &mut pools {
        pool.pistons.sort_by(|one, other| one.crown.total_cmp(&other.crown).then(one.index.cmp(&other.index)));
    }
    (pools, by_pin)
}

/// Dish less dome, and the crevice around the top land.
fn crown_volume(fields: &PistonFields, bore: Length) -> f64 {
    let land = top_land_volume(bore, fields.top_land_height, fields.top_land_diameter).si();
    fields.dish_volume.unwrap_or_default().si() - fields.dome_volume.unwrap_or_default().si() + land
}

fn gaskets(parts: &Candidates, bore: Length) -> Vec<Gasket> {
    let mut gaskets: Vec<_> = parts
        .gaskets
        .iter()
        .filter(|part| fits_bore(*part, bore))
        .map(|part| {
            let fields = &part.fields;
            let thickness = fields.compressed_thickness.unwrap_or_default().si();
            let round = |bore: Length| std::f64::consts::PI / 4.0 * bore.si() * bore.si();
            let area = fields.opening_area.map(Quantity::si).or(fields.bore.map(round)).unwrap_or_default();
            Gasket { thickness, volume: area * thickness, price: part.price, index: part.index }
        })
        .collect();
    gaskets.sort_by(|one, other| one.thickness.total_cmp(&other.thickness).then(one.index.cmp(&other.index)));
    gaskets
}

fn heads(parts: &Candidates, frame: &Frame, bore: Length) -> Vec<Head> {
    let [least, most] = frame.head_cut;
    let mut heads: Vec<_> = parts
        .heads
        .iter()
        .filter(|part| fits_bore(*part, bore))
        .map(|part| {
            let chamber = part.fields.chamber_volume.unwrap_or_default().si();
            let open_area = part.fields.chamber_area.unwrap_or_default().si();
            let (large, small) = (chamber - open_area * least, chamber - open_area * most);
            Head { chamber, open_area, large, small, price: part.price, index: part.index }
        })
        .collect();
    heads.sort_by(|one, other| one.small.total_cmp(&other.small).then(one.index.cmp(&other.index)));
    heads
}

fn bearing_pools(parts: &Candidates, by_price: bool) -> HashMap<(Key, Key), Vec<Bearing>> {
    let mut pools: HashMap<(Key, Key), Vec<Bearing>> = HashMap::new();
    for part in &parts.bearings {
        let keys = (key(part.fields.rod_journal), key(part.fields.bearing_width));
        let price = if by_price { part.price } else { 0 };
        pools.entry(keys).or_default().push(Bearing { price, index: part.index });
    }
    pools
}
