//! Parts and the base's sections as they travel: the same names in the same order as the core's.

use calc_core::build::fit::catalogue as core;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::wire::quantity::{AreaInput, LengthInput, PartVolumeInput, PriceInput, PriceOutput, out};
use crate::wire::{ShortText, Units};

/// A section of the base and a part of the catalogue: the same dimensions, the part with number, price and note.
macro_rules! slots {
    ($($(#[$of_base:meta])* $section:ident, $(#[$of_part:meta])* $part:ident: $fields:ident {
        $($(#[$doc:meta])* $field:ident: $input:ident,)+
    })+) => {$(
        $(#[$of_base])*
        #[derive(Debug, Default, Deserialize, ToSchema)]
        #[serde(deny_unknown_fields)]
        pub(super) struct $section {
            $($(#[$doc])* $field: Option<$input>,)+
        }

        $(#[$of_part])*
        #[derive(Debug, Deserialize, ToSchema)]
        #[serde(deny_unknown_fields)]
        pub(super) struct $part {
            /// How it is ordered; each number once in its slot.
            part_number: ShortText,
            /// Price of the set that one engine needs, in any currency; needed when the preference asks for the price.
            price: Option<PriceInput>,
            /// A free text, given back.
            note: Option<ShortText>,
            $($(#[$doc])* $field: Option<$input>,)+
        }

        impl $section {
            pub(super) fn core(&self, units: Units) -> core::$fields {
                core::$fields { $($field: self.$field.map(|value| value.core(units)),)+ }
            }
        }

        impl Offered for $part {
            type Fields = core::$fields;

            fn core(self, units: Units) -> core::Part<core::$fields> {
                core::Part {
                    part_number: self.part_number.into_text(),
                    price: self.price.map(|price| price.core(units)),
                    note: self.note.map(ShortText::into_text),
                    fields: core::$fields { $($field: self.$field.map(|value| value.core(units)),)+ },
                }
            }
        }
    )+};
}

/// A part on the wire.
pub(super) trait Offered: serde::de::DeserializeOwned {
    /// Its dimensions in the core.
    type Fields;

    fn core(self, units: Units) -> core::Part<Self::Fields>;
}

slots! {
    /// The crankshaft; what a candidate does not say is taken from here.
    FitCrankshaft,
    /// A crankshaft of the catalogue.
    FitCrankshaftPart: CrankshaftFields {
        /// Stroke: twice the crank radius.
        stroke: LengthInput,
        /// Diameter of the rod journals; must match rods and bearings that state it.
        rod_journal: LengthInput,
        /// Width of the rod bearings that fit; must match rods and bearings that state it.
        bearing_width: LengthInput,
    }
    /// The connecting rods; what a candidate does not say is taken from here.
    FitConnectingRod,
    /// A set of connecting rods of the catalogue.
    FitConnectingRodPart: ConnectingRodFields {
        /// Between the centres of the eyes; longer than the stroke.
        length: LengthInput,
        /// Diameter of the piston pin; must match the piston's.
        pin_diameter: LengthInput,
        /// Diameter of the rod journal that they are made for.
        rod_journal: LengthInput,
        /// Width of their bearings.
        bearing_width: LengthInput,
    }
    /// The pistons; what a candidate does not say is taken from here.
    FitPiston,
    /// A set of pistons of the catalogue.
    FitPistonPart: PistonFields {
        /// Pin axis to the flat of the crown.
        compression_height: LengthInput,
        /// Dish in the crown; none when neither part nor base says it.
        dish_volume: PartVolumeInput,
        /// Dome on the crown; none when neither part nor base says it.
        dome_volume: PartVolumeInput,
        /// Pin offset, positive towards the minor thrust side; none when neither part nor base says it.
        pin_offset: LengthInput,
        /// Height of the land above the top ring; with its diameter, the crevice around it counts.
        top_land_height: LengthInput,
        /// Diameter of that land; a piston whose land is not smaller than the bore does not fit.
        top_land_diameter: LengthInput,
        /// Diameter of the piston pin; must match the rod's.
        pin_diameter: LengthInput,
        /// Cylinder bore that they are made for; must be the block's.
        cylinder_bore: LengthInput,
    }
    /// The head gasket; what a candidate does not say is taken from here.
    FitHeadGasket,
    /// A set of head gaskets of the catalogue.
    FitHeadGasketPart: HeadGasketFields {
        /// Diameter of a round opening.
        bore: LengthInput,
        /// Area of an opening that is not round, instead of the diameter.
        opening_area: AreaInput,
        /// Thickness under the clamped head.
        compressed_thickness: LengthInput,
        /// Cylinder bore that it is made for; must be the block's.
        cylinder_bore: LengthInput,
    }
    /// The cylinder heads; what a candidate does not say is taken from here.
    FitCylinderHead,
    /// A set of cylinder heads of the catalogue.
    FitCylinderHeadPart: CylinderHeadFields {
        /// Combustion chamber, valves and plug in place, before any cut.
        chamber_volume: PartVolumeInput,
        /// Open area of the chamber at the head's face: what a cut takes off is this area times its depth. Needed when heads may
        /// be cut.
        chamber_area: AreaInput,
        /// Cylinder bore that they are made for; must be the block's.
        cylinder_bore: LengthInput,
    }
    /// The rod bearings; what a candidate does not say is taken from here.
    FitBearings,
    /// A set of rod bearings of the catalogue.
    FitBearingsPart: BearingFields {
        /// Diameter of the rod journal that they are made for.
        rod_journal: LengthInput,
        /// Their width.
        bearing_width: LengthInput,
    }
}

/// Candidates by slot; a slot that is left out is filled by the base.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct FitCatalogue {
    /// Crankshafts.
    #[schema(max_items = 100_000)]
    pub(super) crankshaft: Option<Vec<FitCrankshaftPart>>,
    /// Connecting rods.
    #[schema(max_items = 100_000)]
    pub(super) connecting_rod: Option<Vec<FitConnectingRodPart>>,
    /// Pistons.
    #[schema(max_items = 100_000)]
    pub(super) piston: Option<Vec<FitPistonPart>>,
    /// Head gaskets.
    #[schema(max_items = 100_000)]
    pub(super) head_gasket: Option<Vec<FitHeadGasketPart>>,
    /// Cylinder heads.
    #[schema(max_items = 100_000)]
    pub(super) cylinder_head: Option<Vec<FitCylinderHeadPart>>,
    /// Rod bearings.
    #[schema(max_items = 100_000)]
    pub(super) bearings: Option<Vec<FitBearingsPart>>,
}

/// The same as text: a CSV table (RFC 4180) for each slot, one part a row. The header has the names of the part's fields, each
/// optionally with the unit of its column: `compression_height [mm]`. An empty cell is a field that is not said.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct FitCatalogueCsv {
    /// Crankshafts.
    pub(super) crankshaft: Option<String>,
    /// Connecting rods.
    pub(super) connecting_rod: Option<String>,
    /// Pistons.
    pub(super) piston: Option<String>,
    /// Head gaskets.
    pub(super) head_gasket: Option<String>,
    /// Cylinder heads.
    pub(super) cylinder_head: Option<String>,
    /// Rod bearings.
    pub(super) bearings: Option<String>,
}

/// A part that was chosen.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct FitChosenPart {
    /// Its number in the catalogue.
    part_number: String,
    /// Its price; absent when the catalogue has none.
    #[serde(skip_serializing_if = "Option::is_none")]
    price: Option<PriceOutput>,
    /// Its note, given back.
    #[serde(skip_serializing_if = "Option::is_none")]
    note: Option<String>,
    /// Its place in the slot, counted from zero.
    place: usize,
}

/// The parts of a combination; a slot that the base fills is absent.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct FitParts {
    /// The crankshaft.
    #[serde(skip_serializing_if = "Option::is_none")]
    crankshaft: Option<FitChosenPart>,
    /// The connecting rods.
    #[serde(skip_serializing_if = "Option::is_none")]
    connecting_rod: Option<FitChosenPart>,
    /// The pistons.
    #[serde(skip_serializing_if = "Option::is_none")]
    piston: Option<FitChosenPart>,
    /// The head gaskets.
    #[serde(skip_serializing_if = "Option::is_none")]
    head_gasket: Option<FitChosenPart>,
    /// The cylinder heads.
    #[serde(skip_serializing_if = "Option::is_none")]
    cylinder_head: Option<FitChosenPart>,
    /// The rod bearings.
    #[serde(skip_serializing_if = "Option::is_none")]
    bearings: Option<FitChosenPart>,
}

impl FitParts {
    pub(super) fn new(catalogue: &core::Catalogue, places: [Option<usize>; 6], units: Units) -> Self {
        let [crank, rod, piston, gasket, head, bearings] = places;
        Self {
            crankshaft: chosen(catalogue.crankshaft.as_deref(), crank, units),
            connecting_rod: chosen(catalogue.connecting_rod.as_deref(), rod, units),
            piston: chosen(catalogue.piston.as_deref(), piston, units),
            head_gasket: chosen(catalogue.head_gasket.as_deref(), gasket, units),
            cylinder_head: chosen(catalogue.cylinder_head.as_deref(), head, units),
            bearings: chosen(catalogue.bearings.as_deref(), bearings, units),
        }
    }

    /// Whether every part that was chosen has a price.
    pub(super) fn all_priced(&self) -> bool {
        let all = [
            &self.crankshaft,
            &self.connecting_rod,
            &self.piston,
            &self.head_gasket,
            &self.cylinder_head,
            &self.bearings,
        ];
        all.into_iter().flatten().all(|part| part.price.is_some())
    }
}

fn chosen<F>(parts: Option<&[core::Part<F>]>, place: Option<usize>, units: Units) -> Option<FitChosenPart> {
    let place = place?;
    let part = parts?.get(place)?;
    Some(FitChosenPart {
        part_number: part.part_number.clone(),
        price: part.price.map(|price| out(price, units)),
        note: part.note.clone(),
        place,
    })
}
