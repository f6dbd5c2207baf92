//! `/v1/compression/measured-volume`

use calc_core::compression::measured_volume as core;
use calc_core::error::Error;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{AngleInput, AreaOutput, LengthInput, PartVolumeInput, PartVolumeOutput, out};

use super::flat_mill::FlatMillCorner;

/// What was measured, and the measurements that belong to it; leave the others out.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MeasuredVolumeRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// What was measured; it decides which of the other fields are needed.
    kind: MeasuredVolumeKind,
    /// Liquid that went in, level with the top of the plate's hole.
    poured_volume: Option<PartVolumeInput>,
    /// Diameter of the hole in the plate, when it is full of liquid too; with the plate's thickness.
    fill_hole_diameter: Option<LengthInput>,
    /// Thickness of that plate.
    plate_thickness: Option<LengthInput>,
    /// Cylinder bore.
    bore: Option<LengthInput>,
    /// How far the flat of the crown is below the deck.
    lowered_by: Option<LengthInput>,
    /// Height of the land above the top ring; for a lowered piston only when the crevice took liquid too.
    top_land_height: Option<LengthInput>,
    /// Diameter of that land; smaller than the bore.
    top_land_diameter: Option<LengthInput>,
    /// The gasket's opening, 2 to 500 corners in order; only in a body.
    #[schema(max_items = 500)]
    outline: Option<Vec<FlatMillCorner>>,
    /// Compressed thickness of the gasket, to get the volume of its opening.
    gasket_thickness: Option<LengthInput>,
    /// Diameter of the recess at the crown; of a leaning relief, of the tool that cut it.
    diameter: Option<LengthInput>,
    /// Diameter of the recess at its floor.
    floor_diameter: Option<LengthInput>,
    /// Greatest depth of the recess, square to the crown.
    depth: Option<LengthInput>,
    /// From the cylinder axis to the axis of the pocket.
    offset: Option<LengthInput>,
    /// Angle between the axis of the relief and the bore axis, 0 to 75 degrees.
    tilt: Option<AngleInput>,
    /// How many such recesses, 1 to 16; one when absent.
    count: Option<u32>,
}

/// What was measured.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum MeasuredVolumeKind {
    /// A chamber poured full through a plate: `poured_volume`.
    PouredChamber,
    /// A piston lowered and the space above it poured full: `poured_volume`, `bore`, `lowered_by`.
    LoweredPiston,
    /// A gasket's opening traced: `outline`.
    GasketOpening,
    /// A round dish with an upright wall: `diameter`, `depth`.
    CylinderDish,
    /// A round dish with a leaning wall: `diameter`, `floor_diameter`, `depth`.
    FrustumDish,
    /// A dish that is part of a sphere: `diameter`, `depth`.
    CapDish,
    /// A round pocket off the axis, cut off by the crown's edge: `bore`, `diameter`, `depth`, `offset`.
    OffsetPocket,
    /// A round relief whose axis leans: `diameter`, `depth`, `tilt`.
    ValveRelief,
    /// The crevice around the land above the top ring: `bore`, `top_land_height`, `top_land_diameter`.
    TopLand,
}

/// What the measurements come to.
#[derive(Debug, Serialize, ToSchema)]
pub struct MeasuredVolumeResponse {
    /// Unit system of the answer.
    units: Units,
    /// The volume measured, all recesses together; absent for a lowered piston and for an opening without thickness.
    #[serde(skip_serializing_if = "Option::is_none")]
    volume: Option<PartVolumeOutput>,
    /// Dish of the lowered piston's crown; zero when it has a dome.
    #[serde(skip_serializing_if = "Option::is_none")]
    dish_volume: Option<PartVolumeOutput>,
    /// Dome of the lowered piston's crown; zero when it has a dish.
    #[serde(skip_serializing_if = "Option::is_none")]
    dome_volume: Option<PartVolumeOutput>,
    /// Area of the gasket's opening, or of the crown that the pocket takes.
    #[serde(skip_serializing_if = "Option::is_none")]
    area: Option<AreaOutput>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

impl MeasuredVolumeKind {
    fn core(self) -> core::Kind {
        match self {
            Self::PouredChamber => core::Kind::PouredChamber,
            Self::LoweredPiston => core::Kind::LoweredPiston,
            Self::GasketOpening => core::Kind::GasketOpening,
            Self::CylinderDish => core::Kind::CylinderDish,
            Self::FrustumDish => core::Kind::FrustumDish,
            Self::CapDish => core::Kind::CapDish,
            Self::OffsetPocket => core::Kind::OffsetPocket,
            Self::ValveRelief => core::Kind::ValveRelief,
            Self::TopLand => core::Kind::TopLand,
        }
    }
}

/// The calculation.
pub struct MeasuredVolume;

impl Calculation for MeasuredVolume {
    const PATH: &'static str = "/v1/compression/measured-volume";
    const SUMMARY: &'static str = "Volumes from shop measurements: poured, traced, or by diameter and depth";
    const DESCRIPTION: &'static str = "A chamber poured (cc'd) through a plate; a piston lowered and poured over; a gasket's \
        opening traced; dishes, pockets and valve reliefs by their sizes; the top-land crevice.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id];
    const DEFAULT_FIELD: &'static str = "volume";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/compression/measured_volume.json");
    type Request = MeasuredVolumeRequest;
    type Response = MeasuredVolumeResponse;

    fn run(request: MeasuredVolumeRequest) -> Result<MeasuredVolumeResponse, Error> {
        let units = request.units;
        let length = |length: Option<LengthInput>| length.map(|length| length.core(units));
        let found = core::evaluate(&core::MeasuredVolumeInput {
            kind: request.kind.core(),
            poured_volume: request.poured_volume.map(|volume| volume.core(units)),
            fill_hole_diameter: length(request.fill_hole_diameter),
            plate_thickness: length(request.plate_thickness),
            bore: length(request.bore),
            lowered_by: length(request.lowered_by),
            top_land_height: length(request.top_land_height),
            top_land_diameter: length(request.top_land_diameter),
            outline: request.outline.map(|list| list.iter().map(|corner| corner.core(units)).collect()),
            gasket_thickness: length(request.gasket_thickness),
            diameter: length(request.diameter),
            floor_diameter: length(request.floor_diameter),
            depth: length(request.depth),
            offset: length(request.offset),
            tilt: request.tilt.map(|angle| angle.core(units)),
            count: request.count,
        })?;
        Ok(MeasuredVolumeResponse {
            units,
            volume: found.volume.map(|volume| out(volume, units)),
            dish_volume: found.dish_volume.map(|volume| out(volume, units)),
            dome_volume: found.dome_volume.map(|volume| out(volume, units)),
            area: found.area.map(|area| out(area, units)),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}
