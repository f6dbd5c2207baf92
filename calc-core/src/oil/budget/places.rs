//! Where a fault of the circuit stands in the build that it was made from.

use validator::ValidationErrors;

use crate::error::{Error, all_faults, broken_rule};
use crate::limit;

use super::BudgetInput;

/// Most main bearings.
pub const MOST_MAINS: u32 = 50;
/// Most lifters.
pub const MOST_LIFTERS: u32 = 200;
/// Most feeds of the top end.
const MOST_FEEDS: u32 = 50;

/// What must hold before a circuit can be made: the counts, and what no element of it checks.
pub(crate) fn check_counts(input: &BudgetInput<'_>) -> Result<(), Error> {
    let system = input.system;
    let mut faults = Vec::new();
    let mut count = |field: &str, found: u32, most: u32| {
        if found < 1 || found > most {
            let detail = format!("must be a whole number from 1 to {most}; got {found}.");
            faults.push(broken_rule(&format!("{}/{field}", input.path), "out_of_range", detail));
        }
    };
    count("main_bearings/count", system.main_bearings.count, MOST_MAINS);
    count("lifters/count", system.lifters.count, MOST_LIFTERS);
    count("top_feed/count", system.top_feed.count, MOST_FEEDS);
    if let Some(cams) = &system.cam_bearings {
        count("cam_bearings/count", cams.count, MOST_MAINS);
    }
    let pressures =
        [("per_thousand_revolutions", system.per_thousand_revolutions), ("least_pressure", system.least_pressure)];
    let checked = pressures.map(|(field, pressure)| (field, pressure.as_ref().map_or(Ok(()), limit::valve_pressure)));
    let engine = [("cylinders", limit::cylinders(input.cylinders)), ("stroke", limit::stroke(&input.stroke))];
    for (field, outcome) in engine {
        if let Err(mut fault) = outcome {
            fault.add_param("field".into(), &field);
            faults.push(fault);
        }
    }
    let needs = system.top_end_needs.as_ref().map_or(Ok(()), limit::oil_flow);
    for (field, outcome) in checked.into_iter().chain([("top_end_needs", needs)]) {
        if let Err(mut fault) = outcome {
            fault.add_param("field".into(), &format!("{}/{field}", input.path));
            faults.push(fault);
        }
    }
    all_faults(Ok(()), faults)
}

/// A circuit's error with the build's own names: `elements/7/clearance` was made from `system/main_bearings/clearance`.
pub(super) fn renamed(error: Error, sections: &[&'static str], input: &BudgetInput<'_>) -> Error {
    match &error {
        Error::Invalid(_) => {}
        Error::NoSolution { detail, .. } => {
            return Error::NoSolution { field: input.speed_path, detail: format!("The circuit's elements {detail}") };
        }
        Error::NotConverged { .. } | Error::Stopped => return error,
    }
    let mut faults: Vec<_> = error.faults();
    for fault in &mut faults {
        fault.path = named(&fault.path, sections, input);
    }
    // One section makes many elements: their faults are one.
    faults.dedup_by(|one, other| one == other);
    let mut seen = Vec::new();
    faults.retain(|fault| {
        let new = !seen.contains(fault);
        if new {
            seen.push(fault.clone());
        }
        new
    });
    let mut errors = ValidationErrors::new();
    for fault in faults {
        let code: &'static str = CODES.iter().find(|code| **code == fault.code).copied().unwrap_or("contradiction");
        errors.add("__all__", broken_rule(&fault.path, code, fault.detail));
    }
    Error::Invalid(errors)
}

/// The codes that a circuit's rules have.
const CODES: [&str; 8] = [
    "out_of_range",
    "missing",
    "contradiction",
    "outside_law",
    "below_pour_point",
    "outside_viscosity_equation",
    "one_form_only",
    "wrong_count",
];

fn named(place: &str, sections: &[&'static str], input: &BudgetInput<'_>) -> String {
    let path = input.path;
    let parts: Vec<&str> = place.splitn(3, '/').collect();
    match parts.as_slice() {
        ["elements", number, field] => {
            let section = number.parse::<usize>().ok().and_then(|number| sections.get(number));
            section.map_or_else(|| path.to_owned(), |section| format!("{path}/{section}/{field}"))
        }
        ["oil", rest @ ..] => [&[path, "lubricant"], rest].concat().join("/"),
        ["oil_temperature"] => format!("{path}/oil_temperature"),
        ["engine_speed"] => input.speed_path.to_owned(),
        _ => path.to_owned(),
    }
}
