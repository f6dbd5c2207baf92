//! The dimensions of each slot's parts: what they lack and borrow, and the rules that one part must keep.

use validator::ValidationError;

use crate::compression::r#static::{Names, check_gasket_opening, check_top_land};
use crate::error::broken_rule;
use crate::limit;
use crate::units::Length;

use super::catalogue::{
    BearingFields, ConnectingRodFields, CrankshaftFields, CylinderHeadFields, HeadGasketFields, PistonFields,
};

/// More faults than this are not listed.
pub(super) const MOST_FAULTS: usize = 100;

/// The faults found so far, and where the search for them stands.
#[derive(Debug, Default)]
pub(super) struct Faults(pub(super) Vec<ValidationError>);

impl Faults {
    pub(super) fn add(&mut self, place: &str, code: &'static str, detail: String) {
        if self.0.len() < MOST_FAULTS {
            self.0.push(broken_rule(place, code, detail));
        }
    }

    pub(super) fn check<Q: Copy>(
        &mut self,
        place: &str,
        name: &str,
        value: Option<Q>,
        rule: fn(&Q) -> Result<(), ValidationError>,
    ) {
        if let Some(Err(error)) = value.as_ref().map(rule) {
            let detail = error.message.unwrap_or_default().into_owned();
            self.add(&format!("{place}/{name}"), "out_of_range", detail);
        }
    }

    pub(super) fn rule(&mut self, place: &str, found: Result<(), ValidationError>) {
        if let Err(error) = found {
            let field = error.params.get("field").and_then(|field| field.as_str()).unwrap_or_default();
            let detail = error.message.unwrap_or_default().into_owned();
            self.add(
                &format!("{place}/{field}"),
                if error.code == "missing" { "missing" } else { "contradiction" },
                detail,
            );
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

/// Most sizes of one slot that must match others.
pub(super) const KEYS: usize = 3;
const NO_KEY: (&str, Option<Length>) = ("", None);

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
    fn keys(&self) -> [(&'static str, Option<Length>); KEYS];
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

    fn keys(&self) -> [(&'static str, Option<Length>); KEYS] {
        [("rod_journal", self.rod_journal), ("bearing_width", self.bearing_width), NO_KEY]
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

    fn keys(&self) -> [(&'static str, Option<Length>); KEYS] {
        [("pin_diameter", self.pin_diameter), ("rod_journal", self.rod_journal), ("bearing_width", self.bearing_width)]
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

    fn keys(&self) -> [(&'static str, Option<Length>); KEYS] {
        [("pin_diameter", self.pin_diameter), ("cylinder_bore", self.cylinder_bore), NO_KEY]
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

    fn keys(&self) -> [(&'static str, Option<Length>); KEYS] {
        [("cylinder_bore", self.cylinder_bore), NO_KEY, NO_KEY]
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

    fn keys(&self) -> [(&'static str, Option<Length>); KEYS] {
        [("cylinder_bore", self.cylinder_bore), NO_KEY, NO_KEY]
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

    fn keys(&self) -> [(&'static str, Option<Length>); KEYS] {
        [("rod_journal", self.rod_journal), ("bearing_width", self.bearing_width), NO_KEY]
    }
}
