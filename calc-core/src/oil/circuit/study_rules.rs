//! What makes rule, sweep, map and sought diameter sound.

use validator::{Validate, ValidationError};

use crate::error::{Error, all_faults, broken_rule};
use crate::limit;
use crate::oil::OilLaw;
use crate::units::{Quantity, Temperature};

use super::element::{Element, Kind};
use super::{CircuitInput, Size, Sweep, Values, Wanted};

/// Most points of a sweep or a map.
pub const MOST_POINTS: usize = 400;
/// Most points times elements of a sweep or a map.
pub const MOST_WORK: usize = 100_000;
/// Most nodes that are watched.
pub const MOST_WATCHED: usize = 50;

impl Values {
    /// In SI units.
    pub(super) fn si(&self) -> Vec<f64> {
        fn all<Q: Quantity>(values: &[Q]) -> Vec<f64> {
            values.iter().map(|value| value.si()).collect()
        }
        match self {
            Self::Lengths(values) => all(values),
            Self::Pressures(values) => all(values),
            Self::Flows(values) => all(values),
            Self::Volumes(values) => all(values),
            Self::Viscosities(values) => all(values),
            Self::Ratios(values) => all(values),
        }
    }

    /// The name of the list, and the quantity that it holds.
    fn names(&self) -> [&'static str; 2] {
        fn name<Q: Quantity>(_: &[Q]) -> &'static str {
            Q::NAME
        }
        match self {
            Self::Lengths(values) => ["lengths", name(values)],
            Self::Pressures(values) => ["pressures", name(values)],
            Self::Flows(values) => ["flows", name(values)],
            Self::Volumes(values) => ["volumes", name(values)],
            Self::Viscosities(values) => ["viscosities", name(values)],
            Self::Ratios(values) => ["ratios", name(values)],
        }
    }
}

/// Everything that is wrong with what is asked of a sound circuit, and with its oil.
pub(super) fn check(input: &CircuitInput) -> Result<(), Error> {
    if let Err(errors) = input.oil.validate() {
        let mut all = validator::ValidationErrors::new();
        all.merge_self("oil", Err(errors));
        return Err(Error::Invalid(all));
    }
    let oil = input.oil.law()?;
    let mut faults = Vec::new();
    temperature(input, &oil, "oil_temperature", input.oil_temperature, &mut faults);
    rule(input, &mut faults);
    if input.watch.len() > MOST_WATCHED {
        faults.push(too_many("watch", input.watch.len(), MOST_WATCHED));
    }
    for (place, name) in input.watch.iter().enumerate() {
        known_node(input, &format!("watch/{place}"), name, &mut faults);
    }
    if let Some(sought) = &input.sweep {
        sweep(input, sought, &mut faults);
    }
    map(input, &oil, &mut faults);
    if let Some(sought) = &input.size {
        size(input, sought, &mut faults);
    }
    all_faults(Ok(()), faults)
}

fn pinned(outcome: Result<(), ValidationError>, field: &str, faults: &mut Vec<ValidationError>) {
    if let Err(mut fault) = outcome {
        fault.add_param("field".into(), &field);
        faults.push(fault);
    }
}

fn too_many(field: &str, found: usize, most: usize) -> ValidationError {
    broken_rule(field, "too_many", format!("has {found} entries; at most {most} are taken."))
}

fn temperature(
    input: &CircuitInput,
    oil: &OilLaw,
    field: &str,
    temperature: Temperature,
    faults: &mut Vec<ValidationError>,
) {
    let range = limit::oil_temperature(&temperature);
    if range.is_ok() {
        faults.extend(input.oil.temperature_fault(oil, field, temperature));
    }
    pinned(range, field, faults);
}

fn known_node(input: &CircuitInput, field: &str, name: &str, faults: &mut Vec<ValidationError>) {
    if input.nodes.iter().all(|node| node.name != name) {
        let detail = format!("'{name}' is not the name of a node; list it under nodes.");
        faults.push(broken_rule(field, "unknown_node", detail));
    }
}

fn known_element<'a>(
    input: &'a CircuitInput,
    field: &str,
    name: &str,
    faults: &mut Vec<ValidationError>,
) -> Option<&'a Element> {
    let found = input.elements.iter().find(|element| element.name == name);
    if found.is_none() {
        faults.push(broken_rule(field, "unknown_element", format!("'{name}' is not the name of an element.")));
    }
    found
}

fn rule(input: &CircuitInput, faults: &mut Vec<ValidationError>) {
    let Some(rule) = &input.pressure_rule else { return };
    known_node(input, "pressure_rule/node", &rule.node, faults);
    if rule.per_thousand_revolutions.is_none() && rule.least.is_none() {
        let detail = "is missing: give the pressure for every 1,000 rev/min, the least at any speed, or both.";
        faults.push(broken_rule("pressure_rule/per_thousand_revolutions", "missing", detail.to_owned()));
    }
    for (field, pressure) in [
        ("pressure_rule/per_thousand_revolutions", &rule.per_thousand_revolutions),
        ("pressure_rule/least", &rule.least),
    ] {
        pinned(pressure.as_ref().map_or(Ok(()), limit::valve_pressure), field, faults);
    }
}

fn work(field: &str, input: &CircuitInput, points: usize, faults: &mut Vec<ValidationError>) -> bool {
    let most = MOST_POINTS.min(MOST_WORK / input.elements.len().max(1));
    if points > most {
        let detail = format!(
            "makes {points} points; at most {most} are computed of {} elements. Ask in parts.",
            input.elements.len()
        );
        faults.push(broken_rule(field, "too_many", detail));
    }
    points <= most
}

fn sweep(input: &CircuitInput, sweep: &Sweep, faults: &mut Vec<ValidationError>) {
    let [list, quantity] = sweep.values.names();
    let values = sweep.values.si();
    if values.is_empty() {
        faults.push(broken_rule(&format!("sweep/{list}"), "wrong_count", "must have at least one entry.".to_owned()));
    }
    let bounded = work(&format!("sweep/{list}"), input, values.len(), faults);
    let Some(element) = known_element(input, "sweep/element", &sweep.element, faults) else { return };
    let (needed, allowed) = element.kind.numbers();
    if !needed.contains(&sweep.number) && !allowed.contains(&sweep.number) {
        let detail = format!("{} is no number of a {}.", sweep.number.name(), element.kind.name());
        faults.push(broken_rule("sweep/number", "contradiction", detail));
        return;
    }
    if quantity != sweep.number.quantity() {
        let detail = format!("does not go with {}, which is a {}.", sweep.number.name(), sweep.number.quantity());
        faults.push(broken_rule(&format!("sweep/{list}"), "contradiction", detail));
        return;
    }
    let mut varied = element.clone();
    for (place, &value) in values.iter().enumerate().filter(|_| bounded) {
        sweep.number.set(&mut varied, value);
        let field = format!("sweep/{list}/{place}");
        pinned(sweep.number.check(value), &field, faults);
        for (_, code, detail) in super::rules::broken(&varied) {
            faults.push(broken_rule(&field, code, detail));
        }
    }
}

fn map(input: &CircuitInput, oil: &OilLaw, faults: &mut Vec<ValidationError>) {
    let Some(map) = &input.map else { return };
    for (field, count) in
        [("map/engine_speeds", map.engine_speeds.len()), ("map/oil_temperatures", map.oil_temperatures.len())]
    {
        if count == 0 {
            faults.push(broken_rule(field, "wrong_count", "must have at least one entry.".to_owned()));
        }
    }
    if !work("map", input, map.engine_speeds.len().saturating_mul(map.oil_temperatures.len()), faults) {
        return;
    }
    for (place, speed) in map.engine_speeds.iter().enumerate() {
        pinned(limit::engine_speed(speed), &format!("map/engine_speeds/{place}"), faults);
    }
    for (place, &wanted) in map.oil_temperatures.iter().enumerate() {
        temperature(input, oil, &format!("map/oil_temperatures/{place}"), wanted, faults);
    }
}

fn size(input: &CircuitInput, size: &Size, faults: &mut Vec<ValidationError>) {
    if let Some(element) = known_element(input, "size/element", &size.element, faults) {
        ends(element, size, faults);
    }
    match &size.wanted {
        Wanted::Flow { element, flow } => {
            known_element(input, "size/at", element, faults);
            pinned(limit::oil_flow(flow), "size/flow", faults);
        }
        Wanted::Share { element, share } => {
            known_element(input, "size/at", element, faults);
            pinned(limit::share(share), "size/share", faults);
        }
        Wanted::Pressure { node, pressure } => {
            known_node(input, "size/at", node, faults);
            pinned(limit::valve_pressure(pressure), "size/pressure", faults);
        }
    }
}

/// Both ends must make a sound element: then all between do.
fn ends(element: &Element, size: &Size, faults: &mut Vec<ValidationError>) {
    use Kind::{Jet, Passage, Restrictor, RotatingDrilling};
    if !matches!(element.kind, Passage | Restrictor | Jet | RotatingDrilling) {
        let detail =
            format!("is a {}; the diameter of a passage, drilling, restrictor or jet is sought.", element.kind.name());
        faults.push(broken_rule("size/element", "contradiction", detail));
        return;
    }
    for (field, end) in [("size/smallest", size.smallest), ("size/largest", size.largest)] {
        pinned(limit::CIRCUIT_DIAMETER.check(&end), field, faults);
        let varied = Element { diameter: Some(end), ..element.clone() };
        for (_, code, detail) in super::rules::broken(&varied) {
            faults.push(broken_rule(field, code, detail));
        }
    }
    // Also true for a NaN.
    let in_order = size.smallest < size.largest;
    if !in_order {
        let detail = format!("must be larger than the smallest, {}.", size.smallest.shown());
        faults.push(broken_rule("size/largest", "contradiction", detail));
    }
}
