//! What makes rule, sweep, map and sought diameter sound.

use validator::{Validate, ValidationError};

use crate::error::{Error, all_faults, broken_rule};
use crate::limit;
use crate::oil::OilLaw;
use crate::units::{Quantity, Temperature};

use super::element::{Element, Kind};
use super::{CircuitInput, Size, Sweep, Values};

/// Most points of a sweep or a map.
pub const MOST_POINTS: usize = 400;
/// Most points times elements of a sweep or a map.
pub const MOST_WORK: usize = 100_000;
/// Most nodes that are watched.
pub const MOST_WATCHED: usize = 50;

/// Name of a list, what it holds, and its values in SI units.
type List = (&'static str, &'static str, Vec<f64>);

impl Values {
    /// The lists that are given.
    fn lists(&self) -> Vec<List> {
        fn list<Q: Quantity>(name: &'static str, values: &Option<Vec<Q>>) -> Option<List> {
            values.as_ref().map(|values| (name, Q::NAME, values.iter().map(|value| value.si()).collect()))
        }
        let all = [
            list("lengths", &self.lengths),
            list("pressures", &self.pressures),
            list("flows", &self.flows),
            list("volumes", &self.volumes),
            list("viscosities", &self.viscosities),
            list("ratios", &self.ratios),
        ];
        all.into_iter().flatten().collect()
    }

    /// The values of the one list, in SI units.
    pub(super) fn si(&self) -> Vec<f64> {
        self.lists().into_iter().next().map(|(_, _, values)| values).unwrap_or_default()
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
    let lists = sweep.values.lists();
    let [(list, quantity, values)] = lists.as_slice() else {
        let detail = format!("must have one list of values, that of {}; got {}.", sweep.number.name(), lists.len());
        faults.push(broken_rule("sweep", "contradiction", detail));
        return;
    };
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
    if *quantity != sweep.number.quantity() {
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
    let given = [size.flow.is_some(), size.share.is_some(), size.pressure.is_some()];
    if given.iter().filter(|given| **given).count() != 1 {
        let detail = "must have one of flow, share and pressure: what the diameter is to give.";
        faults.push(broken_rule("size", "contradiction", detail.to_owned()));
    } else if size.pressure.is_some() {
        known_node(input, "size/at", &size.at, faults);
    } else {
        known_element(input, "size/at", &size.at, faults);
    }
    pinned(size.flow.as_ref().map_or(Ok(()), limit::oil_flow), "size/flow", faults);
    pinned(size.share.as_ref().map_or(Ok(()), limit::share), "size/share", faults);
    pinned(size.pressure.as_ref().map_or(Ok(()), limit::valve_pressure), "size/pressure", faults);
}

/// Both ends must make a sound element: then all between do.
fn ends(element: &Element, size: &Size, faults: &mut Vec<ValidationError>) {
    use Kind::{Jet, Passage, Restrictor, RotatingDrilling};
    if !matches!(element.kind, Passage | Restrictor | Jet | RotatingDrilling) {
        let detail = format!(
            "is of kind {}; the diameter of a passage, drilling, restrictor or jet is sought.",
            element.kind.name()
        );
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
