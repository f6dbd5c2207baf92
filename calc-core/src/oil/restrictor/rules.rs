//! What must hold between the fields of a restrictor.

use validator::{Validate, ValidationError};

use crate::error::broken_rule;
use crate::limit::{self, Limit};
use crate::oil::pipe_thread::{ThreadForm, thread};
use crate::oil::restrictor_law::SLENDERNESS;
use crate::units::{Length, Pressure, Quantity, Temperature};

use super::{Edge, MOST_DIAMETERS, MOST_TEMPERATURES, RestrictorInput, SEA_LEVEL};

/// Every broken rule.
pub(super) fn broken(input: &RestrictorInput) -> Vec<ValidationError> {
    let mut broken = Vec::new();
    broken.extend(one_unknown(input));
    broken.extend(coefficient_belongs_to_chamfer(input));
    broken.extend(pressures(input));
    broken.extend(plug_thread_needs_size(input));
    if let Some(diameter) = input.diameter.filter(|diameter| limit::OIL_HOLE.check(diameter).is_ok()) {
        broken.extend(slenderness(input, "diameter", diameter));
        broken.extend(plug(input, "diameter", diameter));
    }
    list(&mut broken, "diameters", input.diameters.as_deref(), MOST_DIAMETERS, &limit::OIL_HOLE, |field, diameter| {
        slenderness(input, field, diameter).or_else(|| plug(input, field, diameter))
    });
    temperatures(input, &mut broken);
    broken
}

/// Whether a hole's length over its diameter is inside the law.
pub(super) fn slenderness_fits(length: Length, diameter: Length) -> bool {
    let slenderness = length.metres() / diameter.metres();
    (SLENDERNESS[0]..=SLENDERNESS[1]).contains(&slenderness)
}

/// A hole must leave the plug's thread its core.
pub(super) fn plug(input: &RestrictorInput, field: &str, diameter: Length) -> Option<ValidationError> {
    let thread = thread(input.plug_size?, input.plug_thread.unwrap_or(ThreadForm::Ordinary));
    let core = thread.small_end_minor_diameter;
    (diameter >= core).then(|| {
        let detail = format!(
            "leaves nothing of a {} plug: its thread is cut down to {} at the small end; the hole is {}.",
            thread.designation,
            core.shown(),
            diameter.shown()
        );
        broken_rule(field, "contradiction", detail)
    })
}

fn one_unknown(input: &RestrictorInput) -> Option<ValidationError> {
    match (input.diameter, input.wanted_flow) {
        (Some(_), Some(_)) => {
            let detail = "stands beside the diameter; give one of the two, the other is computed.";
            Some(broken_rule("wanted_flow", "contradiction", detail.to_owned()))
        }
        (None, None) => {
            let detail = "is missing: give the diameter, or the wanted flow instead.";
            Some(broken_rule("diameter", "missing", detail.to_owned()))
        }
        _ => None,
    }
}

fn coefficient_belongs_to_chamfer(input: &RestrictorInput) -> Option<ValidationError> {
    match (input.edge, input.edge_coefficient) {
        (Edge::Chamfered, None) => {
            let detail = "is missing: how much a chamfer or a radius helps depends on its shape, so its coefficient must be given.";
            Some(broken_rule("edge_coefficient", "missing", detail.to_owned()))
        }
        (Edge::Sharp, Some(_)) => {
            let detail = "belongs to a chamfered edge; a sharp one has its own.";
            Some(broken_rule("edge_coefficient", "contradiction", detail.to_owned()))
        }
        _ => None,
    }
}

fn pressures(input: &RestrictorInput) -> Vec<ValidationError> {
    let mut broken = Vec::new();
    let air = input.air_pressure.unwrap_or(SEA_LEVEL);
    let sides = [("upstream_pressure", input.upstream_pressure), ("downstream_pressure", input.downstream_pressure)];
    for (field, gauge) in sides {
        let accepted = limit::OIL_PRESSURE.check(&gauge).is_ok();
        if accepted && gauge.pascals() + air.pascals() < 0.0 {
            let vacuum = Pressure::from_pascals(-air.pascals());
            let detail = format!("is below a vacuum, {} gauge in this air; got {}.", vacuum.shown(), gauge.shown());
            broken.push(broken_rule(field, "contradiction", detail));
        }
    }
    if input.wanted_flow.is_some() && input.upstream_pressure <= input.downstream_pressure {
        let detail = format!(
            "must be above the downstream pressure, {}, for a wanted flow; got {}.",
            input.downstream_pressure.shown(),
            input.upstream_pressure.shown()
        );
        broken.push(broken_rule("upstream_pressure", "contradiction", detail));
    }
    broken
}

fn plug_thread_needs_size(input: &RestrictorInput) -> Option<ValidationError> {
    (input.plug_thread.is_some() && input.plug_size.is_none())
        .then(|| broken_rule("plug_size", "missing", "is missing: a thread form alone makes no plug.".to_owned()))
}

fn slenderness(input: &RestrictorInput, field: &str, diameter: Length) -> Option<ValidationError> {
    if limit::OIL_HOLE_LENGTH.check(&input.length).is_err() || slenderness_fits(input.length, diameter) {
        return None;
    }
    let [least, most] = SLENDERNESS.map(|slenderness| Length::from_metres(input.length.metres() / slenderness));
    let detail = format!(
        "must be from {} to {} for a hole {} long: the law holds for lengths of 0.02 to 200 diameters; got {}.",
        most.shown(),
        least.shown(),
        input.length.shown(),
        diameter.shown()
    );
    Some(broken_rule(field, "outside_restrictor_law", detail))
}

fn temperatures(input: &RestrictorInput, broken: &mut Vec<ValidationError>) {
    let law = input.oil.validate().ok().and_then(|()| input.oil.law().ok());
    let fault = |field: &str, temperature: Temperature| {
        law.as_ref().and_then(|law| input.oil.temperature_fault(law, field, temperature))
    };
    if limit::OIL_TEMPERATURE.check(&input.temperature).is_ok() {
        broken.extend(fault("temperature", input.temperature));
    }
    list(broken, "temperatures", input.temperatures.as_deref(), MOST_TEMPERATURES, &limit::OIL_TEMPERATURE, fault);
}

/// A list: its length, then each entry's range, then each entry's own rule.
fn list<Q: Quantity>(
    broken: &mut Vec<ValidationError>,
    name: &str,
    values: Option<&[Q]>,
    most: usize,
    limit: &Limit<Q>,
    rule: impl Fn(&str, Q) -> Option<ValidationError>,
) {
    let Some(values) = values else { return };
    if values.is_empty() {
        broken.push(broken_rule(name, "missing", "is empty; leave it out, or give values.".to_owned()));
    }
    if values.len() > most {
        let detail = format!("has {} entries; at most {most} are taken.", values.len());
        broken.push(broken_rule(name, "too_many", detail));
        return;
    }
    for (index, value) in values.iter().enumerate() {
        let field = format!("{name}/{index}");
        match limit.check(value) {
            Err(error) => {
                let detail = error.message.as_ref().map_or_else(String::new, ToString::to_string);
                broken.push(broken_rule(&field, "out_of_range", detail));
            }
            Ok(()) => broken.extend(rule(&field, *value)),
        }
    }
}
