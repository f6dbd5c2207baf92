//! `/v1/geometry/deck-survey`

use calc_core::error::Error;
use calc_core::geometry::deck_survey as core;
use calc_core::geometry::surface;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::calculation::Calculation;
use crate::routes::builds::evaluate::{MissingResult, missing_result};
use crate::wire::answer::{Caution, cautions};
use crate::wire::quantity::{LengthInput, LengthOutput, RatioOutput, out};
use crate::wire::{ShortText, Units};

/// The decks as measured and what is wanted of them.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DeckSurveyRequest {
    /// Unit system of bare numbers and of the answer.
    units: Units,
    /// One deck each, 1 to 4.
    #[schema(min_items = 1, max_items = 4)]
    banks: Vec<DeckSurveyBank>,
    /// Slope across that the finished decks may have; square to the bore when absent.
    cross_slope: Option<DeckSurveyCrossSlope>,
    /// Whether all banks are to finish at one height; each at its own when absent.
    equal_banks: Option<bool>,
    /// Taken off beyond the lowest point of a deck that must be cut; none when absent.
    cleanup_allowance: Option<LengthInput>,
    /// Crank, rod and piston, for the deck clearances.
    stack: Option<DeckSurveyStack>,
}

/// One deck.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct DeckSurveyBank {
    /// What it is called, given back.
    name: Option<ShortText>,
    /// Where it was measured: 3 to 200 points, best along both edges.
    #[schema(min_items = 3, max_items = 200)]
    points: Vec<DeckSurveyPoint>,
    /// Its cylinders, at most 48, for the deck clearances.
    #[schema(max_items = 48)]
    cylinders: Option<Vec<DeckSurveyCylinder>>,
}

/// One measured point of a deck.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct DeckSurveyPoint {
    /// What it is called, given back.
    name: Option<ShortText>,
    /// Distance along the crank, from any one place for all banks.
    along: LengthInput,
    /// Distance across the bank from the plane of the bore axes; which side is positive is yours to choose.
    across: LengthInput,
    /// Height above the crank axis, along the bore.
    height: LengthInput,
}

/// Where a cylinder stands.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct DeckSurveyCylinder {
    /// What it is called, given back.
    name: Option<ShortText>,
    /// Distance of the bore axis along the crank, from the same place as the points.
    along: LengthInput,
}

/// Slope across the finished deck.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum DeckSurveyCrossSlope {
    /// None: square to the bore.
    SquareToBore,
    /// Whatever takes the least metal.
    Free,
}

/// Crank, rod and piston.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct DeckSurveyStack {
    /// The crank's stroke: twice its radius.
    stroke: LengthInput,
    /// Connecting rod length between the centres of its eyes; longer than the stroke.
    rod_length: LengthInput,
    /// Compression height of the piston: pin axis to the flat of the crown.
    compression_height: LengthInput,
    /// Pin offset, either way; none when absent.
    pin_offset: Option<LengthInput>,
}

/// The decks as they are and as they would be.
#[derive(Debug, Serialize, ToSchema)]
pub struct DeckSurveyResponse {
    /// Unit system of the answer.
    units: Units,
    /// In the order given.
    banks: Vec<DeckSurveyBankResult>,
    /// Highest less lowest bank before the cut, at the middle of the measured length on the bore axes; with two or more banks.
    #[serde(skip_serializing_if = "Option::is_none")]
    step: Option<LengthOutput>,
    /// Results that need an input which is not in the request.
    missing: Vec<MissingResult>,
    /// What to look at twice.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// One deck as it is and as it would be.
#[derive(Debug, Serialize, ToSchema)]
pub struct DeckSurveyBankResult {
    /// The name given.
    #[serde(skip_serializing_if = "Option::is_none")]
    name: Option<ShortText>,
    /// Least-squares plane of the deck; absent when the points are in one line.
    #[serde(skip_serializing_if = "Option::is_none")]
    plane: Option<DeckSurveyPlane>,
    /// Flatness: minimum zone according to ISO 1101; absent when the points are in one line.
    #[serde(skip_serializing_if = "Option::is_none")]
    flatness: Option<LengthOutput>,
    /// Deck height at the bore axes after the cut.
    finished_height: LengthOutput,
    /// Rise per length across after the cut; zero when square to the bore. Along the crank there is none.
    finished_slope_across: RatioOutput,
    /// Deepest cut at a measured point: from the tool's first touch to the finished deck.
    largest_cut: LengthOutput,
    /// Shallowest cut at a measured point.
    smallest_cut: LengthOutput,
    /// The cut at each point, in the order given.
    points: Vec<DeckSurveyCut>,
    /// Deck clearances, in the order given; only with a stack.
    cylinders: Vec<DeckSurveyClearance>,
}

/// The least-squares plane of a deck.
#[derive(Debug, Serialize, ToSchema)]
pub struct DeckSurveyPlane {
    /// Mean of the measured heights, which the plane has at the mean place.
    mean_height: LengthOutput,
    /// Rise per length along the crank.
    slope_along: RatioOutput,
    /// Rise per length across.
    slope_across: RatioOutput,
    /// Rise over the measured length along the crank.
    rise_along: LengthOutput,
    /// Rise over the measured breadth.
    rise_across: LengthOutput,
    /// Twist: how far one corner of the measured field stands off the plane of the other three, by the bilinear fit; absent
    /// when the points do not show it.
    #[serde(skip_serializing_if = "Option::is_none")]
    twist: Option<LengthOutput>,
    /// Root of the mean square deviation from the plane.
    rms: LengthOutput,
}

/// The cut at one point.
#[derive(Debug, Serialize, ToSchema)]
pub struct DeckSurveyCut {
    /// The name given.
    #[serde(skip_serializing_if = "Option::is_none")]
    name: Option<ShortText>,
    /// What is taken off there.
    cut: LengthOutput,
}

/// Deck clearance of one cylinder; positive when the piston stops below the deck.
#[derive(Debug, Serialize, ToSchema)]
pub struct DeckSurveyClearance {
    /// The name given.
    #[serde(skip_serializing_if = "Option::is_none")]
    name: Option<ShortText>,
    /// Before the cut, from the least-squares plane; absent when the points are in one line.
    #[serde(skip_serializing_if = "Option::is_none")]
    deck_clearance_before: Option<LengthOutput>,
    /// After the cut.
    deck_clearance_after: LengthOutput,
}

/// The calculation.
pub struct DeckSurvey;

impl Calculation for DeckSurvey {
    const PATH: &'static str = "/v1/geometry/deck-survey";
    const SUMMARY: &'static str =
        "Decks as measured, and the smallest cut that makes them flat and parallel to the crank";
    const DESCRIPTION: &'static str = "Heights of each deck above the crank axis at named points. Gives the plane that fits best, \
        twist and flatness, the step between banks, the smallest cut (less a clean-up allowance where metal comes off), the cut \
        at each point and the deck clearances before and after.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id, surface::FIT.id, surface::FLATNESS.id];
    const DEFAULT_FIELD: &'static str = "step";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/geometry/deck_survey.json");
    const HAS_QUERY: bool = false;
    type Request = DeckSurveyRequest;
    type Response = DeckSurveyResponse;

    fn run(request: DeckSurveyRequest) -> Result<DeckSurveyResponse, Error> {
        let units = request.units;
        let found = core::evaluate(&request.core())?;
        let banks = request.banks.into_iter().zip(found.banks);
        Ok(DeckSurveyResponse {
            units,
            banks: banks.map(|(given, found)| bank_result(given, found, units)).collect(),
            step: found.step.map(|step| out(step, units)),
            missing: found.missing.into_iter().map(missing_result).collect(),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
        })
    }
}

impl DeckSurveyRequest {
    fn core(&self) -> core::DeckSurveyInput {
        let units = self.units;
        core::DeckSurveyInput {
            banks: self.banks.iter().map(|bank| bank.core(units)).collect(),
            cross_slope: match self.cross_slope {
                None | Some(DeckSurveyCrossSlope::SquareToBore) => core::CrossSlope::SquareToBore,
                Some(DeckSurveyCrossSlope::Free) => core::CrossSlope::Free,
            },
            equal_banks: self.equal_banks.unwrap_or_default(),
            cleanup_allowance: self.cleanup_allowance.map(|allowance| allowance.core(units)).unwrap_or_default(),
            stack: self.stack.as_ref().map(|stack| core::Stack {
                stroke: stack.stroke.core(units),
                rod_length: stack.rod_length.core(units),
                compression_height: stack.compression_height.core(units),
                pin_offset: stack.pin_offset.map(|offset| offset.core(units)).unwrap_or_default(),
            }),
        }
    }
}

impl DeckSurveyBank {
    fn core(&self, units: Units) -> core::Bank {
        let point = |point: &DeckSurveyPoint| surface::SurfacePoint {
            along: point.along.core(units),
            across: point.across.core(units),
            height: point.height.core(units),
        };
        let place = |cylinder: &DeckSurveyCylinder| core::CylinderPlace { along: cylinder.along.core(units) };
        core::Bank {
            points: self.points.iter().map(point).collect(),
            cylinders: self.cylinders.iter().flatten().map(place).collect(),
        }
    }
}

fn bank_result(given: DeckSurveyBank, found: core::BankSurvey, units: Units) -> DeckSurveyBankResult {
    let plane = found.fit.zip(found.rise_along).zip(found.rise_across);
    let cuts = given.points.into_iter().zip(found.point_cuts);
    let clearances = given.cylinders.into_iter().flatten().zip(found.clearances);
    DeckSurveyBankResult {
        name: given.name,
        plane: plane.map(|((fit, rise_along), rise_across)| DeckSurveyPlane {
            mean_height: out(fit.middle_height, units),
            slope_along: RatioOutput(fit.slope_along),
            slope_across: RatioOutput(fit.slope_across),
            rise_along: out(rise_along, units),
            rise_across: out(rise_across, units),
            twist: fit.twist.map(|twist| out(twist, units)),
            rms: out(fit.rms, units),
        }),
        flatness: found.flatness.map(|flatness| out(flatness, units)),
        finished_height: out(found.finished_height, units),
        finished_slope_across: RatioOutput(found.finished_slope_across),
        largest_cut: out(found.largest_cut, units),
        smallest_cut: out(found.smallest_cut, units),
        points: cuts.map(|(point, cut)| DeckSurveyCut { name: point.name, cut: out(cut, units) }).collect(),
        cylinders: clearances
            .map(|(cylinder, clearance)| DeckSurveyClearance {
                name: cylinder.name,
                deck_clearance_before: clearance.before.map(|before| out(before, units)),
                deck_clearance_after: out(clearance.after, units),
            })
            .collect(),
    }
}
