//! What a catalogue offers: candidates for each slot of the build, and the base that lends them what they do not say.

use crate::units::{Area, Length, Price, Volume};

use crate::build::sheet::{Atmosphere, Block, Camshaft, Engine, Running};

/// One candidate for a slot.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Part<F> {
    /// How the shop orders it; once in a slot.
    pub part_number: String,
    /// Price of what one engine needs of it: the set.
    pub price: Option<Price>,
    /// Free text, given back.
    pub note: Option<String>,
    /// Its dimensions.
    pub fields: F,
}

/// A crankshaft.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CrankshaftFields {
    /// Twice the crank radius.
    pub stroke: Option<Length>,
    /// Diameter of the rod journals: must match rod and bearings.
    pub rod_journal: Option<Length>,
    /// Width of the rod bearings that fit: must match rod and bearings.
    pub bearing_width: Option<Length>,
}

/// A connecting rod.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ConnectingRodFields {
    /// Between the centres of the eyes.
    pub length: Option<Length>,
    /// Diameter of the piston pin: must match the piston.
    pub pin_diameter: Option<Length>,
    /// Diameter of the rod journal that it is made for.
    pub rod_journal: Option<Length>,
    /// Width of its bearings.
    pub bearing_width: Option<Length>,
}

/// A piston.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PistonFields {
    /// Pin axis to the flat of the crown.
    pub compression_height: Option<Length>,
    /// Dish in the crown.
    pub dish_volume: Option<Volume>,
    /// Dome on the crown.
    pub dome_volume: Option<Volume>,
    /// Positive towards the minor thrust side.
    pub pin_offset: Option<Length>,
    /// Height of the land above the top ring.
    pub top_land_height: Option<Length>,
    /// Diameter of that land.
    pub top_land_diameter: Option<Length>,
    /// Diameter of its pin: must match the rod.
    pub pin_diameter: Option<Length>,
    /// The cylinder bore that it is made for: must match the block.
    pub cylinder_bore: Option<Length>,
}

/// A head gasket.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct HeadGasketFields {
    /// Diameter of a round opening.
    pub bore: Option<Length>,
    /// Area of an opening that is not round.
    pub opening_area: Option<Area>,
    /// Thickness under the clamped head.
    pub compressed_thickness: Option<Length>,
    /// The cylinder bore that it is made for.
    pub cylinder_bore: Option<Length>,
}

/// A cylinder head.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CylinderHeadFields {
    /// Combustion chamber, spark plug and valves in place.
    pub chamber_volume: Option<Volume>,
    /// Open area of the chamber at the head's face, needed when heads may be cut.
    pub chamber_area: Option<Area>,
    /// The cylinder bore that it is made for.
    pub cylinder_bore: Option<Length>,
}

/// Rod bearings.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BearingFields {
    /// Diameter of the rod journal that they are made for.
    pub rod_journal: Option<Length>,
    /// Their width.
    pub bearing_width: Option<Length>,
}

/// The build that the parts go into; its sections lend a part what it does not say, and stand in for a slot without candidates.
#[derive(Debug, Clone, PartialEq)]
pub struct FitBase {
    /// Cylinders and how they stand.
    pub engine: Engine,
    /// The block.
    pub block: Block,
    /// The crankshaft.
    pub crankshaft: CrankshaftFields,
    /// The connecting rods.
    pub connecting_rod: ConnectingRodFields,
    /// The pistons.
    pub piston: PistonFields,
    /// The head gasket.
    pub head_gasket: HeadGasketFields,
    /// The cylinder heads.
    pub cylinder_head: CylinderHeadFields,
    /// The rod bearings.
    pub bearings: BearingFields,
    /// The camshaft, when chosen.
    pub camshaft: Option<Camshaft>,
    /// How the engine is to run, when known.
    pub running: Option<Running>,
    /// The air it breathes, when known.
    pub atmosphere: Option<Atmosphere>,
}

/// Candidates by slot; a slot that is absent is filled by the base.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Catalogue {
    /// Crankshafts.
    pub crankshaft: Option<Vec<Part<CrankshaftFields>>>,
    /// Connecting rods.
    pub connecting_rod: Option<Vec<Part<ConnectingRodFields>>>,
    /// Pistons.
    pub piston: Option<Vec<Part<PistonFields>>>,
    /// Head gaskets.
    pub head_gasket: Option<Vec<Part<HeadGasketFields>>>,
    /// Cylinder heads.
    pub cylinder_head: Option<Vec<Part<CylinderHeadFields>>>,
    /// Rod bearings.
    pub bearings: Option<Vec<Part<BearingFields>>>,
}

/// The slots, in the order in which ties are broken.
pub const SLOTS: [&str; 6] = ["crankshaft", "connecting_rod", "piston", "head_gasket", "cylinder_head", "bearings"];

/// Most parts of all slots together.
pub const MOST_PARTS: usize = 100_000;

impl Catalogue {
    /// How many candidates each slot has; none where the base fills it.
    #[must_use]
    pub fn sizes(&self) -> [Option<usize>; 6] {
        [
            self.crankshaft.as_ref().map(Vec::len),
            self.connecting_rod.as_ref().map(Vec::len),
            self.piston.as_ref().map(Vec::len),
            self.head_gasket.as_ref().map(Vec::len),
            self.cylinder_head.as_ref().map(Vec::len),
            self.bearings.as_ref().map(Vec::len),
        ]
    }
}
