//! `/v1/compression/flat-mill`

use calc_core::compression::flat_mill as core;
use calc_core::compression::outline;
use calc_core::error::Error;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{
    AngleInput, AreaInput, AreaOutput, LengthInput, LengthOutput, PartVolumeInput, PartVolumeOutput, out,
};

/// A chamber's opening by depth (levels, or an outline with its wall), and the cut or the volume wanted.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FlatMillRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// Open area at 2 to 200 depths below the present face, the first at the face itself; or give an outline.
    #[schema(max_items = 200)]
    levels: Option<Vec<FlatMillLevel>>,
    /// The opening traced at the present face, 2 to 500 corners in order, instead of levels; needs `wall_depth`.
    #[schema(max_items = 500)]
    outline: Option<Vec<FlatMillCorner>>,
    /// Angle of the wall from the bore axis, positive where the chamber narrows with depth; 0 when absent.
    wall_angle: Option<AngleInput>,
    /// How deep the wall of the outline is straight.
    wall_depth: Option<LengthInput>,
    /// What is to be milled off; or give the volume.
    cut: Option<LengthInput>,
    /// What is to be taken from the chamber, instead of the cut.
    volume_removed: Option<PartVolumeInput>,
    /// The chamber as it is, to get what is left of it.
    chamber_volume: Option<PartVolumeInput>,
}

/// Open area of the chamber at one depth.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FlatMillLevel {
    /// Below the present face.
    depth: LengthInput,
    /// Open area there.
    area: AreaInput,
}

impl FlatMillLevel {
    pub(crate) fn core(&self, units: Units) -> core::AreaLevel {
        core::AreaLevel { depth: self.depth.core(units), area: self.area.core(units) }
    }
}

/// One corner of a traced outline, and how the line to the next corner runs; the last runs to the first.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FlatMillCorner {
    /// Across.
    x: LengthInput,
    /// Along.
    y: LengthInput,
    /// Radius of an arc to the next corner, at most half a circle; a straight line when absent.
    arc_radius: Option<LengthInput>,
    /// Whether the arc bulges into the outline; out of it when absent.
    arc_inwards: Option<bool>,
}

impl FlatMillCorner {
    pub(crate) fn core(&self, units: Units) -> outline::OutlinePoint {
        outline::OutlinePoint {
            x: self.x.core(units),
            y: self.y.core(units),
            arc_radius: self.arc_radius.map(|radius| radius.core(units)),
            arc_inwards: self.arc_inwards.unwrap_or_default(),
        }
    }
}

/// A cut and what it takes.
#[derive(Debug, Serialize, ToSchema)]
pub struct FlatMillResponse {
    /// Unit system of the answer.
    units: Units,
    /// What is milled off.
    cut: LengthOutput,
    /// What that takes from the chamber.
    volume_removed: PartVolumeOutput,
    /// What is left of the chamber; only when it was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    chamber_volume: Option<PartVolumeOutput>,
    /// Open area at the present face.
    area_at_face: AreaOutput,
    /// Open area at the new face.
    area_at_cut: AreaOutput,
    /// Further cut that takes one more cubic centimetre; absent when the profile does not go so deep.
    #[serde(skip_serializing_if = "Option::is_none")]
    next_cubic_centimetre: Option<LengthOutput>,
    /// How deep the profile goes.
    profile_depth: LengthOutput,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// The calculation.
pub struct FlatMill;

impl Calculation for FlatMill {
    const PATH: &'static str = "/v1/compression/flat-mill";
    const SUMMARY: &'static str = "Volume that flat-milling takes from a chamber, or the cut for a volume";
    const DESCRIPTION: &'static str = "From the open area of the chamber at several depths, or from an outline traced at the face \
        with the angle of its wall. A cut beyond the profile is refused: nothing is assumed below what was measured.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id];
    const DEFAULT_FIELD: &'static str = "cut";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/compression/flat_mill.json");
    const HAS_QUERY: bool = false;
    type Request = FlatMillRequest;
    type Response = FlatMillResponse;

    fn run(request: FlatMillRequest) -> Result<FlatMillResponse, Error> {
        let units = request.units;
        let length = |length: Option<LengthInput>| length.map(|length| length.core(units));
        let volume = |volume: Option<PartVolumeInput>| volume.map(|volume| volume.core(units));
        let found = core::evaluate(&core::FlatMillInput {
            levels: request.levels.map(|list| list.iter().map(|level| level.core(units)).collect()),
            outline: request.outline.map(|list| list.iter().map(|corner| corner.core(units)).collect()),
            wall_angle: request.wall_angle.map(|angle| angle.core(units)),
            wall_depth: length(request.wall_depth),
            cut: length(request.cut),
            volume_removed: volume(request.volume_removed),
            chamber_volume: volume(request.chamber_volume),
        })?;
        Ok(FlatMillResponse {
            units,
            cut: out(found.cut, units),
            volume_removed: out(found.volume_removed, units),
            chamber_volume: found.chamber_volume.map(|volume| out(volume, units)),
            area_at_face: out(found.area_at_face, units),
            area_at_cut: out(found.area_at_cut, units),
            next_cubic_centimetre: found.next_cubic_centimetre.map(|cut| out(cut, units)),
            profile_depth: out(found.profile_depth, units),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}
