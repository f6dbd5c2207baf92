//! What to look at twice in a balanced circuit.

use crate::caution::{About, COMMON_PRACTICE, Caution, STANDING, Severity};
use crate::units::{Pressure, Quantity};

use super::element::{Kind, Number};
use super::law::Opening;
use super::study::Study;
use super::{CircuitInput, ElementFound, Point};

/// Of one kind of caution so many are listed; the worst elements come first in no order, and one more says how many there are.
const MOST_OF_A_KIND: usize = 10;

/// Whose rule a caution rests on when the caller gave it.
const CALLER: &str = "the rule given in the request";

pub(super) fn cautions(
    input: &CircuitInput,
    study: &Study<'_>,
    elements: &[ElementFound],
    point: &Point,
) -> Vec<Caution> {
    let mut cautions = Vec::new();
    input.oil.cautions("oil", &mut cautions);
    if let Ok(oil) = input.oil.law() {
        input.oil.temperature_cautions(&oil, "oil_temperature", input.oil_temperature, &mut cautions);
    }
    let short = point.rule.filter(|[found, wanted]| found < wanted);
    if let (Some([found, wanted]), Some(rule)) = (short, &input.pressure_rule) {
        let detail = format!("'{}' has {}; the rule wants {}.", rule.node, found.shown(), wanted.shown());
        cautions.push(answer(
            "pressure_below_rule",
            Severity::Danger,
            "point/rule_pressure".to_owned(),
            detail,
            CALLER,
        ));
    }
    cautions.extend(pump(point, short.is_some()));
    limited(&mut cautions, too_fast(input, elements));
    limited(&mut cautions, low_pressures(study));
    limited(&mut cautions, starved(study, elements));
    limited(&mut cautions, unusual(input));
    cautions.push(STANDING);
    cautions
}

fn answer(code: &'static str, severity: Severity, path: String, detail: String, source: &'static str) -> Caution {
    Caution { code, severity, about: About::Answer, path: path.into(), detail: detail.into(), source }
}

fn limited(cautions: &mut Vec<Caution>, mut more: Vec<Caution>) {
    if more.len() > MOST_OF_A_KIND {
        let rest = more.len() - MOST_OF_A_KIND;
        more.truncate(MOST_OF_A_KIND);
        if let Some(last) = more.last_mut() {
            last.detail = format!("{} {rest} more elsewhere.", last.detail.text()).into();
        }
    }
    cautions.extend(more);
}

/// Relief valve wide open, or shut because the circuit takes all that the pump gives.
fn pump(point: &Point, short: bool) -> Option<Caution> {
    let path = "point/relief_state".to_owned();
    match point.opening? {
        Opening::WideOpen => {
            let detail = "The relief valve is wide open: its port limits the flow, and the pressure rises above its setting. A larger \
                          port or a smaller pump is needed.";
            Some(answer("relief_wide_open", Severity::Caution, path, detail.to_owned(), COMMON_PRACTICE))
        }
        Opening::Shut => {
            let severity = if short { Severity::Caution } else { Severity::Note };
            let detail = "The relief valve is shut: the circuit takes all that the pump gives, and every further leak costs pressure.";
            Some(answer("pump_outrun", severity, path, detail.to_owned(), COMMON_PRACTICE))
        }
        Opening::Open => None,
    }
}

fn too_fast(input: &CircuitInput, elements: &[ElementFound]) -> Vec<Caution> {
    let Some(limit) = input.velocity_limit else { return Vec::new() };
    let passages = input.elements.iter().zip(elements).enumerate();
    let passages = passages.filter(|(_, (element, _))| matches!(element.kind, Kind::Passage | Kind::RotatingDrilling));
    let caution = |(place, (element, found)): (usize, (&super::Element, &ElementFound))| {
        let velocity = found.velocity.filter(|velocity| velocity.si().abs() > limit.si())?;
        let detail = format!("'{}' carries {}; the limit is {}.", element.name, velocity.shown(), limit.shown());
        Some(answer("velocity_above_limit", Severity::Caution, format!("elements/{place}/velocity"), detail, CALLER))
    };
    passages.filter_map(caution).collect()
}

/// A node below every known pressure sucks: at a pump's inlet that may be, elsewhere air comes in.
fn low_pressures(study: &Study<'_>) -> Vec<Caution> {
    let known = (0..study.plan.pressures.len()).filter(|&node| study.plan.is_known(node));
    let lowest = known.map(|node| study.plan.pressures[node]).fold(f64::INFINITY, f64::min);
    let inlets: Vec<_> =
        study.elements.iter().zip(&study.plan.ends).filter(|(one, _)| one.kind == Kind::Pump).collect();
    let below = study.plan.pressures.iter().enumerate().filter(|(_, pressure)| **pressure < lowest - 1.0);
    let caution = |(node, &pressure): (usize, &f64)| {
        let name = &study.input.nodes[node].name;
        let shown = Pressure::from_pascals(pressure).shown();
        let path = format!("nodes/{node}/pressure");
        if inlets.iter().any(|(_, ends)| ends[0] == node) {
            let detail = format!(
                "'{name}' feeds a pump at {shown}: oil that holds air foams there, and the pump fills in part only."
            );
            return answer("pump_inlet_sucks", Severity::Caution, path, detail, COMMON_PRACTICE);
        }
        let detail = format!(
            "'{name}' is at {shown}, below every known pressure: air would come in where the circuit opens, and the answer is not \
             to be trusted beyond that it starves."
        );
        answer("node_sucks", Severity::Danger, path, detail, "First principles")
    };
    below.map(caution).collect()
}

/// A drilling whose innermost point is below the pressure of the air: the column of oil breaks there.
fn starved(study: &Study<'_>, elements: &[ElementFound]) -> Vec<Caution> {
    let caution = |(place, found): (usize, &ElementFound)| {
        let inner = found.inner_pressure.filter(|inner| inner.si() < 0.0)?;
        let detail = format!(
            "Oil that enters '{}' at the journal's surface must climb inwards against the turning shaft and is at {} at the innermost \
             point: the column breaks below the pressure of the air, and what lies beyond starves.",
            study.elements[place].name,
            inner.shown()
        );
        let path = format!("elements/{place}/inner_pressure");
        Some(answer("drilling_starves", Severity::Danger, path, detail, "First principles"))
    };
    elements.iter().enumerate().filter_map(caution).collect()
}

fn unusual(input: &CircuitInput) -> Vec<Caution> {
    let mut cautions = Vec::new();
    for (place, element) in input.elements.iter().enumerate() {
        for &number in Number::ALL {
            if let Some(value) = number.of(element) {
                number.unusual(value, &format!("elements/{place}/{}", number.name()), &mut cautions);
            }
        }
    }
    cautions
}
