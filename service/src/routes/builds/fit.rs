//! `/v1/builds/fit`

use calc_core::build::evaluate::FORMULA_REVISION;
use calc_core::build::fit::catalogue::Catalogue;
use calc_core::build::fit::search::Running;
use calc_core::build::fit::why::Standing;
use calc_core::build::fit::{self as core, Combination, METHOD, Rejected};
use calc_core::build::rule;
use calc_core::compression::{end_state, standard_atmosphere, r#static, trapped};
use calc_core::error::Error;
use calc_core::geometry::{deck_stack, displacement, piston_motion};
use calc_core::stop::Stop;
use serde::{Serialize, Serializer};
use utoipa::ToSchema;
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{ObjectBuilder, Schema, Type};

use super::evaluate::{BuildCompression, BuildGeometry};
use super::rules::Rules;
use crate::calculation::Calculation;
use crate::wire::answer::{Caution, cautions};
use crate::wire::place::pointer;
use crate::wire::quantity::{LengthOutput, PartVolumeOutput, PriceOutput, RatioOutput, out};
use crate::wire::{ShortText, Units};

mod csv_text;
mod parts;
mod question;

use parts::FitParts;
use question::{FitBy, FitRequest};

/// The best combinations of a catalogue's parts.
#[derive(Debug, Serialize, ToSchema)]
pub struct FitResponse {
    /// The identifier of the request, given back.
    #[serde(skip_serializing_if = "Option::is_none")]
    id: Option<ShortText>,
    /// The title of the request, given back.
    #[serde(skip_serializing_if = "Option::is_none")]
    title: Option<ShortText>,
    /// Unit system of the answer.
    units: Units,
    /// All combinations of one candidate for each slot.
    considered: CombinationCount,
    /// Those that no rule and no limit rejects.
    fitting: CombinationCount,
    /// The others, each under the first rule or limit that rejects it, in the order in which they are checked.
    rejected: Vec<FitRejected>,
    /// The best, in order.
    best: Vec<FitCombination>,
    /// What to look at twice, whatever is chosen.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
    /// Counts the changes of the equations.
    formula_revision: u32,
}

/// A number of combinations. It is exact, and may be larger than a floating-point number holds exactly.
#[derive(Debug, Clone, Copy)]
struct CombinationCount(u128);

impl Serialize for CombinationCount {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u128(self.0)
    }
}

impl utoipa::PartialSchema for CombinationCount {
    fn schema() -> RefOr<Schema> {
        let text =
            "A number of combinations. It is exact, and may be larger than a floating-point number holds exactly.";
        ObjectBuilder::new().schema_type(Type::Integer).minimum(Some(0)).description(Some(text)).into()
    }
}

impl ToSchema for CombinationCount {}

/// How many combinations a rule or limit rejects.
#[derive(Debug, Serialize, ToSchema)]
pub struct FitRejected {
    /// The rule: a size that must match across slots, rod_clears_crank (a rod no longer than the stroke, or a pin offset above
    /// half the crank radius), or highest_ratio (a ratio above 40, or nothing left above the piston). Under cylinder_bore are
    /// pistons too whose top land does not fit into the bore.
    #[serde(skip_serializing_if = "Option::is_none")]
    rule: Option<&'static str>,
    /// JSON Pointer of the result, for a limit of the request.
    #[serde(skip_serializing_if = "Option::is_none")]
    pointer: Option<String>,
    /// How many are rejected here first.
    combinations: CombinationCount,
}

/// One combination and what follows from it.
#[derive(Debug, Serialize, ToSchema)]
pub struct FitCombination {
    /// Counted from one.
    rank: usize,
    /// What it is made of.
    parts: FitParts,
    /// The sum of the prices; only when every part that was chosen has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    price: Option<PriceOutput>,
    /// What is cut off the decks.
    deck_cut: LengthOutput,
    /// What is cut off the heads.
    head_cut: LengthOutput,
    /// Deck height after the cut.
    deck_height: LengthOutput,
    /// Combustion chamber after the cut.
    chamber_volume: PartVolumeOutput,
    /// What it reaches in each criterion of the preference.
    standings: Vec<FitStanding>,
    /// The first criterion in which it is worse than the combination before it; absent for the first, and where only the order
    /// of the catalogue decides.
    #[serde(skip_serializing_if = "Option::is_none")]
    decided_by: Option<FitBy>,
    /// Why it ranks here.
    why: String,
    /// Sizes and motion.
    geometry: BuildGeometry,
    /// Volumes and ratios.
    compression: BuildCompression,
    /// What to look at twice in this combination. Pointers lead into the build sheet of its parts, or into this combination.
    cautions: Vec<Caution>,
}

/// What a combination reaches in one criterion.
#[derive(Debug, Serialize, ToSchema)]
pub struct FitStanding {
    /// The criterion.
    by: FitBy,
    /// The sum of the prices.
    #[serde(skip_serializing_if = "Option::is_none")]
    price: Option<PriceOutput>,
    /// Distance of the static ratio from the wanted one.
    #[serde(skip_serializing_if = "Option::is_none")]
    ratio_difference: Option<RatioOutput>,
    /// Distance of the squish clearance from the wanted one.
    #[serde(skip_serializing_if = "Option::is_none")]
    squish_difference: Option<LengthOutput>,
    /// How many of the two cuts are made.
    #[serde(skip_serializing_if = "Option::is_none")]
    cuts: Option<u32>,
    /// What they take together.
    #[serde(skip_serializing_if = "Option::is_none")]
    depth: Option<LengthOutput>,
    /// The whole steps that cover the distance or depth: what is compared.
    #[serde(skip_serializing_if = "Option::is_none")]
    steps: Option<u64>,
}

/// The calculation.
pub struct Fit;

impl Calculation for Fit {
    const PATH: &'static str = "/v1/builds/fit";
    const SUMMARY: &'static str = "The best combinations of a parts catalogue within limits";
    const DESCRIPTION: &'static str = "Candidates for crankshaft, connecting rod, piston, head gasket, cylinder head and bearings, \
        as lists or as CSV text; limits on any results, allowed cuts, an order of preference: the best combinations, each with \
        its answer, why it ranks there, and how many combinations every rule and limit rejects. Sizes that must match (pin \
        diameter, rod journal, bearing width, cylinder bore) are checked first. Exact: the same as looking at every combination. \
        A search that would take too long is refused with the slot to narrow.";
    const METHODS: &'static [&'static str] = &[
        METHOD.id,
        displacement::METHOD.id,
        deck_stack::METHOD.id,
        piston_motion::METHOD.id,
        r#static::METHOD.id,
        trapped::METHOD.id,
        standard_atmosphere::METHOD.id,
        end_state::METHOD.id,
    ];
    const DEFAULT_FIELD: &'static str = "considered";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/builds/fit.json");
    const HAS_QUERY: bool = false;
    const IS_LONG: bool = true;
    const LARGEST_BODY: usize = 32 * 1024 * 1024;
    type Request = FitRequest;
    type Response = FitResponse;

    fn run(request: FitRequest) -> Result<FitResponse, Error> {
        Self::run_while_wanted(request, &Stop::never())
    }

    fn run_while_wanted(mut request: FitRequest, stop: &Stop) -> Result<FitResponse, Error> {
        let units = request.units;
        let rules = Rules::new(request.rules.take().unwrap_or_default(), units).and_then(Rules::checked);
        let (input, rules) = match (request.core(), rules) {
            (Ok(input), Ok(rules)) => (input, rules),
            (Err(error), Err(other)) => return Err(error.and(other)),
            (Err(error), _) | (_, Err(error)) => return Err(error),
        };
        let threads = std::thread::available_parallelism().map_or(1, usize::from);
        let found = core::evaluate(&input, &Running { stop, threads })?;
        let one = |(index, one)| FitCombination::new(index + 1, one, &input.catalogue, &rules, units);
        Ok(FitResponse {
            id: request.id,
            title: request.title,
            units,
            considered: CombinationCount(found.considered),
            fitting: CombinationCount(found.fitting),
            rejected: found.rejected.iter().map(FitRejected::new).collect(),
            best: found.best.into_iter().enumerate().map(one).collect(),
            cautions: cautions(found.cautions),
            method: Self::METHODS,
            formula_revision: FORMULA_REVISION,
        })
    }
}

impl FitRejected {
    fn new(rejected: &Rejected) -> Self {
        Self {
            rule: (!rejected.is_limit).then_some(rejected.by),
            pointer: rejected.is_limit.then(|| pointer(rejected.by)),
            combinations: CombinationCount(rejected.combinations),
        }
    }
}

impl FitCombination {
    fn new(rank: usize, one: Combination, catalogue: &Catalogue, rules: &Rules, units: Units) -> Self {
        let parts = FitParts::new(catalogue, one.parts, units);
        let findings = rule::judge(&rules.core, &one.evaluation).into_iter().map(|found| rules.caution(found));
        let mut of_all = cautions(one.evaluation.cautions);
        of_all.extend(findings);
        let criterion = one.decided_by.and_then(|place| one.standings.get(place));
        Self {
            rank,
            price: parts.all_priced().then(|| out(one.price, units)),
            parts,
            deck_cut: out(one.deck_cut, units),
            head_cut: out(one.head_cut, units),
            deck_height: out(one.build.block.deck_height, units),
            chamber_volume: out(one.build.cylinder_head.chamber_volume, units),
            decided_by: criterion.map(|standing| FitBy::of(&standing.criterion)),
            standings: one.standings.iter().map(|standing| FitStanding::new(standing, units)).collect(),
            why: one.why,
            geometry: BuildGeometry::new(&one.evaluation.geometry, units),
            compression: BuildCompression::new(one.evaluation.compression, units),
            cautions: of_all,
        }
    }
}

impl FitStanding {
    fn new(standing: &Standing, units: Units) -> Self {
        Self {
            by: FitBy::of(&standing.criterion),
            price: standing.price.map(|price| out(price, units)),
            ratio_difference: standing.ratio_difference.map(|difference| RatioOutput(difference.plain())),
            squish_difference: standing.squish_difference.map(|difference| out(difference, units)),
            cuts: standing.cuts,
            depth: standing.depth.map(|depth| out(depth, units)),
            steps: standing.steps,
        }
    }
}
