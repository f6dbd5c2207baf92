//! `/v1/builds/sweep`

use calc_core::build::place::{Input, Output};
use calc_core::build::sweep::{self as core, Axis, SweepInput, Values};
use calc_core::error::{Error, broken_rule};
use calc_core::stop::Stop;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::sheet::BuildRequest;
use crate::calculation::{Calculation, Csv};
use crate::wire::answer::{About, Caution, cautions};
use crate::wire::place::{Field, Found, InputPointer, PlaceNumber, PlaceQuantity, ResultPointer, pointer};
use crate::wire::{ShortText, Units};

/// A build, what is varied in it, and what is looked at. The `units` of the build are those of the whole request.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SweepRequest {
    /// The build as planned.
    build: BuildRequest,
    /// What is varied: one or two inputs; with two, the last varies fastest. At most 20000 rows.
    #[schema(max_items = 2)]
    inputs: Vec<SweepAxis>,
    /// What is looked at: up to 40 results.
    #[schema(max_items = 40)]
    results: Vec<ResultPointer>,
}

/// An input and its values: `values`, or `from`, `to` and `step`.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SweepAxis {
    /// The input; one that the build leaves out may be given too.
    pointer: InputPointer,
    /// Its values one by one.
    values: Option<Vec<PlaceQuantity>>,
    /// The first of equal steps.
    from: Option<PlaceQuantity>,
    /// Where they end, at the latest.
    to: Option<PlaceQuantity>,
    /// From each to the next; negative when `to` is below `from`.
    step: Option<PlaceQuantity>,
}

/// A table of results.
#[derive(Debug, Serialize, ToSchema)]
pub struct SweepResponse {
    /// The identifier of the build, given back.
    #[serde(skip_serializing_if = "Option::is_none")]
    id: Option<ShortText>,
    /// The title of the build, given back.
    #[serde(skip_serializing_if = "Option::is_none")]
    title: Option<ShortText>,
    /// Unit system of the answer.
    units: Units,
    /// What the numbers of a row are: first its inputs, then its results.
    columns: Vec<SweepColumn>,
    /// One for each value, or for each pair of values.
    rows: Vec<SweepRow>,
    /// What to look at twice in the build as planned: pointers lead into the build and into its evaluation.
    cautions: Vec<Caution>,
    /// Methods used; see `/v1/methods`.
    method: &'static [&'static str],
}

/// What one number of each row is.
#[derive(Debug, Serialize, ToSchema)]
pub struct SweepColumn {
    /// JSON Pointer of the place.
    pointer: String,
    /// Whether it is an input of the request or a result in the answer of `/v1/builds/evaluate`.
    about: About,
    /// Unit of its numbers.
    unit: &'static str,
}

/// One build.
#[derive(Debug, Serialize, ToSchema)]
pub struct SweepRow {
    /// The varied inputs.
    inputs: Vec<PlaceNumber>,
    /// The results; empty when the build is refused with these inputs.
    results: Vec<PlaceNumber>,
    /// Why it is refused; only when it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    error: Option<String>,
}

impl SweepAxis {
    fn core(&self, units: Units, index: usize, found: &mut Found) -> Option<(Field<Input>, Axis)> {
        let at = |field: &str| format!("inputs/{index}/{field}");
        let field = found.keep(self.pointer.resolve(&at("pointer")))?;
        let values = match (&self.values, &self.from, &self.to, &self.step) {
            (Some(values), None, None, None) => {
                let value = |(place, value): (usize, &PlaceQuantity)| {
                    found.keep(field.si(value, units, &at(&format!("values/{place}"))))
                };
                Values::List(values.iter().enumerate().filter_map(value).collect())
            }
            (None, Some(from), Some(to), Some(step)) => {
                let from = found.keep(field.si(from, units, &at("from")));
                let to = found.keep(field.si(to, units, &at("to")));
                let step = found.keep(field.difference_si(step, units, &at("step")));
                Values::Steps { from: from?, to: to?, step: step? }
            }
            (values, ..) => {
                let code = if values.is_some() { "contradiction" } else { "missing" };
                let detail = "needs either values, or from, to and step.".to_owned();
                return found.add(broken_rule(&at("values"), code, detail));
            }
        };
        Some((field, Axis { place: field.place, values }))
    }
}

impl SweepColumn {
    fn new<P>(field: Field<P>, path: &str, about: About, units: Units) -> Self {
        Self { pointer: pointer(path), about, unit: field.unit(units) }
    }
}

/// The calculation.
pub struct Sweep;

impl Calculation for Sweep {
    const PATH: &'static str = "/v1/builds/sweep";
    const SUMMARY: &'static str = "A table of results over the values of one or two inputs";
    const DESCRIPTION: &'static str = "Chosen results of a build for a list of values, or for equal steps, of one or two of its \
        inputs. A value that the build sheet refuses gets its reason. The units of the build hold for the whole request; \
        /v1/builds/places lists the pointers.";
    const METHODS: &'static [&'static str] = &[core::METHOD.id];
    const DEFAULT_FIELD: &'static str = "units";
    const EXAMPLE: &'static str = include_str!("../../../../fixtures/examples/builds/sweep.json");
    const HAS_QUERY: bool = false;
    const IS_LONG: bool = true;
    const CSV: Option<fn(&SweepResponse) -> Csv> = Some(csv);
    type Request = SweepRequest;
    type Response = SweepResponse;

    fn run(request: SweepRequest) -> Result<SweepResponse, Error> {
        Self::run_while_wanted(request, &Stop::never())
    }

    fn run_while_wanted(request: SweepRequest, stop: &Stop) -> Result<SweepResponse, Error> {
        let units = request.build.units;
        let mut found = Found::default();
        let (inputs, axes): (Vec<_>, Vec<_>) =
            request.inputs.iter().enumerate().filter_map(|(index, axis)| axis.core(units, index, &mut found)).unzip();
        let resolve =
            |(index, result): (usize, &ResultPointer)| found.keep(result.resolve(&format!("results/{index}")));
        let results: Vec<Field<Output>> = request.results.iter().enumerate().filter_map(resolve).collect();
        found.check()?;
        let input = SweepInput {
            build: request.build.core(),
            axes,
            results: results.iter().map(|field| field.place).collect(),
        };
        let sweep = core::evaluate(&input, stop)?;
        let row = |row: core::Row| SweepRow {
            inputs: inputs.iter().zip(&row.inputs).map(|(field, value)| field.number(*value, units)).collect(),
            results: results.iter().zip(&row.results).map(|(field, value)| field.number(*value, units)).collect(),
            error: row.refusal,
        };
        let varied = inputs.iter().map(|field| SweepColumn::new(*field, field.place.path, About::Request, units));
        let looked_at = results.iter().map(|field| SweepColumn::new(*field, field.place.path, About::Answer, units));
        Ok(SweepResponse {
            id: request.build.id,
            title: request.build.title,
            units,
            columns: varied.chain(looked_at).collect(),
            rows: sweep.rows.into_iter().map(row).collect(),
            cautions: cautions(sweep.cautions),
            method: Self::METHODS,
        })
    }
}

/// The same table as text: titles as the table forms have them, and the reason of a refusal last.
fn csv(answer: &SweepResponse) -> Csv {
    let title = |column: &SweepColumn| {
        let name = column.pointer.trim_start_matches('/').replace('/', ".");
        if column.unit == "1" { name } else { format!("{name} [{}]", column.unit) }
    };
    let cells = |row: &SweepRow| {
        let results = answer.columns.len() - row.inputs.len();
        let numbers = row.inputs.iter().map(PlaceNumber::text);
        let found = row.results.iter().map(PlaceNumber::text);
        let missing = std::iter::repeat_n(String::new(), results - row.results.len());
        numbers.chain(found).chain(missing).chain([row.error.clone().unwrap_or_default()]).collect()
    };
    Csv {
        header: answer.columns.iter().map(title).chain(["error".to_owned()]).collect(),
        rows: answer.rows.iter().map(cells).collect(),
    }
}
