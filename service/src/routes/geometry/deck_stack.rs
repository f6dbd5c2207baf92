//! `/v1/geometry/deck-stack`

use calc_core::error::Error;
use calc_core::geometry::deck_stack as core;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::wire::Units;
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{LengthInput, LengthOutput, out};

/// Five dimensions, at most one of them left out.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DeckStackRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// Crank axis to the block's deck.
    deck_height: Option<LengthInput>,
    /// The crank's stroke: twice its radius.
    stroke: Option<LengthInput>,
    /// Connecting rod length between the centres of its eyes.
    rod_length: Option<LengthInput>,
    /// Compression height of the piston: pin axis to the flat of the crown.
    compression_height: Option<LengthInput>,
    /// Deck clearance: positive when the piston stops below the deck.
    deck_clearance: Option<LengthInput>,
    /// Pin offset, either way; none when absent.
    pin_offset: Option<LengthInput>,
    /// Compressed thickness of the head gasket, for the squish clearance.
    gasket_thickness: Option<LengthInput>,
}

/// The five dimensions complete.
#[derive(Debug, Serialize, ToSchema)]
pub struct DeckStackResponse {
    /// Unit system of the answer.
    units: Units,
    /// Crank axis to the block's deck.
    deck_height: LengthOutput,
    /// The crank's stroke.
    stroke: LengthOutput,
    /// Connecting rod length.
    rod_length: LengthOutput,
    /// Compression height of the piston.
    compression_height: LengthOutput,
    /// Deck clearance: positive when the piston stops below the deck.
    deck_clearance: LengthOutput,
    /// Which of the five was computed; absent when all five were given.
    #[serde(skip_serializing_if = "Option::is_none")]
    solved_for: Option<DeckStackUnknown>,
    /// Deck height given less what the other four add up to; only when all five were given.
    #[serde(skip_serializing_if = "Option::is_none")]
    closing_error: Option<LengthOutput>,
    /// Squish (quench) clearance: deck clearance plus compressed gasket; only with a gasket.
    #[serde(skip_serializing_if = "Option::is_none")]
    squish_clearance: Option<LengthOutput>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// One of the five dimensions.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum DeckStackUnknown {
    /// Crank axis to the block's deck.
    DeckHeight,
    /// The crank's stroke.
    Stroke,
    /// Connecting rod length.
    RodLength,
    /// Compression height of the piston.
    CompressionHeight,
    /// Deck clearance.
    DeckClearance,
}

/// The calculation.
pub struct DeckStack;

impl Calculation for DeckStack {
    const PATH: &'static str = "/v1/geometry/deck-stack";
    const SUMMARY: &'static str = "Deck height, stroke, rod, compression height and deck clearance: the missing one";
    const DESCRIPTION: &'static str = "Leave out exactly one of the five and it is solved for; give all five and the closing \
        error is reported. With a gasket the squish clearance follows.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id];
    const DEFAULT_FIELD: &'static str = "deck_clearance";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/geometry/deck_stack.json");
    type Request = DeckStackRequest;
    type Response = DeckStackResponse;

    fn run(request: DeckStackRequest) -> Result<DeckStackResponse, Error> {
        let units = request.units;
        let core = |length: Option<LengthInput>| length.map(|length| length.core(units));
        let found = core::evaluate(&core::DeckStackInput {
            deck_height: core(request.deck_height),
            stroke: core(request.stroke),
            rod_length: core(request.rod_length),
            compression_height: core(request.compression_height),
            deck_clearance: core(request.deck_clearance),
            pin_offset: core(request.pin_offset).unwrap_or_default(),
            gasket_thickness: core(request.gasket_thickness),
        })?;
        Ok(DeckStackResponse {
            units,
            deck_height: out(found.deck_height, units),
            stroke: out(found.stroke, units),
            rod_length: out(found.rod_length, units),
            compression_height: out(found.compression_height, units),
            deck_clearance: out(found.deck_clearance, units),
            solved_for: found.solved_for.map(|unknown| match unknown {
                core::Unknown::DeckHeight => DeckStackUnknown::DeckHeight,
                core::Unknown::Stroke => DeckStackUnknown::Stroke,
                core::Unknown::RodLength => DeckStackUnknown::RodLength,
                core::Unknown::CompressionHeight => DeckStackUnknown::CompressionHeight,
                core::Unknown::DeckClearance => DeckStackUnknown::DeckClearance,
            }),
            closing_error: found.closing_error.map(|error| out(error, units)),
            squish_clearance: found.squish_clearance.map(|squish| out(squish, units)),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}
