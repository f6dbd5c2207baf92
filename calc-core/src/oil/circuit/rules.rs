//! What makes a circuit sound: names, numbers and ways for the oil.

use std::collections::HashMap;

use validator::ValidationError;

use crate::error::{Error, all_faults, broken_rule};
use crate::limit;
use crate::oil::restrictor_law::SLENDERNESS;
use crate::units::{Pressure, Quantity};

use super::element::{BearingFeed, Element, Kind, Number};
use super::{CircuitInput, Node};

/// Most nodes of a circuit.
pub const MOST_NODES: usize = 1000;
/// Most elements of a circuit.
pub const MOST_ELEMENTS: usize = 1000;
/// Most alike elements side by side.
pub const MOST_ALIKE: u32 = 1000;
/// Faults beyond this many are not listed.
const MOST_FAULTS: usize = 100;

/// Places of names in a list.
pub(super) type Places<'a> = HashMap<&'a str, usize>;

/// The place of each node by name; of two with one name, the first.
pub(super) fn places(nodes: &[Node]) -> Places<'_> {
    nodes.iter().enumerate().rev().map(|(place, node)| (node.name.as_str(), place)).collect()
}

/// Everything that is wrong with a circuit and its operating point.
pub(super) fn check(input: &CircuitInput) -> Result<(), Error> {
    let mut faults = Vec::new();
    let mut add = |field: &str, outcome: Result<(), ValidationError>| {
        if let Err(fault) = outcome {
            faults.push(at_field(fault, field));
        }
    };
    add("engine_speed", limit::engine_speed(&input.engine_speed));
    add("velocity_limit", input.velocity_limit.as_ref().map_or(Ok(()), limit::oil_speed));
    add("nodes", count(input.nodes.len(), 2, MOST_NODES));
    add("elements", count(input.elements.len(), 1, MOST_ELEMENTS));
    if faults.iter().any(|fault| fault.code == "wrong_count") {
        return all_faults(Ok(()), faults);
    }
    nodes(&input.nodes, &mut faults);
    let places = places(&input.nodes);
    let mut names = HashMap::new();
    for (place, element) in input.elements.iter().enumerate() {
        if names.insert(element.name.as_str(), place).is_some() {
            faults.push(twice(&format!("elements/{place}/name"), &element.name));
        }
        element_faults(place, element, &places, &mut faults);
    }
    pump_inlets(input, &places, &mut faults);
    if faults.is_empty() {
        islands(input, &places, &mut faults);
    }
    faults.truncate(MOST_FAULTS);
    all_faults(Ok(()), faults)
}

fn at_field(fault: ValidationError, field: &str) -> ValidationError {
    let mut fault = fault;
    fault.add_param("field".into(), &field);
    fault
}

fn count(found: usize, fewest: usize, most: usize) -> Result<(), ValidationError> {
    if (fewest..=most).contains(&found) {
        return Ok(());
    }
    let detail = format!("must have {fewest} to {most} entries; got {found}.");
    Err(ValidationError::new("wrong_count").with_message(detail.into()))
}

fn twice(field: &str, name: &str) -> ValidationError {
    broken_rule(field, "duplicate", format!("'{name}' stands twice; every name must be the only one of its list."))
}

fn nodes(nodes: &[Node], faults: &mut Vec<ValidationError>) {
    let mut seen: HashMap<&str, Option<Pressure>> = HashMap::new();
    for (place, node) in nodes.iter().enumerate() {
        if let Some(pressure) = &node.pressure
            && let Err(fault) = limit::reference_pressure(pressure)
        {
            faults.push(at_field(fault, &format!("nodes/{place}/pressure")));
        }
        match seen.insert(&node.name, node.pressure) {
            Some(earlier) if earlier.is_some() && node.pressure.is_some() && earlier != node.pressure => {
                let detail = format!("of '{}' contradicts the one given before; a node has one pressure.", node.name);
                faults.push(broken_rule(&format!("nodes/{place}/pressure"), "contradiction", detail));
            }
            Some(_) => faults.push(twice(&format!("nodes/{place}/name"), &node.name)),
            None => {}
        }
    }
    if nodes.iter().all(|node| node.pressure.is_none()) {
        let detail = "must hold one with a known pressure, such as the sump at 0: all others are found from it.";
        faults.push(broken_rule("nodes", "no_reference", detail.to_owned()));
    }
}

fn element_faults(place: usize, element: &Element, places: &Places<'_>, faults: &mut Vec<ValidationError>) {
    let at = |field: &str| format!("elements/{place}/{field}");
    for (field, name) in [("from", &element.from), ("to", &element.to)] {
        if !places.contains_key(name.as_str()) {
            let detail = format!("'{name}' is not the name of a node; list it under nodes.");
            faults.push(broken_rule(&at(field), "unknown_node", detail));
        }
    }
    if element.from == element.to {
        let detail = format!("'{}' is the node that it comes from; an element joins two nodes.", element.to);
        faults.push(broken_rule(&at("to"), "contradiction", detail));
    }
    if !(1..=MOST_ALIKE).contains(&element.count) {
        let detail = format!("must be a whole number from 1 to {MOST_ALIKE}; got {}.", element.count);
        faults.push(broken_rule(&at("count"), "out_of_range", detail));
    }
    let (needed, allowed) = element.kind.numbers();
    for &number in Number::ALL {
        let belongs = needed.contains(&number) || allowed.contains(&number);
        match number.of(element) {
            None if needed.contains(&number) => {
                let detail = format!("is missing: a {} needs it.", element.kind.name());
                faults.push(broken_rule(&at(number.name()), "missing", detail));
            }
            Some(_) if !belongs => {
                let detail = format!("does not belong to a {}; leave it out.", element.kind.name());
                faults.push(broken_rule(&at(number.name()), "contradiction", detail));
            }
            Some(value) => {
                if let Err(fault) = number.check(value) {
                    faults.push(at_field(fault, &at(number.name())));
                }
            }
            None => {}
        }
    }
    for (field, code, detail) in broken(element) {
        faults.push(broken_rule(&at(field), code, detail));
    }
}

/// The rules between an element's numbers that are broken.
pub(super) fn broken(element: &Element) -> impl Iterator<Item = Broken> + '_ {
    let rules = [
        slip_is_whole,
        valve_rises,
        bypass_is_whole,
        hole_is_lawful,
        gap_fits,
        feed_is_whole,
        feed_fits,
        inner_is_inside,
    ];
    rules.into_iter().filter_map(|rule| rule(element).err())
}

pub(super) type Broken = (&'static str, &'static str, String);

fn all_or_none<Q, R, S>(
    names: [&'static str; 3],
    first: Option<Q>,
    second: Option<R>,
    third: Option<S>,
) -> Result<(), Broken> {
    let given = [first.is_some(), second.is_some(), third.is_some()];
    if given.iter().all(|&one| one == given[0]) {
        return Ok(());
    }
    let absent = given.iter().zip(names).find_map(|(given, name)| (!given).then_some(name));
    Err((absent.unwrap_or(names[0]), "missing", format!("is missing: {} go together.", names.join(", "))))
}

fn slip_is_whole(element: &Element) -> Result<(), Broken> {
    let names = ["slip_flow", "slip_pressure", "slip_viscosity"];
    all_or_none(names, element.slip_flow, element.slip_pressure, element.slip_viscosity)
}

fn bypass_is_whole(element: &Element) -> Result<(), Broken> {
    let names = ["bypass_opening_pressure", "bypass_rated_flow", "bypass_rated_pressure"];
    let (opens, rated) = (element.bypass_opening_pressure, element.bypass_rated_pressure);
    all_or_none(names, opens, element.bypass_rated_flow, rated)?;
    rises("bypass_rated_pressure", opens, rated)
}

fn valve_rises(element: &Element) -> Result<(), Broken> {
    if element.kind != Kind::ReliefValve {
        return Ok(());
    }
    rises("rated_pressure", element.opening_pressure, element.rated_pressure)
}

fn rises(field: &'static str, opens: Option<Pressure>, rated: Option<Pressure>) -> Result<(), Broken> {
    match (opens, rated) {
        (Some(opens), Some(rated)) if rated <= opens => {
            let detail = format!("must be above the opening pressure of {}; got {}.", opens.shown(), rated.shown());
            Err((field, "contradiction", detail))
        }
        _ => Ok(()),
    }
}

/// The restrictor law knows holes of some slenderness only.
fn hole_is_lawful(element: &Element) -> Result<(), Broken> {
    let hole = matches!(element.kind, Kind::Restrictor | Kind::Jet);
    let [least, most] = SLENDERNESS;
    match (element.diameter, element.length) {
        (Some(diameter), Some(length)) if hole && limit::circuit_diameter(&diameter).is_ok() => {
            let slenderness = length.metres() / diameter.metres();
            if slenderness >= least && slenderness <= most {
                return Ok(());
            }
            let detail = format!(
                "of {} is {} diameters; the restrictor law holds from {least} to {most}.",
                length.shown(),
                crate::units::rounded(slenderness)
            );
            Err(("length", "outside_law", detail))
        }
        _ => Ok(()),
    }
}

/// A gap is thin beside its diameter: the laws of gaps rest on that.
fn gap_fits(element: &Element) -> Result<(), Broken> {
    match (element.clearance, element.diameter) {
        (Some(clearance), Some(diameter)) if clearance.metres() > 0.05 * diameter.metres() => {
            let detail =
                format!("of {} is no thin gap on {}: at most a twentieth.", clearance.shown(), diameter.shown());
            Err(("clearance", "contradiction", detail))
        }
        _ => Ok(()),
    }
}

/// Groove and hole have the numbers of their own kind.
fn feed_is_whole(element: &Element) -> Result<(), Broken> {
    let (arc, hole, groove) =
        (element.groove_arc.is_some(), element.feed_hole.is_some(), element.groove_width.is_some());
    let missing = |field, what: &str| Err((field, "missing", format!("is missing: {what} needs it.")));
    let useless =
        |field, what: &str| Err((field, "contradiction", format!("does not belong to {what}; leave it out.")));
    match element.bearing_feed {
        Some(_) if element.kind != Kind::JournalBearing => useless("bearing_feed", "anything but a journal bearing"),
        Some(BearingFeed::Hole) if !hole => missing("feed_hole", "a bearing fed by a hole"),
        Some(BearingFeed::Hole) if groove => useless("groove_width", "a bearing fed by a hole"),
        Some(BearingFeed::PartialGroove) if !arc => missing("groove_arc", "a bearing with a partial groove"),
        feed if hole && feed != Some(BearingFeed::Hole) => useless("feed_hole", "a bearing fed by a groove"),
        feed if arc && feed != Some(BearingFeed::PartialGroove) => useless("groove_arc", "this feed"),
        Some(BearingFeed::Hole | BearingFeed::PartialGroove) => Ok(()),
        _ if element.feed_angle.is_some() => useless("feed_angle", "a full groove"),
        _ => Ok(()),
    }
}

/// Some land is left beside the groove, and a hole is small beside the bearing: its law needs the logarithm of their ratio.
fn feed_fits(element: &Element) -> Result<(), Broken> {
    let Some(width) = element.length else { return Ok(()) };
    match (element.groove_width, element.feed_hole) {
        (Some(groove), _) if groove.metres() > 0.9 * width.metres() => {
            let detail = format!("of {} leaves no lands on a bearing {} wide.", groove.shown(), width.shown());
            Err(("groove_width", "contradiction", detail))
        }
        (_, Some(hole)) if hole.metres() > 0.5 * width.metres() => {
            let detail = format!("of {} is more than half of the bearing's width, {}.", hole.shown(), width.shown());
            Err(("feed_hole", "contradiction", detail))
        }
        _ => Ok(()),
    }
}

fn inner_is_inside(element: &Element) -> Result<(), Broken> {
    match (element.inner_radius, element.entry_radius, element.exit_radius) {
        (Some(inner), Some(entry), Some(exit)) if inner > entry || inner > exit => {
            Err(("inner_radius", "contradiction", "must not be larger than entry and exit radius.".to_owned()))
        }
        _ => Ok(()),
    }
}

fn pump_inlets(input: &CircuitInput, places: &Places<'_>, faults: &mut Vec<ValidationError>) {
    for element in input.elements.iter().filter(|element| element.kind == Kind::Pump) {
        let Some(&place) = places.get(element.from.as_str()) else { continue };
        if let Some(pressure) = input.nodes[place].pressure
            && pressure.pascals() < 0.0
        {
            let detail = format!(
                "is {}, and '{}' draws from this node: give the sump its own pressure, and let a passage lead to the pump.",
                pressure.shown(),
                element.name
            );
            faults.push(broken_rule(&format!("nodes/{place}/pressure"), "negative_pump_inlet", detail));
        }
    }
}

/// Every node must be tied to a known pressure by elements that any drop moves oil through.
fn islands(input: &CircuitInput, places: &Places<'_>, faults: &mut Vec<ValidationError>) {
    let mut leader: Vec<usize> = (0..input.nodes.len()).collect();
    let mut known: Option<usize> = None;
    for (place, _) in input.nodes.iter().enumerate().filter(|(_, node)| node.pressure.is_some()) {
        known = known.map_or(Some(place), |first| Some(join(&mut leader, first, place)));
    }
    let ties = |element: &&Element| element.kind.ties() || element.slip_flow.is_some();
    for element in input.elements.iter().filter(ties) {
        join(&mut leader, places[element.from.as_str()], places[element.to.as_str()]);
    }
    let Some(known) = known else { return };
    let reached = find(&mut leader, known);
    for (place, node) in input.nodes.iter().enumerate() {
        if find(&mut leader, place) != reached {
            let detail = format!(
                "'{}' is an island: no element that a pressure moves oil through ties it to a node of known pressure. Pumps \
                 without slip and fixed consumers do not.",
                node.name
            );
            faults.push(broken_rule(&format!("nodes/{place}"), "no_reference", detail));
        }
    }
}

fn find(leader: &mut [usize], place: usize) -> usize {
    let mut at = place;
    while leader[at] != at {
        leader[at] = leader[leader[at]];
        at = leader[at];
    }
    at
}

fn join(leader: &mut [usize], one: usize, other: usize) -> usize {
    let (one, other) = (find(leader, one), find(leader, other));
    leader[other] = one;
    one
}
