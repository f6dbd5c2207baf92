//! What is asked of a catalogue, as it travels.

use calc_core::build::fit::catalogue as parts;
use calc_core::build::fit::question as core;
use calc_core::error::{Error, broken_rule};
use calc_core::units::{Length, Ratio};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use validator::ValidationError;

use super::csv_text;
use super::parts::{
    FitBearings, FitCatalogue, FitCatalogueCsv, FitConnectingRod, FitCrankshaft, FitCylinderHead, FitHeadGasket,
    FitPiston, Offered,
};
use crate::calculation::internal_error;
use crate::routes;
use crate::routes::builds::rules::BuildRule;
use crate::routes::builds::sheet::{Atmosphere, Block, Camshaft, Engine, Running};
use crate::shape::Shape;
use crate::wire::place::{PlaceQuantity, ResultPointer};
use crate::wire::quantity::{LengthInput, RatioInput};
use crate::wire::{ShortText, Units};

/// A build, a catalogue, and what is wanted.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FitRequest {
    /// An identifier of the caller's, given back.
    pub(super) id: Option<ShortText>,
    /// What the build is called, given back.
    pub(super) title: Option<ShortText>,
    /// Unit system of bare numbers and of the answer.
    pub(super) units: Units,
    /// The build that the parts go into.
    base: FitBase,
    /// Candidates by slot.
    catalogue: Option<FitCatalogue>,
    /// Candidates by slot as CSV text; each slot in one of the two.
    catalogue_csv: Option<FitCatalogueCsv>,
    /// What may be taken off the decks; nothing when absent.
    deck_cut: Option<FitCutRange>,
    /// What may be taken off the heads; nothing when absent.
    head_cut: Option<FitCutRange>,
    /// What results must keep to, each result once.
    #[schema(max_items = 40)]
    limits: Option<Vec<FitLimit>>,
    /// What is better, the most important first; each criterion once.
    #[schema(max_items = 5)]
    preference: Vec<FitCriterion>,
    /// How many combinations are wanted, 1 to 100; 10 when absent.
    best: Option<u32>,
    /// The caller's own limits on results that do not reject: a broken one is a caution of the combination. At most 200.
    #[schema(max_items = 200)]
    pub(super) rules: Option<Vec<BuildRule>>,
}

/// The build that the parts go into. Its sections lend a candidate what it does not say, and stand in for a slot without
/// candidates. What is measured cylinder by cylinder has no place here: it belongs to parts that are chosen.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct FitBase {
    /// Cylinders and how they stand.
    engine: Engine,
    /// The block, before any cut.
    block: Block,
    /// The crankshaft.
    crankshaft: Option<FitCrankshaft>,
    /// The connecting rods.
    connecting_rod: Option<FitConnectingRod>,
    /// The pistons.
    piston: Option<FitPiston>,
    /// The head gasket.
    head_gasket: Option<FitHeadGasket>,
    /// The cylinder heads.
    cylinder_head: Option<FitCylinderHead>,
    /// The rod bearings.
    bearings: Option<FitBearings>,
    /// The camshaft, for the trapped ratio.
    camshaft: Option<Camshaft>,
    /// How the engine is to run, for speeds and accelerations.
    running: Option<Running>,
    /// The air that it breathes, for the end of compression.
    atmosphere: Option<Atmosphere>,
}

/// The least and the most that one cut takes. A combination gets the smallest cut of the range that brings it into its limits.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct FitCutRange {
    /// The least, which every combination gets; nothing when absent.
    least: Option<LengthInput>,
    /// The most.
    most: LengthInput,
}

/// What one result must keep to.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct FitLimit {
    /// The result that is limited.
    pointer: ResultPointer,
    /// Not less than this; this, at_most, or both.
    at_least: Option<PlaceQuantity>,
    /// Not more than this.
    at_most: Option<PlaceQuantity>,
}

/// What makes one combination better than another.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
struct FitCriterion {
    /// What is compared.
    by: FitBy,
    /// The wanted ratio; only with static_ratio.
    wanted_ratio: Option<RatioInput>,
    /// The wanted squish clearance; only with squish_clearance.
    wanted_squish: Option<LengthInput>,
    /// Ratios are compared in whole steps of this; 0.01 when absent; only with static_ratio.
    ratio_step: Option<RatioInput>,
    /// Lengths are compared in whole steps of this; 0.0005 in when absent; only with squish_clearance and depth_of_cuts.
    length_step: Option<LengthInput>,
}

/// What combinations are compared by; less is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(super) enum FitBy {
    /// The sum of the prices.
    Price,
    /// Distance of the static ratio from the wanted one.
    StaticRatio,
    /// Distance of the squish clearance from the wanted one.
    SquishClearance,
    /// How many of the cuts, off decks and off heads, are made.
    NumberOfCuts,
    /// What the cuts take together.
    DepthOfCuts,
}

impl FitBy {
    pub(super) fn of(criterion: &core::Criterion) -> Self {
        match criterion {
            core::Criterion::Price => Self::Price,
            core::Criterion::StaticRatio { .. } => Self::StaticRatio,
            core::Criterion::SquishClearance { .. } => Self::SquishClearance,
            core::Criterion::NumberOfCuts => Self::NumberOfCuts,
            core::Criterion::DepthOfCuts { .. } => Self::DepthOfCuts,
        }
    }
}

/// Combinations given back when the request does not say how many.
const USUAL_BEST: u32 = 10;

impl FitRequest {
    /// The question in core quantities, or every fault of its reading.
    pub(super) fn core(&mut self) -> Result<core::FitInput, Error> {
        let units = self.units;
        let mut faults = Vec::new();
        let limits = limits(self.limits.take().unwrap_or_default(), units, &mut faults);
        let preference = preference(&self.preference, units, &mut faults);
        let (json, csv) = (self.catalogue.take().unwrap_or_default(), self.catalogue_csv.take().unwrap_or_default());
        let mut reader = CatalogueReader { units, places: ["catalogue"; 6], faults };
        let catalogue = parts::Catalogue {
            crankshaft: reader.slot(0, json.crankshaft, csv.crankshaft.as_deref())?,
            connecting_rod: reader.slot(1, json.connecting_rod, csv.connecting_rod.as_deref())?,
            piston: reader.slot(2, json.piston, csv.piston.as_deref())?,
            head_gasket: reader.slot(3, json.head_gasket, csv.head_gasket.as_deref())?,
            cylinder_head: reader.slot(4, json.cylinder_head, csv.cylinder_head.as_deref())?,
            bearings: reader.slot(5, json.bearings, csv.bearings.as_deref())?,
        };
        if !reader.faults.is_empty() {
            return Err(Error::of_rules(reader.faults));
        }
        Ok(core::FitInput {
            base: self.base.core(units),
            catalogue,
            places: reader.places,
            deck_cut: self.deck_cut.as_ref().map(|cut| cut.core(units)),
            head_cut: self.head_cut.as_ref().map(|cut| cut.core(units)),
            limits,
            preference,
            best: self.best.unwrap_or(USUAL_BEST),
        })
    }
}

/// The published shape of a slot's part. Lists need none: it is compiled only when a text is read.
fn part_shape(slot: &str) -> Result<&'static Shape, Error> {
    let request = routes::calculation("/v1/builds/fit").and_then(|entry| entry.shape().ok());
    match request.and_then(|shape| field(field(shape, "catalogue")?, slot)) {
        Some(Shape::List { item, .. }) => Ok(item),
        _ => Err(internal_error("the shape of a catalogue")),
    }
}

fn field<'a>(shape: &'a Shape, name: &str) -> Option<&'a Shape> {
    let Shape::Object(fields) = shape else { return None };
    fields.iter().find(|field| field.name == name).map(|field| &field.shape)
}

struct CatalogueReader {
    units: Units,
    places: [&'static str; 6],
    faults: Vec<ValidationError>,
}

impl CatalogueReader {
    fn slot<P: Offered>(
        &mut self,
        slot: usize,
        json: Option<Vec<P>>,
        csv: Option<&str>,
    ) -> Result<Option<Vec<parts::Part<P::Fields>>>, Error> {
        let name = parts::SLOTS[slot];
        let place = format!("catalogue_csv/{name}");
        match (json, csv) {
            (Some(_), Some(_)) => {
                let detail = "is given as a list in the catalogue too; give each slot in one form.".to_owned();
                self.faults.push(broken_rule(&place, "over_determined", detail));
                Ok(None)
            }
            (Some(list), None) => Ok(Some(list.into_iter().map(|part| part.core(self.units)).collect())),
            (None, Some(text)) => {
                self.places[slot] = "catalogue_csv";
                match csv_text::read::<P>(text, part_shape(name)?, &place, self.units) {
                    Ok(parts) => Ok(Some(parts)),
                    Err(faults) => {
                        self.faults.extend(faults);
                        Ok(None)
                    }
                }
            }
            (None, None) => Ok(None),
        }
    }
}

impl FitBase {
    fn core(&self, units: Units) -> parts::FitBase {
        parts::FitBase {
            engine: self.engine.core(units),
            block: self.block.core(units),
            crankshaft: self.crankshaft.as_ref().map(|section| section.core(units)).unwrap_or_default(),
            connecting_rod: self.connecting_rod.as_ref().map(|section| section.core(units)).unwrap_or_default(),
            piston: self.piston.as_ref().map(|section| section.core(units)).unwrap_or_default(),
            head_gasket: self.head_gasket.as_ref().map(|section| section.core(units)).unwrap_or_default(),
            cylinder_head: self.cylinder_head.as_ref().map(|section| section.core(units)).unwrap_or_default(),
            bearings: self.bearings.as_ref().map(|section| section.core(units)).unwrap_or_default(),
            camshaft: self.camshaft.as_ref().map(|camshaft| camshaft.core(units)),
            running: self.running.as_ref().map(|running| running.core(units)),
            atmosphere: self.atmosphere.as_ref().map(|air| air.core(units)),
        }
    }
}

impl FitCutRange {
    fn core(&self, units: Units) -> core::CutRange {
        let least = self.least.map(|least| least.core(units)).unwrap_or_default();
        core::CutRange { least, most: self.most.core(units) }
    }
}

fn limits(given: Vec<FitLimit>, units: Units, faults: &mut Vec<ValidationError>) -> Vec<core::ResultLimit> {
    let mut limits = Vec::with_capacity(given.len());
    for (index, limit) in given.into_iter().enumerate() {
        let at = |field: &str| format!("limits/{index}/{field}");
        match limit.pointer.resolve(&at("pointer")) {
            Ok(field) => {
                let mut end = |given: Option<PlaceQuantity>, name: &str| {
                    let si = given.map(|given| field.si(&given, units, &at(name))).transpose();
                    si.unwrap_or_else(|fault| {
                        faults.push(fault);
                        None
                    })
                };
                let (at_least, at_most) = (end(limit.at_least, "at_least"), end(limit.at_most, "at_most"));
                limits.push(core::ResultLimit { result: field.place, at_least, at_most });
            }
            Err(fault) => faults.push(fault),
        }
    }
    limits
}

fn preference(given: &[FitCriterion], units: Units, faults: &mut Vec<ValidationError>) -> Vec<core::Criterion> {
    let one = |(index, criterion): (usize, &FitCriterion)| criterion.core(units, index, faults);
    given.iter().enumerate().filter_map(one).collect()
}

impl FitCriterion {
    fn core(&self, units: Units, index: usize, faults: &mut Vec<ValidationError>) -> Option<core::Criterion> {
        let by = self.by;
        let said = [
            ("wanted_ratio", self.wanted_ratio.is_some(), by == FitBy::StaticRatio),
            ("ratio_step", self.ratio_step.is_some(), by == FitBy::StaticRatio),
            ("wanted_squish", self.wanted_squish.is_some(), by == FitBy::SquishClearance),
            ("length_step", self.length_step.is_some(), matches!(by, FitBy::SquishClearance | FitBy::DepthOfCuts)),
        ];
        for (name, _, _) in said.into_iter().filter(|(_, said, belongs)| *said && !belongs) {
            let detail = "does not belong to this criterion; leave it out.".to_owned();
            faults.push(broken_rule(&format!("preference/{index}/{name}"), "contradiction", detail));
        }
        let mut missing = |name: &str| {
            let detail = "is missing: say which value is wanted.".to_owned();
            faults.push(broken_rule(&format!("preference/{index}/{name}"), "missing", detail));
        };
        let step = self.length_step.map_or(Length::from_inches(0.0005), |step| step.core(units));
        Some(match by {
            FitBy::Price => core::Criterion::Price,
            FitBy::NumberOfCuts => core::Criterion::NumberOfCuts,
            FitBy::DepthOfCuts => core::Criterion::DepthOfCuts { step },
            FitBy::StaticRatio => {
                let Some(wanted) = self.wanted_ratio else {
                    missing("wanted_ratio");
                    return None;
                };
                let step = self.ratio_step.map_or(Ratio::from_plain(0.01), |step| step.core(units));
                core::Criterion::StaticRatio { wanted: wanted.core(units), step }
            }
            FitBy::SquishClearance => {
                let Some(wanted) = self.wanted_squish else {
                    missing("wanted_squish");
                    return None;
                };
                core::Criterion::SquishClearance { wanted: wanted.core(units), step }
            }
        })
    }
}
