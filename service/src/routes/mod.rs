//! Every address of the service. The list of calculations feeds the server, the document and the command line.

pub mod builds;
pub mod compression;
pub mod geometry;
pub mod methods;
pub mod oil;
pub mod operation;
pub mod problems;
pub mod workbook;

use crate::bulk;
use crate::calculation::Entry;

/// All calculations: the main job first, for requests are matched in this order, then in the order of the job.
pub static CALCULATIONS: &[Entry] = &[
    Entry::of::<builds::evaluate::Evaluate>(),
    Entry::of::<builds::operations::Operations>(),
    Entry::of::<builds::compare::Compare>(),
    Entry::of::<builds::goal::Goal>(),
    Entry::of::<builds::tolerance::BuildTolerance>(),
    Entry::of::<builds::sweep::Sweep>(),
    Entry::of::<builds::fit::Fit>(),
    Entry::of::<geometry::displacement::Displacement>(),
    Entry::of::<geometry::deck_stack::DeckStack>(),
    Entry::of::<geometry::piston_motion::PistonMotion>(),
    Entry::of::<geometry::line_hone::LineHone>(),
    Entry::of::<geometry::deck_survey::DeckSurvey>(),
    Entry::of::<geometry::bore_survey::BoreSurvey>(),
    Entry::of::<geometry::manifold_fit::ManifoldFit>(),
    Entry::of::<geometry::valve_to_piston::ValveToPiston>(),
    Entry::of::<compression::r#static::Static>(),
    Entry::of::<compression::target::Target>(),
    Entry::of::<compression::measured_volume::MeasuredVolume>(),
    Entry::of::<compression::flat_mill::FlatMill>(),
    Entry::of::<compression::tolerance::Tolerance>(),
    Entry::of::<compression::trapped::Trapped>(),
    Entry::of::<compression::end_state::EndState>(),
    Entry::of::<compression::knock_margin::KnockMargin>(),
    Entry::of::<oil::properties::Properties>(),
    Entry::of::<oil::restrictor::Restrictor>(),
    Entry::of::<oil::annulus::Annulus>(),
    Entry::of::<oil::passage::Passage>(),
    Entry::of::<oil::feed_overlap::FeedOverlap>(),
    Entry::of::<oil::journal_bearing::JournalBearing>(),
    Entry::of::<oil::circuit::Circuit>(),
    Entry::of::<oil::budget::Budget>(),
];

/// The calculation at a path.
#[must_use]
pub fn calculation(path: &str) -> Option<&'static Entry> {
    CALCULATIONS.iter().find(|entry| entry.path == path)
}

/// Addresses that are not calculations and end in no name.
const PLAIN: [&str; 9] = [
    "/healthz",
    "/readyz",
    "/metrics",
    "/openapi.json",
    "/v1/methods",
    "/v1/builds/places",
    "/v1/workbook.xlsx",
    "/docs",
    "/",
];

/// Every address that ends in no name.
pub(crate) fn paths() -> Vec<String> {
    let forms = |entry: &Entry| {
        let single: &[&str] = if entry.has_query { &["", "/value"] } else { &[""] };
        let csv: &[&str] = if entry.has_csv() { &["/csv"] } else { &[] };
        let all = single.iter().chain(bulk::suffixes(entry)).chain(csv);
        all.map(|suffix| format!("{}{suffix}", entry.path)).collect::<Vec<_>>()
    };
    let calculations = CALCULATIONS.iter().flat_map(forms);
    PLAIN.iter().map(|path| (*path).to_owned()).chain(calculations).collect()
}
