//! `/v1/geometry/line-hone`

use calc_core::error::Error;
use calc_core::geometry::{chain_loop, line_hone as core};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::routes::builds::evaluate::{MissingResult, missing_result};
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{AngleInput, LengthInput, LengthOutput, out};
use crate::wire::{ShortText, Units};

/// The main housings as measured, and what is wanted of them.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LineHoneRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// In order along the crank, 2 to 24.
    #[schema(min_items = 2, max_items = 24)]
    housings: Vec<LineHoneHousing>,
    /// Taken off the parting face of each cap; none when absent.
    cap_cut: Option<LengthInput>,
    /// Size that all housings are finished to.
    finished_size: LengthInput,
    /// Where a boring bar is set, from the line through the end housings' centres, positive towards the deck; when absent a
    /// hone finds its own place, with equal stock of saddle and cap.
    set_movement: Option<LengthInput>,
    /// The decks, at most 4.
    #[schema(max_items = 4)]
    decks: Option<Vec<LineHoneDeck>>,
    /// Where the camshaft is.
    camshaft: Option<LineHoneCamshaft>,
    /// The camshaft's chain, two runs without tensioner; needs the camshaft.
    chain: Option<LineHoneChain>,
}

/// One main housing.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct LineHoneHousing {
    /// What it is called, given back.
    name: Option<ShortText>,
    /// Distance along the crank.
    along: LengthInput,
    /// Diameter square to the parting face, caps torqued, before the caps are cut.
    size: LengthInput,
    /// Saddle off the straight line through the end saddles, positive towards the deck; left out for the end housings.
    deviation: Option<LengthInput>,
}

/// One deck.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct LineHoneDeck {
    /// What it is called, given back.
    name: Option<ShortText>,
    /// Crank axis to deck, before.
    deck_height: LengthInput,
    /// Bore axis to the normal of the caps' parting faces: half the bank angle of a vee; none when absent.
    bore_angle: Option<AngleInput>,
}

/// Where the camshaft is.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct LineHoneCamshaft {
    /// Crank axis to camshaft axis, before.
    distance: LengthInput,
    /// Direction of the camshaft to the normal of the parting faces; straight towards the deck when absent.
    angle: Option<AngleInput>,
}

/// A chain of two runs.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct LineHoneChain {
    /// Pitch, pin to pin.
    pitch: LengthInput,
    /// Teeth of the crank sprocket, 8 to 200.
    crank_teeth: u32,
    /// Teeth of the camshaft sprocket, 8 to 200.
    camshaft_teeth: u32,
}

/// The crank axis after the line-hone, and what follows.
#[derive(Debug, Serialize, ToSchema)]
pub struct LineHoneResponse {
    /// Unit system of the answer.
    units: Units,
    /// Movement of the crank axis towards the deck, at the middle between the end housings.
    movement: LengthOutput,
    /// Movement at the last housing less that at the first.
    tilt: LengthOutput,
    /// In the order given.
    housings: Vec<LineHoneHousingResult>,
    /// The smallest finished size that cleans up all housings on this axis.
    smallest_finished_size: LengthOutput,
    /// In the order given.
    decks: Vec<LineHoneDeckResult>,
    /// Crank axis to camshaft axis, after; only with a camshaft.
    #[serde(skip_serializing_if = "Option::is_none")]
    cam_distance_after: Option<LengthOutput>,
    /// That distance after less before.
    #[serde(skip_serializing_if = "Option::is_none")]
    cam_distance_change: Option<LengthOutput>,
    /// Length of chain to spare, both runs together; negative when it becomes too short.
    #[serde(skip_serializing_if = "Option::is_none")]
    chain_slack: Option<LengthOutput>,
    /// Sag in the middle of the slack run that holds all of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    chain_sag: Option<LengthOutput>,
    /// Results that need an input which is not in the request.
    missing: Vec<MissingResult>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// One housing after the line-hone.
#[derive(Debug, Serialize, ToSchema)]
pub struct LineHoneHousingResult {
    /// The name given.
    #[serde(skip_serializing_if = "Option::is_none")]
    name: Option<ShortText>,
    /// Movement of the crank axis there, towards the deck.
    movement: LengthOutput,
    /// Taken out of the saddle; negative where it does not clean up.
    saddle_stock: LengthOutput,
    /// Taken out of the cap; negative where it does not clean up.
    cap_stock: LengthOutput,
}

/// One deck after the line-hone.
#[derive(Debug, Serialize, ToSchema)]
pub struct LineHoneDeckResult {
    /// The name given.
    #[serde(skip_serializing_if = "Option::is_none")]
    name: Option<ShortText>,
    /// Deck height from the new axis, at the middle of the crank.
    deck_height_after: LengthOutput,
    /// Change of each cylinder's deck clearance; negative when the pistons come up.
    deck_clearance_change: LengthOutput,
    /// How far the crank axis leaves the plane of the bore axes.
    axis_offset: LengthOutput,
}

/// The calculation.
pub struct LineHone;

impl Calculation for LineHone {
    const PATH: &'static str = "/v1/geometry/line-hone";
    const SUMMARY: &'static str = "Main housings honed in line: where the crank axis goes, and what that changes";
    const DESCRIPTION: &'static str = "Sizes and straightness of the main housings, the cut of their caps and the finished size. \
        Gives the movement of the crank axis towards the deck, the stock at each saddle and cap, new deck heights, crank-to-cam \
        distance, slack of a two-run chain and the change of deck clearance.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id, chain_loop::METHOD.id];
    const DEFAULT_FIELD: &'static str = "movement";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/geometry/line_hone.json");
    const HAS_QUERY: bool = false;
    type Request = LineHoneRequest;
    type Response = LineHoneResponse;

    fn run(request: LineHoneRequest) -> Result<LineHoneResponse, Error> {
        let units = request.units;
        let found = core::evaluate(&request.core())?;
        let housings = request.housings.into_iter().zip(found.housings);
        let decks = request.decks.into_iter().flatten().zip(found.decks);
        Ok(LineHoneResponse {
            units,
            movement: out(found.movement, units),
            tilt: out(found.tilt, units),
            housings: housings
                .map(|(given, found)| LineHoneHousingResult {
                    name: given.name,
                    movement: out(found.movement, units),
                    saddle_stock: out(found.saddle_stock, units),
                    cap_stock: out(found.cap_stock, units),
                })
                .collect(),
            smallest_finished_size: out(found.smallest_finished_size, units),
            decks: decks
                .map(|(given, found)| LineHoneDeckResult {
                    name: given.name,
                    deck_height_after: out(found.deck_height, units),
                    deck_clearance_change: out(found.deck_clearance_change, units),
                    axis_offset: out(found.axis_offset, units),
                })
                .collect(),
            cam_distance_after: found.cam_distance.map(|distance| out(distance, units)),
            cam_distance_change: found.cam_distance_change.map(|change| out(change, units)),
            chain_slack: found.chain_slack.map(|slack| out(slack, units)),
            chain_sag: found.chain_sag.map(|sag| out(sag, units)),
            missing: found.missing.into_iter().map(missing_result).collect(),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}

impl LineHoneRequest {
    fn core(&self) -> core::LineHoneInput {
        let units = self.units;
        let length = |length: Option<LengthInput>| length.map(|length| length.core(units));
        let angle = |angle: Option<AngleInput>| angle.map(|angle| angle.core(units)).unwrap_or_default();
        let housing = |housing: &LineHoneHousing| core::Housing {
            along: housing.along.core(units),
            size: housing.size.core(units),
            deviation: length(housing.deviation),
        };
        let deck = |deck: &LineHoneDeck| core::Deck {
            deck_height: deck.deck_height.core(units),
            bore_angle: angle(deck.bore_angle),
        };
        core::LineHoneInput {
            housings: self.housings.iter().map(housing).collect(),
            cap_cut: length(self.cap_cut).unwrap_or_default(),
            finished_size: self.finished_size.core(units),
            set_movement: length(self.set_movement),
            decks: self.decks.iter().flatten().map(deck).collect(),
            camshaft: self.camshaft.as_ref().map(|camshaft| core::CamshaftPlace {
                distance: camshaft.distance.core(units),
                angle: angle(camshaft.angle),
            }),
            chain: self.chain.as_ref().map(|chain| core::Chain {
                pitch: chain.pitch.core(units),
                crank_teeth: chain.crank_teeth,
                camshaft_teeth: chain.camshaft_teeth,
            }),
        }
    }
}
