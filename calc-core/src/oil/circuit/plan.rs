//! A circuit made ready to be solved again and again: names looked up and the factor planned once.

use crate::error::Error;
use crate::network::{Balance, Solver, Through};
use crate::units::{Pressure, Quantity};

use super::element::{Element, Kind};
use super::law::{ElementLaw, Running};
use super::rules::Places;
use super::{CircuitInput, Node};

/// The network, its laws at the last operating point and the pressures that balance it.
#[derive(Debug, Clone)]
pub(super) struct Plan {
    solver: Solver,
    /// Numbers of the nodes that each element joins.
    pub(super) ends: Vec<[usize; 2]>,
    laws: Vec<ElementLaw>,
    /// Pascals above the air around, by node.
    pub(super) pressures: Vec<f64>,
    /// Where the first search begins.
    first: Vec<f64>,
    known: Vec<bool>,
}

/// Oil below this has torn apart: absolute zero of pressure, in pascals above the standard air around.
const TORN: f64 = -101_325.0;

impl Plan {
    /// The plan of a circuit that was checked.
    pub(super) fn new(input: &CircuitInput, places: &Places<'_>) -> Self {
        let place = |name: &str| places.get(name).copied().unwrap_or_default();
        let ends: Vec<_> = input.elements.iter().map(|one| [place(&one.from), place(&one.to)]).collect();
        let known: Vec<_> = input.nodes.iter().map(|node| node.pressure.is_some()).collect();
        let start = start(&input.elements);
        let pressure = |node: &Node| node.pressure.map_or(start, |pressure| pressure.pascals());
        let first: Vec<_> = input.nodes.iter().map(pressure).collect();
        Self {
            solver: Solver::new(&known, ends.clone()),
            laws: Vec::with_capacity(ends.len()),
            pressures: first.clone(),
            first,
            known,
            ends,
        }
    }

    /// Balances the circuit at an operating point, beginning where the last one ended.
    ///
    /// # Errors
    /// [`Error::NoSolution`] with what was left when no balance is found, or when one needs a pressure that no oil can have.
    pub(super) fn balance(
        &mut self,
        nodes: &[Node],
        elements: &[Element],
        running: &Running,
    ) -> Result<Balance, Error> {
        self.laws.clear();
        for element in elements {
            self.laws.push(ElementLaw::new(element, running));
        }
        let balance = self.solver.solve(&self.laws, &mut self.pressures).map_err(|error| unbalanced(&error))?;
        match nodes.iter().zip(&self.pressures).find(|(_, pressure)| **pressure < TORN) {
            Some((node, &pressure)) => Err(torn(&node.name, pressure)),
            None => Ok(balance),
        }
    }

    /// Back to where the first search began.
    pub(super) fn forget(&mut self) {
        self.pressures.copy_from_slice(&self.first);
        self.solver.forget();
    }

    /// Flow and slope of each element, all that stand side by side.
    pub(super) fn through(&self) -> &[Through] {
        self.solver.through()
    }

    /// The laws at the last operating point.
    pub(super) fn laws(&self) -> &[ElementLaw] {
        &self.laws
    }

    /// Drop along an element, from the node it comes from to the node it goes to.
    pub(super) fn drop(&self, element: usize) -> f64 {
        let [from, to] = self.ends[element];
        self.pressures[from] - self.pressures[to]
    }

    /// Whether a node's pressure was given.
    pub(super) fn is_known(&self, node: usize) -> bool {
        self.known[node]
    }

    /// What all pumps deliver; without a pump, what flows out of the nodes of known pressure.
    pub(super) fn supply(&self, elements: &[Element]) -> f64 {
        let flows = || elements.iter().zip(self.through()).zip(&self.ends);
        if elements.iter().any(|element| element.kind == Kind::Pump) {
            let pumps = flows().filter(|((element, _), _)| element.kind == Kind::Pump);
            return pumps.map(|((_, through), _)| through.flow).sum();
        }
        let mut given = vec![0.0; self.pressures.len()];
        for ((_, through), [from, to]) in flows() {
            given[*from] += through.flow;
            given[*to] -= through.flow;
        }
        let sources = given.iter().zip(&self.known).filter(|(given, known)| **known && **given > 0.0);
        sources.map(|(given, _)| given).sum()
    }
}

/// Where the search begins: a little above what opens the relief valves, or three bar.
fn start(elements: &[Element]) -> f64 {
    const USUAL: f64 = 3e5;
    let opening = elements.iter().filter_map(|element| element.opening_pressure);
    let most = opening.map(|pressure| pressure.pascals()).fold(0.0, f64::max);
    if most > 0.0 { 1.05 * most } else { USUAL }
}

fn unbalanced(error: &Error) -> Error {
    let residual = match error {
        Error::NotConverged { residual, .. } => *residual,
        _ => f64::NAN,
    };
    Error::NoSolution {
        field: "elements",
        detail: format!(
            "have no steady balance that could be found: the worst node was left with {residual:.3e} m3/s. Look for a pump that \
             nothing lets flow, or fixed consumers that take more than comes."
        ),
    }
}

fn torn(node: &str, pressure: f64) -> Error {
    Error::NoSolution {
        field: "elements",
        detail: format!(
            "take more oil than can come: '{node}' would be at {}, and no oil stands less than no pressure at all. Fixed consumers, a \
             pump's inlet or a turning shaft draw too much through what leads there.",
            Pressure::from_pascals(pressure).shown()
        ),
    }
}
