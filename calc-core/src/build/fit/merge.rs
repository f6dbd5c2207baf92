//! Parts completed by the base: what each of them says together with what the base lends it.

use crate::limit;
use crate::units::{Length, Quantity};

use super::catalogue::{
    BearingFields, ConnectingRodFields, CrankshaftFields, CylinderHeadFields, FitBase, HeadGasketFields, Part,
    PistonFields, SLOTS,
};
use super::fields::{Faults, Fields, KEYS, MOST_FAULTS};
use super::question::FitInput;

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
        let sound = {
            let mut probe = Faults::default();
            self.judge("", &part.part_number, part, base, &mut probe);
            probe.0.is_empty()
        };
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
        for place in 0..KEYS {
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
                let detail = format!(
                    "'{}' is entry {first} of the slot too; give each part a number of its own.",
                    part.part_number
                );
                self.faults.add(&format!("{slot}/{index}/part_number"), "duplicate_part_number", detail);
            }
        }
    }
}

/// The rules of a part that the base has completed.
fn whole<F: Fields>(place: &str, number: &str, fields: &F, heads_are_cut: bool, faults: &mut Faults) {
    if let Some(name) = fields.absent(heads_are_cut) {
        let who = if number.is_empty() {
            "the slot has no candidates and the base".to_owned()
        } else {
            format!("'{number}' lacks it and the base")
        };
        faults.add(&format!("{place}/{name}"), "missing", format!("is missing: {who} lacks it too."));
    }
    fields.rules(place, faults);
}
