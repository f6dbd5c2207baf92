//! What is said of each element of a balanced circuit.

use std::f64::consts::PI;

use crate::units::{Flow, Pressure, Quantity, Speed};

use super::ElementFound;
use super::element::{Element, Kind};
use super::law::centrifugal;
use super::study::Study;

impl Study<'_> {
    /// In the order given.
    pub(super) fn elements(&self) -> Vec<ElementFound> {
        let supply = self.plan.supply(&self.elements);
        (0..self.elements.len()).map(|place| self.found(place, supply)).collect()
    }

    fn found(&self, place: usize, supply: f64) -> ElementFound {
        let element = &self.elements[place];
        let (flow, drop) = (self.flow(place).si(), self.plan.drop(place));
        let law = &self.plan.laws()[place];
        let bypassed = element.bypass_opening_pressure.map(|_| Flow::from_si(law.bypassed(drop)));
        let section = section(element);
        let velocity = section.map(|[area, _]| flow / f64::from(element.count) / area);
        let reynolds = section
            .zip(velocity)
            .map(|([_, width], velocity)| self.running.density * velocity.abs() * width / self.running.viscosity);
        ElementFound {
            flow: Flow::from_si(flow),
            share: if supply == 0.0 { 0.0 } else { flow / supply },
            drop: Pressure::from_si(drop),
            reynolds,
            velocity: velocity.map(Speed::from_si),
            opening: law.opening(drop),
            bypass_flow: bypassed,
            inner_pressure: self.inner_pressure(place),
        }
    }

    /// Pressure at the innermost point of a rotating drilling: that at its entry less the climb; friction comes later.
    pub(super) fn inner_pressure(&self, place: usize) -> Option<Pressure> {
        let element = &self.elements[place];
        if element.kind != Kind::RotatingDrilling {
            return None;
        }
        let (entry, exit) = (element.entry_radius?.metres(), element.exit_radius?.metres());
        let inner = element.inner_radius.map_or(entry.min(exit), |inner| inner.metres());
        let at_entry = self.plan.pressures[self.plan.ends[place][0]];
        Some(Pressure::from_si(at_entry - centrifugal(&self.running, inner, entry)))
    }
}

/// Area that the oil flows through, and the width of its Reynolds number: the diameter of a hole, twice the gap of an annulus.
fn section(element: &Element) -> Option<[f64; 2]> {
    let diameter = element.diameter?.metres();
    match element.kind {
        Kind::Passage | Kind::RotatingDrilling | Kind::Restrictor | Kind::Jet => {
            Some([0.25 * PI * diameter * diameter, diameter])
        }
        Kind::Annulus => {
            let gap = 0.5 * element.clearance?.metres();
            Some([PI * diameter * gap, 2.0 * gap])
        }
        _ => None,
    }
}
