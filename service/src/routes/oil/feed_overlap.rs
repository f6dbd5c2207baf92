//! `/v1/oil/feed-overlap`

use calc_core::error::Error;
use calc_core::oil::feed_overlap as core;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{AngleInput, AngleOutput, AreaOutput, LengthInput, LengthOutput, PercentOutput, out};

/// Two holes and how far one is turned away, or the hole that should be left open.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FeedOverlapRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// Diameter of the hole in the shell or cam bearing.
    shell_hole: LengthInput,
    /// Diameter of the hole in the housing that feeds it.
    feed_hole: LengthInput,
    /// Diameter of the round face on which the holes meet: the shell's back, the housing bore.
    housing_diameter: LengthInput,
    /// How far the shell is turned (clocked) from where the holes face each other, either way; or one of the next two.
    turned_angle: Option<AngleInput>,
    /// The same as a distance round that face.
    arc_distance: Option<LengthInput>,
    /// Diameter of the equivalent round hole that should be left; the turn is then computed.
    wanted_hole: Option<LengthInput>,
    /// Distance of the holes' centres along the shaft; none when absent.
    axial_offset: Option<LengthInput>,
}

/// How far open the holes are.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FeedOverlapState {
    /// The smaller hole is wholly open.
    Open,
    /// Part of it is.
    Partial,
    /// Nothing is.
    Shut,
}

/// What is open, and the turns that matter.
#[derive(Debug, Serialize, ToSchema)]
pub struct FeedOverlapResponse {
    /// Unit system of the answer.
    units: Units,
    /// How far the shell is turned, given or computed.
    turned_angle: AngleOutput,
    /// The same as a distance round the face.
    arc_distance: LengthOutput,
    /// Distance of the holes' centres.
    centre_distance: LengthOutput,
    /// How far open the holes are.
    state: FeedOverlapState,
    /// Open area.
    open_area: AreaOutput,
    /// Open area as a share of the smaller hole.
    open_share: PercentOutput,
    /// Diameter of the round hole of the same area: use it as the diameter of a restrictor in a circuit, with the shell's thickness
    /// as its length. Zero when shut.
    equivalent_hole: LengthOutput,
    /// Four times the open area over its edge: smaller than the equivalent hole, much smaller for a slit, which thick oil feels.
    hydraulic_diameter: LengthOutput,
    /// The largest turn, either way, that leaves the smaller hole wholly open; absent when the axial offset covers it already.
    #[serde(skip_serializing_if = "Option::is_none")]
    open_up_to: Option<AngleOutput>,
    /// The smallest turn, either way, that shuts the feed; absent when the axial offset shuts it already, or no turn does.
    #[serde(skip_serializing_if = "Option::is_none")]
    shut_from: Option<AngleOutput>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// The calculation.
pub struct FeedOverlap;

impl Calculation for FeedOverlap {
    const PATH: &'static str = "/v1/oil/feed-overlap";
    const SUMMARY: &'static str = "Open area of a bearing's hole that is turned off its feed";
    const DESCRIPTION: &'static str = "A shell or cam bearing turned so that its hole meets the feed hole only in part: open area, the \
        equivalent round hole for a circuit, the turn for a wanted hole, and where the feed is shut. Both holes are taken as circles \
        on the unrolled face.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id];
    const DEFAULT_FIELD: &'static str = "equivalent_hole";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/oil/feed_overlap.json");
    type Request = FeedOverlapRequest;
    type Response = FeedOverlapResponse;

    fn run(request: FeedOverlapRequest) -> Result<FeedOverlapResponse, Error> {
        let units = request.units;
        let found = core::evaluate(&core::FeedOverlapInput {
            shell_hole: request.shell_hole.core(units),
            feed_hole: request.feed_hole.core(units),
            housing_diameter: request.housing_diameter.core(units),
            turned_angle: request.turned_angle.map(|angle| angle.core(units)),
            arc_distance: request.arc_distance.map(|distance| distance.core(units)),
            wanted_hole: request.wanted_hole.map(|hole| hole.core(units)),
            axial_offset: request.axial_offset.map(|offset| offset.core(units)),
        })?;
        Ok(FeedOverlapResponse {
            units,
            turned_angle: out(found.turned_angle, units),
            arc_distance: out(found.arc_distance, units),
            centre_distance: out(found.centre_distance, units),
            state: match found.state {
                core::OpeningState::Open => FeedOverlapState::Open,
                core::OpeningState::Partial => FeedOverlapState::Partial,
                core::OpeningState::Shut => FeedOverlapState::Shut,
            },
            open_area: out(found.open_area, units),
            open_share: PercentOutput::from_share(found.open_share),
            equivalent_hole: out(found.equivalent_hole, units),
            hydraulic_diameter: out(found.hydraulic_diameter, units),
            open_up_to: found.open_up_to.map(|angle| out(angle, units)),
            shut_from: found.shut_from.map(|angle| out(angle, units)),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}
