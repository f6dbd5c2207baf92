//! The build sheet as it travels: the same names in the same order as the core's.

use calc_core::build::sheet as core;
use serde::Deserialize;
use utoipa::ToSchema;

use crate::routes::oil::oil_system::OilSystem;
use crate::wire::quantity::{
    AltitudeInput, AngleInput, AreaInput, DisplacementInput, EngineSpeedInput, LengthInput, PartVolumeInput,
    TemperatureInput,
};
use crate::wire::{ShortText, Units};

mod asked;

pub(crate) use asked::Asked;
pub use asked::EvaluateRequest;

/// One engine as planned or as measured.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BuildRequest {
    /// An identifier of the caller's, given back.
    pub(crate) id: Option<ShortText>,
    /// What the build is called, given back.
    pub(crate) title: Option<ShortText>,
    /// Unit system of bare numbers and of the answer.
    pub(crate) units: Units,
    /// Cylinders and how they stand.
    engine: Engine,
    /// The block.
    block: Block,
    /// The crankshaft.
    crankshaft: Crankshaft,
    /// The connecting rods.
    connecting_rod: ConnectingRod,
    /// The pistons.
    piston: Piston,
    /// The cylinder heads.
    cylinder_head: CylinderHead,
    /// The head gasket.
    head_gasket: HeadGasket,
    /// The camshaft, for the trapped ratio.
    camshaft: Option<Camshaft>,
    /// How the engine is to run, for speeds and accelerations.
    running: Option<Running>,
    /// The air that it breathes, for the end of compression.
    atmosphere: Option<Atmosphere>,
    /// What was measured cylinder by cylinder, for the ratio of each.
    measured: Option<Measured>,
    /// The oil system, for the oil budget at the running speed.
    oil: Option<Box<OilSystem>>,
}

/// Cylinders and how they stand.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Engine {
    /// How many cylinders, 1 to 48.
    cylinders: u32,
    /// How they stand.
    layout: Layout,
    /// Angle between the banks of a vee.
    bank_angle: Option<AngleInput>,
    /// What the engine is called, to compare with what it is.
    label_displacement: Option<DisplacementInput>,
}

/// How cylinders stand.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum Layout {
    /// One row.
    Inline,
    /// Two rows at an angle.
    Vee,
    /// Two rows opposite each other.
    Flat,
    /// Round the crank.
    Radial,
}

/// The block.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Block {
    /// Cylinder bore, as finished.
    bore: LengthInput,
    /// Deck height: crank axis to the deck.
    deck_height: LengthInput,
}

/// The crankshaft.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Crankshaft {
    /// Stroke: twice the crank radius.
    stroke: LengthInput,
}

/// The connecting rods.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct ConnectingRod {
    /// Between the centres of the eyes; longer than the stroke.
    length: LengthInput,
}

/// The pistons.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Piston {
    /// Pin axis to the flat of the crown.
    compression_height: LengthInput,
    /// Dish in the crown; none when absent.
    dish_volume: Option<PartVolumeInput>,
    /// Dome on the crown; none when absent.
    dome_volume: Option<PartVolumeInput>,
    /// Pin offset, positive towards the minor thrust side; none when absent.
    pin_offset: Option<LengthInput>,
    /// Height of the land above the top ring; with its diameter, the crevice around it counts.
    top_land_height: Option<LengthInput>,
    /// Diameter of that land; smaller than the bore.
    top_land_diameter: Option<LengthInput>,
}

/// The cylinder heads.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct CylinderHead {
    /// Combustion chamber, valves and plug in place.
    chamber_volume: PartVolumeInput,
}

/// The head gasket.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct HeadGasket {
    /// Diameter of its opening; or give the area.
    bore: Option<LengthInput>,
    /// Area of an opening that is not round, instead of the diameter.
    opening_area: Option<AreaInput>,
    /// Thickness under the clamped head.
    compressed_thickness: LengthInput,
}

/// The camshaft.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Camshaft {
    /// Intake closing in degrees after bottom centre (180 degrees after true top centre), 0 to 150.
    intake_closes_abdc: AngleInput,
    /// Valve lift at which that closing is stated; the seat when absent.
    at_lift: Option<LengthInput>,
    /// How many degrees later than at that lift the valve seats, from the camshaft's own card; needs the lift.
    seat_difference: Option<AngleInput>,
}

/// How the engine is to run.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Running {
    /// Highest engine speed it is built for.
    engine_speed: EngineSpeedInput,
}

/// The air that the engine breathes.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Atmosphere {
    /// Geopotential altitude above mean sea level.
    altitude: AltitudeInput,
    /// Temperature of the intake air; the standard atmosphere's at that altitude when absent.
    intake_temperature: Option<TemperatureInput>,
}

/// What was measured cylinder by cylinder, one entry for each; the sheet's single figure stands for what was not.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct Measured {
    /// Combustion chambers in the order of the cylinders.
    #[schema(max_items = 48)]
    chamber_volumes: Option<Vec<PartVolumeInput>>,
    /// Deck height at each cylinder, in the same order.
    #[schema(max_items = 48)]
    deck_heights: Option<Vec<LengthInput>>,
}

impl BuildRequest {
    /// The sheet in core quantities.
    #[must_use]
    pub fn core(&self) -> core::Build {
        let units = self.units;
        let length = |length: Option<LengthInput>| length.map(|length| length.core(units));
        let volume = |volume: Option<PartVolumeInput>| volume.map(|volume| volume.core(units)).unwrap_or_default();
        core::Build {
            engine: self.engine.core(units),
            block: self.block.core(units),
            crankshaft: core::Crankshaft { stroke: self.crankshaft.stroke.core(units) },
            connecting_rod: core::ConnectingRod { length: self.connecting_rod.length.core(units) },
            piston: core::Piston {
                compression_height: self.piston.compression_height.core(units),
                dish_volume: volume(self.piston.dish_volume),
                dome_volume: volume(self.piston.dome_volume),
                pin_offset: length(self.piston.pin_offset).unwrap_or_default(),
                top_land_height: length(self.piston.top_land_height),
                top_land_diameter: length(self.piston.top_land_diameter),
            },
            cylinder_head: core::CylinderHead { chamber_volume: self.cylinder_head.chamber_volume.core(units) },
            head_gasket: core::HeadGasket {
                bore: length(self.head_gasket.bore),
                opening_area: self.head_gasket.opening_area.map(|area| area.core(units)),
                compressed_thickness: self.head_gasket.compressed_thickness.core(units),
            },
            camshaft: self.camshaft.as_ref().map(|camshaft| camshaft.core(units)),
            running: self.running.as_ref().map(|running| running.core(units)),
            measured: self.measured.as_ref().map(|measured| core::Measured {
                chamber_volumes: measured
                    .chamber_volumes
                    .as_ref()
                    .map(|list| list.iter().map(|volume| volume.core(units)).collect()),
                deck_heights: measured
                    .deck_heights
                    .as_ref()
                    .map(|list| list.iter().map(|height| height.core(units)).collect()),
            }),
            oil: self.oil.as_ref().map(|oil| Box::new(oil.core(units))),
            atmosphere: self.atmosphere.as_ref().map(|air| air.core(units)),
        }
    }
}

impl Engine {
    pub(super) fn core(&self, units: Units) -> core::Engine {
        core::Engine {
            cylinders: self.cylinders,
            layout: self.layout.core(),
            bank_angle: self.bank_angle.map(|angle| angle.core(units)),
            label_displacement: self.label_displacement.map(|label| label.core(units)),
        }
    }
}

impl Block {
    pub(super) fn core(&self, units: Units) -> core::Block {
        core::Block { bore: self.bore.core(units), deck_height: self.deck_height.core(units) }
    }
}

impl Camshaft {
    pub(super) fn core(&self, units: Units) -> core::Camshaft {
        core::Camshaft {
            intake_closes_abdc: self.intake_closes_abdc.core(units),
            at_lift: self.at_lift.map(|lift| lift.core(units)),
            seat_difference: self.seat_difference.map(|angle| angle.core(units)),
        }
    }
}

impl Running {
    pub(super) fn core(&self, units: Units) -> core::Running {
        core::Running { engine_speed: self.engine_speed.core(units) }
    }
}

impl Atmosphere {
    pub(super) fn core(&self, units: Units) -> core::Atmosphere {
        core::Atmosphere {
            altitude: self.altitude.core(units),
            intake_temperature: self.intake_temperature.map(|temperature| temperature.core(units)),
        }
    }
}

impl Layout {
    fn core(self) -> core::Layout {
        match self {
            Self::Inline => core::Layout::Inline,
            Self::Vee => core::Layout::Vee,
            Self::Flat => core::Layout::Flat,
            Self::Radial => core::Layout::Radial,
        }
    }
}
