//! What a question must keep to before anything is searched.

use validator::{Validate, ValidationErrors};

use crate::error::{Error, all_faults};
use crate::limit;
use crate::units::{Length, Quantity};

use super::catalogue::MOST_PARTS;
use super::fields::Faults;
use super::limits::is_there;
use super::merge::{Candidates, candidates};
use super::question::{Criterion, CutRange, FitInput, MOST_BEST};

/// The candidates, completed by the base, or every fault of the question.
pub(super) fn check(input: &FitInput) -> Result<Candidates, Error> {
    let mut faults = Faults::default();
    let parts: usize = input.catalogue.sizes().iter().flatten().sum();
    if parts > MOST_PARTS {
        faults.add("catalogue", "too_many", format!("has {parts} parts in all; at most {MOST_PARTS} are taken."));
        return Err(Error::of_rules(faults.0));
    }
    if parts == 0 && input.catalogue.sizes().iter().all(Option::is_none) {
        let detail = "has no slot: give candidates for at least one, or evaluate the build as it is.";
        faults.add("catalogue", "empty_slot", detail.to_owned());
    }
    if input.best < 1 || input.best > MOST_BEST {
        faults.add("best", "out_of_range", format!("must be from 1 to {MOST_BEST}; got {}.", input.best));
    }
    cuts(input, &mut faults);
    limits(input, &mut faults);
    preference(&input.preference, &mut faults);
    let candidates = candidates(input, wants_price(&input.preference), &mut faults);
    chambers(input, &candidates, &mut faults);
    with_sections(input, faults)?;
    Ok(candidates)
}

pub(super) fn wants_price(preference: &[Criterion]) -> bool {
    preference.contains(&Criterion::Price)
}

/// The faults of the base's own sections together with the others.
fn with_sections(input: &FitInput, faults: Faults) -> Result<(), Error> {
    let base = &input.base;
    let mut sections = ValidationErrors::new();
    sections.merge_self("engine", base.engine.validate());
    sections.merge_self("block", base.block.validate());
    sections.merge_self("camshaft", base.camshaft.as_ref().map_or(Ok(()), Validate::validate));
    sections.merge_self("running", base.running.as_ref().map_or(Ok(()), Validate::validate));
    sections.merge_self("atmosphere", base.atmosphere.as_ref().map_or(Ok(()), Validate::validate));
    let mut errors = ValidationErrors::new();
    errors.merge_self("base", if sections.is_empty() { Ok(()) } else { Err(sections) });
    all_faults(if errors.is_empty() { Ok(()) } else { Err(errors) }, faults.0)
}

fn cuts(input: &FitInput, faults: &mut Faults) {
    for (place, range) in [("deck_cut", input.deck_cut), ("head_cut", input.head_cut)] {
        let Some(CutRange { least, most }) = range else { continue };
        for (name, cut) in [("least", least), ("most", most)] {
            if let Err(error) = limit::FACE_CUT.check(&cut) {
                faults.add(&format!("{place}/{name}"), "out_of_range", error.message.unwrap_or_default().into_owned());
            }
        }
        if least > most {
            let detail = format!("must not be less than the least cut, {}; got {}.", least.shown(), most.shown());
            faults.add(&format!("{place}/most"), "contradiction", detail);
        }
    }
    let most = input.deck_cut.unwrap_or_default().most;
    let left = Length::from_si(input.base.block.deck_height.si() - most.si());
    if limit::DECK_HEIGHT.check(&input.base.block.deck_height).is_ok() && limit::DECK_HEIGHT.check(&left).is_err() {
        let detail = format!("leaves a deck height of {}; nothing can stand below that.", left.shown());
        faults.add("deck_cut/most", "contradiction", detail);
    }
}

fn limits(input: &FitInput, faults: &mut Faults) {
    for (index, limit) in input.limits.iter().enumerate() {
        let place = format!("limits/{index}");
        let path = limit.result.path;
        if input.limits[..index].iter().any(|other| other.result.path == path) {
            let detail = format!("names {path} a second time; put both ends into one limit.");
            faults.add(&format!("{place}/pointer"), "duplicate_limit", detail);
        }
        match (limit.at_least, limit.at_most) {
            (None, None) => {
                faults.add(&place, "missing", "has neither at_least nor at_most; give one or both.".to_owned());
            }
            (Some(low), Some(high)) if low > high => {
                let shown = limit.result.dimension;
                let detail = format!(
                    "must not be less than at_least, {}; got {}: no combination can meet both.",
                    shown.shown(low),
                    shown.shown(high)
                );
                faults.add(&format!("{place}/at_most"), "contradiction", detail);
            }
            _ => {}
        }
        let sound = limit::BORE.check(&input.base.block.bore).is_ok();
        if sound && !is_there(&input.base, limit.result) {
            let detail = format!(
                "names {path}, which needs an input that the base does not give; see missing in the answer to the build sheet."
            );
            faults.add(&format!("{place}/pointer"), "missing", detail);
        }
    }
}

fn preference(criteria: &[Criterion], faults: &mut Faults) {
    if criteria.is_empty() {
        faults.add("preference", "missing", "is empty: say what is better, price for example.".to_owned());
    }
    for (index, criterion) in criteria.iter().enumerate() {
        let place = format!("preference/{index}");
        if criteria[..index].iter().any(|other| other.name() == criterion.name()) {
            let detail = format!("is {} a second time; only the first could count.", criterion.name());
            faults.add(&format!("{place}/by"), "duplicate_criterion", detail);
        }
        let mut check = |name: &str, found: Result<(), validator::ValidationError>| {
            if let Err(error) = found {
                let detail = error.message.unwrap_or_default().into_owned();
                faults.add(&format!("{place}/{name}"), "out_of_range", detail);
            }
        };
        match criterion {
            Criterion::Price | Criterion::NumberOfCuts => {}
            Criterion::StaticRatio { wanted, step } => {
                check("wanted_ratio", limit::COMPRESSION_RATIO.check(wanted));
                check("ratio_step", limit::ratio_step(step));
            }
            Criterion::SquishClearance { wanted, step } => {
                check("wanted_squish", limit::SQUISH_LIMIT.check(wanted));
                check("length_step", limit::length_step(step));
            }
            Criterion::DepthOfCuts { step } => check("length_step", limit::length_step(step)),
        }
    }
}

/// A cut cannot take more off a chamber than is there.
fn chambers(input: &FitInput, candidates: &Candidates, faults: &mut Faults) {
    let most = input.head_cut.unwrap_or_default().most.si();
    if most <= 0.0 {
        return;
    }
    for head in &candidates.heads {
        let fields = &head.fields;
        let (chamber, area) = (fields.chamber_volume.unwrap_or_default(), fields.chamber_area.unwrap_or_default());
        if fields.chamber_volume.is_some() && area.si() * most > chamber.si() {
            let place = match &input.catalogue.cylinder_head {
                Some(_) => format!("{}/cylinder_head/{}/chamber_area", input.places[4], head.index),
                None => "base/cylinder_head/chamber_area".to_owned(),
            };
            let detail = format!(
                "times the most head cut takes more than the chamber's {}; lower head_cut/most or correct the head.",
                chamber.shown()
            );
            faults.add(&place, "contradiction", detail);
        }
    }
}
