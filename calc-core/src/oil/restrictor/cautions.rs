//! What to look at twice about a restrictor.

use crate::caution::{About, Caution, STANDING, Severity};
use crate::limit;
use crate::oil::law::OilLaw;
use crate::units::{Length, Quantity};

use super::{Restrictor, RestrictorInput};

/// Every caution of a found flow.
pub(super) fn of(input: &RestrictorInput, law: &OilLaw, found: &Restrictor) -> Vec<Caution> {
    let mut cautions = Vec::new();
    input.oil.cautions("oil", &mut cautions);
    input.oil.temperature_cautions(law, "temperature", input.temperature, &mut cautions);
    for (index, temperature) in input.temperatures.iter().flatten().enumerate() {
        input.oil.temperature_cautions(law, &format!("temperatures/{index}"), *temperature, &mut cautions);
    }
    unusual(input, &mut cautions);
    if let Some(direction) = direction(input) {
        cautions.push(direction);
    }
    if found.point.may_cavitate {
        cautions.push(cavitation(found));
    }
    cautions.push(STANDING);
    cautions
}

fn unusual(input: &RestrictorInput, cautions: &mut Vec<Caution>) {
    let mut diameter = |path: String, diameter: Length| limit::OIL_HOLE.unusual(path, diameter, cautions);
    if let Some(given) = input.diameter {
        diameter("diameter".to_owned(), given);
    }
    for (index, given) in input.diameters.iter().flatten().enumerate() {
        diameter(format!("diameters/{index}"), *given);
    }
    limit::OIL_HOLE_LENGTH.unusual("length", input.length, cautions);
    limit::OIL_PRESSURE.unusual("upstream_pressure", input.upstream_pressure, cautions);
    limit::OIL_PRESSURE.unusual("downstream_pressure", input.downstream_pressure, cautions);
    if let Some(coefficient) = input.edge_coefficient {
        limit::DISCHARGE_COEFFICIENT.unusual("edge_coefficient", coefficient, cautions);
    }
    if let Some(wanted) = input.wanted_flow {
        limit::OIL_FLOW.unusual("wanted_flow", wanted, cautions);
    }
    if let Some(air) = input.air_pressure {
        limit::AIR_PRESSURE.unusual("air_pressure", air, cautions);
    }
}

fn direction(input: &RestrictorInput) -> Option<Caution> {
    let (code, detail) = if input.upstream_pressure == input.downstream_pressure {
        ("no_pressure_difference", "Both pressures are the same: nothing flows.".to_owned())
    } else if input.upstream_pressure < input.downstream_pressure {
        let detail = format!(
            "{} is above the upstream pressure, {}: the oil flows backwards, and flow and velocity are negative.",
            input.downstream_pressure.shown(),
            input.upstream_pressure.shown()
        );
        ("flow_reversed", detail)
    } else {
        return None;
    };
    Some(Caution {
        code,
        severity: Severity::Caution,
        about: About::Request,
        path: "downstream_pressure".into(),
        detail: detail.into(),
        source: "Sign convention of this calculation: positive from upstream to downstream",
    })
}

fn cavitation(found: &Restrictor) -> Caution {
    let flow = found.cavitating_flow.map_or_else(String::new, |flow| format!(", to {}", flow.shown()));
    Caution {
        code: "may_cavitate",
        severity: Severity::Caution,
        about: About::Answer,
        path: "discharge_coefficient".into(),
        detail: format!(
            "The back pressure is so low that the jet may part from the wall of the hole, most easily at a clean sharp edge: the \
             flow then falls{flow}, whatever the length."
        )
        .into(),
        source: "W. H. Nurick, J. Fluids Eng. 98 (1976) 681",
    }
}
