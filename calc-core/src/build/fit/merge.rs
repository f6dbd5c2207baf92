//! Parts completed by the base: what each of them says together with what the base lends it, and the rules for single parts.

use validator::ValidationError;

use crate::compression::r#static::{Names, check_gasket_opening, check_top_land};
use crate::error::broken_rule;
use crate::limit;
use crate::units::{Length, Quantity};

use super::catalogue::{
    BearingFields, ConnectingRodFields, CrankshaftFields, CylinderHeadFields, FitBase, HeadGasketFields, Part,
    PistonFields, SLOTS,
};
use super::question::FitInput;

/// More faults than this are not listed.
const MOST_FAULTS: usize = 100;

/// The faults found so far, and where the search for them stands.
#[derive(Debug, Default)]
pub(super) struct Faults(pub(super) Vec<ValidationError>);

impl Faults {
    pub(super) fn add(&mut self, place: &str, code: &'static str, detail: String) {
        if self.0.len() < MOST_FAULTS {
            self.0.push(broken_rule(place, code, detail));
        }
    }

    fn check<Q: Copy>(&mut self, place: &str, name: &str, value: Option<Q>, rule: fn(&Q) -> Result<(), ValidationError>) {
        if let Some(Err(error)) = value.as_ref().map(rule) {
            let detail = error.message.unwrap_or_default().into_owned();
            self.add(&format!("{place}/{name}"), "out_of_range", detail);
        }
    }

    fn rule(&mut self, place: &str, found: Result<(), ValidationError>) {
        if let Err(error) = found {
            let field = error.params.get("field").and_then(|field| field.as_str()).unwrap_or_default();
            let detail = error.message.unwrap_or_default().into_owned();
            self.add(&format!("{place}/{field}"), if error.code == "missing" { "missing" } else { "contradiction" }, detail);
        }
    }
}

const NAMES: Names = Names {
    gasket_bore: "bore",
    gasket_area: "opening_area",
    top_land_height: "top_land_height",
    top_land_diameter: "top_land_diameter",
    dome: "dome_volume",
};

/// The dimensions of a slot's parts: how they borrow from the base, and their own rules.
pub(super) trait Fields: Copy + Default {
    /// Its own, or the base's where it says nothing.
    fn or(self, base: Self) -> Self;
    /// Ranges of what is given.
    fn ranges(&self, place: &str, faults: &mut Faults);
    /// The names of fields that a whole part cannot lack, when they are absent.
    fn absent(&self, heads_are_cut: bool) -> Option<&'static str>;
    /// Rules between fields of a whole part.
    fn rules(&self, _place: &str, _faults: &mut Faults) {}
    /// The sizes that must match across slots, by name.
    fn keys(&self) -> [(&'static str, Option<Length>); 2];
}

impl Fields for CrankshaftFields {
    fn or(self, base: Self) -> Self {
        Self {
            stroke: self.stroke.or(base.stroke),
            rod_journal: self.rod_journal.or(base.rod_journal),
            bearing_width: self.bearing_width.or(base.bearing_width),
        }
    }

    fn ranges(&self, place: &str, faults: &mut Faults) {
        faults.check(place, "stroke", self.stroke, limit::stroke);
        faults.check(place, "rod_journal", self.rod_journal, limit::rod_journal);
        faults.check(place, "bearing_width", self.bearing_width, limit::bearing_width);
    }

    fn absent(&self, _: bool) -> Option<&'static str> {
        self.stroke.is_none().then_some("stroke")
    }

    fn keys(&self) -> [(&'static str, Option<Length>); 2] {
        [("rod_journal", self.rod_journal), ("bearing_width", self.bearing_width)]
    }
}

impl Fields for ConnectingRodFields {
    fn or(self, base: Self) -> Self {
        Self {
            length: self.length.or(base.length),
            pin_diameter: self.pin_diameter.or(base.pin_diameter),
            rod_journal: self.rod_journal.or(base.rod_journal),
            bearing_width: self.bearing_width.or(base.bearing_width),
        }
    }

    fn ranges(&self, place: &str, faults: &mut Faults) {
        faults.check(place, "length", self.length, limit::rod_length);
        faults.check(place, "pin_diameter", self.pin_diameter, limit::pin_diameter);
        faults.check(place, "rod_journal", self.rod_journal, limit::rod_journal);
        faults.check(place, "bearing_width", self.bearing_width, limit::bearing_width);
    }

    fn absent(&self, _: bool) -> Option<&'static str> {
        self.length.is_none().then_some("length")
    }

    fn keys(&self) -> [(&'static str, Option<Length>); 2] {
        [("rod_journal", self.rod_journal), ("bearing_width", self.bearing_width)]
    }
}

impl Fields for PistonFields {
    fn or(self, base: Self) -> Self {
        // A land is one thing of two figures: a part that gives neither borrows both, a part that gives one must give the other.
        let land = if self.top_land_height.is_some() || self.top_land_diameter.is_some() { self } else { base };
        Self {
            compression_height: self.compression_height.or(base.compression_height),
            dish_volume: self.dish_volume.or(base.dish_volume),
            dome_volume: self.dome_volume.or(base.dome_volume),
            pin_offset: self.pin_offset.or(base.pin_offset),
            top_land_height: land.top_land_height,
            top_land_diameter: land.top_land_diameter,
            pin_diameter: self.pin_diameter.or(base.pin_diameter),
            cylinder_bore: self.cylinder_bore.or(base.cylinder_bore),
        }
    }

    fn ranges(&self, place: &str, faults: &mut Faults) {
        faults.check(place, "compression_height", self.compression_height, limit::compression_height);
        faults.check(place, "dish_volume", self.dish_volume, limit::crown_volume);
        faults.check(place, "dome_volume", self.dome_volume, limit::crown_volume);
        faults.check(place, "pin_offset", self.pin_offset, limit::pin_offset);
        faults.check(place, "top_land_height", self.top_land_height, limit::top_land_height);
        faults.check(place, "top_land_diameter", self.top_land_diameter, limit::bore);
        faults.check(place, "pin_diameter", self.pin_diameter, limit::pin_diameter);
        faults.check(place, "cylinder_bore", self.cylinder_bore, limit::bore);
    }

    fn absent(&self, _: bool) -> Option<&'static str> {
        self.compression_height.is_none().then_some("compression_height")
    }

    fn rules(&self, place: &str, faults: &mut Faults) {
        // Whether the land fits into the bore is no fault of the catalogue: such a piston only does not fit here.
        faults.rule(place, check_top_land(&NAMES, limit::BORE.max, self.top_land_height, self.top_land_diameter));
    }

    fn keys(&self) -> [(&'static str, Option<Length>); 2] {
        [("pin_diameter", self.pin_diameter), ("cylinder_bore", self.cylinder_bore)]
    }
}

impl Fields for HeadGasketFields {
    fn or(self, base: Self) -> Self {
        // An opening is a diameter or an area: a part that gives one does not borrow the other.
        let opening = if self.bore.is_some() || self.opening_area.is_some() { self } else { base };
        Self {
            bore: opening.bore,
            opening_area: opening.opening_area,
            compressed_thickness: self.compressed_thickness.or(base.compressed_thickness),
            cylinder_bore: self.cylinder_bore.or(base.cylinder_bore),
        }
    }

    fn ranges(&self, place: &str, faults: &mut Faults) {
        faults.check(place, "bore", self.bore, limit::gasket_bore);
        faults.check(place, "opening_area", self.opening_area, limit::gasket_area);
        faults.check(place, "compressed_thickness", self.compressed_thickness, limit::gasket_thickness);
        faults.check(place, "cylinder_bore", self.cylinder_bore, limit::bore);
    }

    fn absent(&self, _: bool) -> Option<&'static str> {
        self.compressed_thickness.is_none().then_some("compressed_thickness")
    }

    fn rules(&self, place: &str, faults: &mut Faults) {
        faults.rule(place, check_gasket_opening(&NAMES, self.bore, self.opening_area));
    }

    fn keys(&self) -> [(&'static str, Option<Length>); 2] {
        [("cylinder_bore", self.cylinder_bore), ("", None)]
    }
}

impl Fields for CylinderHeadFields {
    fn or(self, base: Self) -> Self {
        Self {
            chamber_volume: self.chamber_volume.or(base.chamber_volume),
            chamber_area: self.chamber_area.or(base.chamber_area),
            cylinder_bore: self.cylinder_bore.or(base.cylinder_bore),
        }
    }

    fn ranges(&self, place: &str, faults: &mut Faults) {
        faults.check(place, "chamber_volume", self.chamber_volume, limit::chamber_volume);
        faults.check(place, "chamber_area", self.chamber_area, limit::chamber_area);
        faults.check(place, "cylinder_bore", self.cylinder_bore, limit::bore);
    }

    fn absent(&self, heads_are_cut: bool) -> Option<&'static str> {
        let area = (heads_are_cut && self.chamber_area.is_none()).then_some("chamber_area");
        if self.chamber_volume.is_none() { Some("chamber_volume") } else { area }
    }

    fn keys(&self) -> [(&'static str, Option<Length>); 2] {
        [("cylinder_bore", self.cylinder_bore), ("", None)]
    }
}

impl Fields for BearingFields {
    fn or(self, base: Self) -> Self {
        Self {
            rod_journal: self.rod_journal.or(base.rod_journal),
            bearing_width: self.bearing_width.or(base.bearing_width),
        }
    }

    fn ranges(&self, place: &str, faults: &mut Faults) {
        faults.check(place, "rod_journal", self.rod_journal, limit::rod_journal);
        faults.check(place, "bearing_width", self.bearing_width, limit::bearing_width);
    }

    fn absent(&self, _: bool) -> Option<&'static str> {
        None
    }

    fn keys(&self) -> [(&'static str, Option<Length>); 2] {
        [("rod_journal", self.rod_journal), ("bearing_width", self.bearing_width)]
    }
}

/// A part as the search sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Whole<F> {
    pub(super) fields: F,
    /// In ten-thousandths of the caller's currency, so that sums are exact.
    pub(super) price: i64,
    pub(super) index: u32,
}

/// The candidates of every slot, each completed by the base.
#[derive(Debug, Default)]
pub(super) struct Candidates {
    pub(super) cranks: Vec<Whole<CrankshaftFields>>,
    pub(super) rods: Vec<Whole<ConnectingRodFields>>,
    pub(super) pistons: Vec<Whole<PistonFields>>,
    pub(super) gaskets: Vec<Whole<HeadGasketFields>>,
    pub(super) heads: Vec<Whole<CylinderHeadFields>>,
    pub(super) bearings: Vec<Whole<BearingFields>>,
}

/// Ten-thousandths of a price's unit.
pub(super) const PRICE_STEPS: f64 = 10_000.0;

/// Completes the parts and names every fault of theirs.
pub(super) fn candidates(input: &FitInput, wants_price: bool, faults: &mut Faults) -> Candidates {
    let FitBase { crankshaft, connecting_rod, piston, head_gasket, cylinder_head, bearings, .. } = &input.base;
    let catalogue = &input.catalogue;
    let cut = input.head_cut.is_some_and(|cut| cut.most > Length::default());
    let mut slot = SlotReader { wants_price, heads_are_cut: cut, places: input.places, faults };
    Candidates {
        cranks: slot.read(0, catalogue.crankshaft.as_deref(), *crankshaft),
        rods: slot.read(1, catalogue.connecting_rod.as_deref(), *connecting_rod),
        pistons: slot.read(2, catalogue.piston.as_deref(), *piston),
        gaskets: slot.read(3, catalogue.head_gasket.as_deref(), *head_gasket),
        heads: slot.read(4, catalogue.cylinder_head.as_deref(), *cylinder_head),
        bearings: slot.read(5, catalogue.bearings.as_deref(), *bearings),
    }
}

struct SlotReader<'a> {
    wants_price: bool,
    heads_are_cut: bool,
    places: [&'static str; 6],
    faults: &'a mut Faults,
}

impl SlotReader<'_> {
    fn read<F: Fields>(&mut self, slot: usize, parts: Option<&[Part<F>]>, base: F) -> Vec<Whole<F>> {
        let of_base = format!("base/{}", SLOTS[slot]);
        base.ranges(&of_base, self.faults);
        let Some(parts) = parts else {
            self.whole(&of_base, "", &base);
            return vec![Whole { fields: base, price: 0, index: 0 }];
        };
        let place = format!("{}/{}", self.places[slot], SLOTS[slot]);
        if parts.is_empty() {
            let detail = "is an empty list: give candidates, or leave the slot out to keep the base's part.";
            self.faults.add(&place, "empty_slot", detail.to_owned());
        }
        let whole: Vec<_> = (0_u32..).zip(parts).map(|(index, part)| self.part(&place, index, part, base)).collect();
        self.same_keys(&place, parts, &whole);
        self.part_numbers(&place, parts);
        whole
    }

    fn part<F: Fields>(&mut self, slot: &str, index: u32, part: &Part<F>, base: F) -> Whole<F> {
        let before = self.faults.0.len();
        // The place is written out only once something is wrong.
        let sound = { let mut probe = Faults::default(); self.judge("", &part.part_number, part, base, &mut probe); probe.0.is_empty() };
        if !sound && before < MOST_FAULTS {
            let mut found = Faults::default();
            self.judge(&format!("{slot}/{index}"), &part.part_number, part, base, &mut found);
            self.faults.0.extend(found.0);
        }
        let price = part.price.map_or(0.0, Quantity::si);
        Whole { fields: part.fields.or(base), price: (price * PRICE_STEPS).round() as i64, index }
    }

    fn judge<F: Fields>(&self, place: &str, number: &str, part: &Part<F>, base: F, faults: &mut Faults) {
        part.fields.ranges(place, faults);
        if number.trim().is_empty() {
            faults.add(&format!("{place}/part_number"), "missing", "is empty; give each part a number.".to_owned());
        }
        match part.price {
            None if self.wants_price => {
                let detail = "is missing: the preference asks for the price, so every part needs one.";
                faults.add(&format!("{place}/price"), "missing", detail.to_owned());
            }
            Some(price) => faults.check(place, "price", Some(price), limit::price),
            None => {}
        }
        whole(place, number, &part.fields.or(base), self.heads_are_cut, faults);
    }

    fn whole<F: Fields>(&mut self, place: &str, number: &str, fields: &F) {
        whole(place, number, fields, self.heads_are_cut, self.faults);
    }

    /// A size that some parts of a slot state must be stated by all: what is not known cannot be said to match.
    fn same_keys<F: Fields>(&mut self, slot: &str, parts: &[Part<F>], whole: &[Whole<F>]) {
        for place in 0..2 {
            let stated = whole.iter().any(|part| part.fields.keys()[place].1.is_some());
            let lacks = whole.iter().filter(|part| stated && part.fields.keys()[place].1.is_none());
            for part in lacks.take(MOST_FAULTS) {
                let (name, _) = part.fields.keys()[place];
                let number = parts.get(part.index as usize).map_or("", |part| part.part_number.as_str());
                let detail = format!("is missing: other parts of the slot state it, '{number}' and the base do not.");
                self.faults.add(&format!("{slot}/{}/{name}", part.index), "missing", detail);
            }
        }
    }

    fn part_numbers<F>(&mut self, slot: &str, parts: &[Part<F>]) {
        let mut seen = std::collections::HashMap::with_capacity(parts.len());
        for (index, part) in parts.iter().enumerate() {
            if let Some(first) = seen.insert(part.part_number.as_str(), index) {
                let detail = format!("'{}' is entry {first} of the slot too; give each part a number of its own.", part.part_number);
                self.faults.add(&format!("{slot}/{index}/part_number"), "duplicate_part_number", detail);
            }
        }
    }
}

/// The rules of a part that the base has completed.
fn whole<F: Fields>(place: &str, number: &str, fields: &F, heads_are_cut: bool, faults: &mut Faults) {
    if let Some(name) = fields.absent(heads_are_cut) {
        let who = if number.is_empty() { "the slot has no candidates and the base".to_owned() } else { format!("'{number}' lacks it and the base") };
        faults.add(&format!("{place}/{name}"), "missing", format!("is missing: {who} lacks it too."));
    }
    fields.rules(place, faults);
}
