//! One circuit at many operating points: each begins where the last one ended.

use crate::error::Error;
use crate::oil::{OilLaw, OilState};
use crate::units::{Flow, Pressure, Quantity, RotationalSpeed, Temperature};

use super::element::{Element, Group, Kind};
use super::law::{Opening, Running};
use super::plan::Plan;
use super::rules::{self, Places};
use super::{CircuitInput, Point, PressureRule, study_rules};

/// A circuit that was checked and planned once, to be balanced at many operating points.
#[derive(Debug, Clone)]
pub struct Study<'a> {
    pub(super) input: &'a CircuitInput,
    places: Places<'a>,
    oil: OilLaw,
    pub(super) plan: Plan,
    /// As given, but for the number that a sweep or a search changes.
    pub(super) elements: Vec<Element>,
    pub(super) speed: RotationalSpeed,
    temperature: Temperature,
    pub(super) running: Running,
}

impl<'a> Study<'a> {
    /// Checks a circuit and plans it.
    ///
    /// # Errors
    /// [`Error::Invalid`] as [`super::evaluate`].
    pub fn new(input: &'a CircuitInput) -> Result<Self, Error> {
        rules::check(input)?;
        study_rules::check(input)?;
        let oil = input.oil.law()?;
        let (speed, temperature) = (input.engine_speed, input.oil_temperature);
        let places = rules::places(&input.nodes);
        Ok(Self {
            input,
            oil,
            plan: Plan::new(input, &places),
            places,
            elements: input.elements.clone(),
            speed,
            temperature,
            running: Running::new(oil, temperature, speed),
        })
    }

    /// Balances the circuit at an operating point, beginning where the last balance ended; gives what is left at the worst node
    /// and the number of Newton steps.
    ///
    /// # Errors
    /// [`Error::NoSolution`] as [`super::evaluate`].
    pub fn balance(&mut self, speed: RotationalSpeed, temperature: Temperature) -> Result<(Flow, u32), Error> {
        if temperature != self.temperature || speed != self.speed {
            (self.speed, self.temperature) = (speed, temperature);
            self.running = Running::new(self.oil, temperature, speed);
        }
        let outcome = self.plan.balance(&self.input.nodes, &self.elements, &self.running);
        let balance = outcome.map_err(|error| match error {
            Error::NoSolution { field, detail } => {
                let detail = format!("{detail} So at {} and {}.", speed.shown(), temperature.shown());
                Error::NoSolution { field, detail }
            }
            other => other,
        })?;
        Ok((Flow::from_cubic_metres_per_second(balance.residual), balance.steps))
    }

    /// The oil at the last operating point.
    pub(super) fn state(&self) -> OilState {
        self.oil.state(self.temperature)
    }

    /// Forgets the last balance: the next one begins as the first did.
    pub fn forget(&mut self) {
        self.plan.forget();
    }

    /// Gauge pressures in the order of the nodes.
    pub(super) fn pressures(&self) -> Vec<Pressure> {
        self.plan.pressures.iter().map(|&pressure| Pressure::from_pascals(pressure)).collect()
    }

    pub(crate) fn pressure_at(&self, name: &str) -> Pressure {
        let place = self.places.get(name).copied().unwrap_or_default();
        Pressure::from_pascals(self.plan.pressures[place])
    }

    /// Place of an element by name.
    pub(super) fn element(&self, name: &str) -> usize {
        self.elements.iter().position(|element| element.name == name).unwrap_or_default()
    }

    pub(super) fn opening(&self, element: usize) -> Option<Opening> {
        self.plan.laws()[element].opening(self.plan.drop(element))
    }

    pub(crate) fn flow(&self, element: usize) -> Flow {
        // What the last correction of the balance lent to a shut valve is rounding.
        if self.elements[element].kind == Kind::ReliefValve && self.opening(element) == Some(Opening::Shut) {
            return Flow::default();
        }
        Flow::from_cubic_metres_per_second(self.plan.through()[element].flow)
    }

    /// The operating point as a whole.
    #[must_use]
    pub fn point(&self) -> Point {
        let mut groups = [0.0; 3];
        let (mut relief, mut opening) = (0.0, None);
        for (place, element) in self.elements.iter().enumerate() {
            let flow = self.plan.through()[place].flow;
            match element.kind {
                Kind::Pump => {}
                Kind::ReliefValve => {
                    relief += self.flow(place).cubic_metres_per_second();
                    opening = farthest(opening, self.opening(place));
                }
                _ if self.plan.is_known(self.plan.ends[place][1]) => groups[group(element.group)] += flow,
                _ => {}
            }
        }
        let rule = self.input.pressure_rule.as_ref();
        Point {
            engine_speed: self.speed,
            oil_temperature: self.temperature,
            supply: Flow::from_cubic_metres_per_second(self.plan.supply(&self.elements)),
            relief: Flow::from_cubic_metres_per_second(relief),
            opening,
            groups: groups.map(Flow::from_cubic_metres_per_second),
            rule: rule.map(|rule| [self.pressure_at(&rule.node), wanted(rule, self.speed)]),
            watched: self.input.watch.iter().map(|name| self.pressure_at(name)).collect(),
            swept: None,
        }
    }

    /// One number over its values; the element is put back afterwards.
    pub(super) fn sweep(&mut self) -> Result<Vec<Point>, Error> {
        let Some(sweep) = &self.input.sweep else { return Ok(Vec::new()) };
        let place = self.element(&sweep.element);
        let mut points = Vec::new();
        for value in sweep.values.si() {
            sweep.number.set(&mut self.elements[place], value);
            self.balance(self.input.engine_speed, self.input.oil_temperature)?;
            points.push(Point { swept: Some(self.flow(place)), ..self.point() });
        }
        self.elements[place].clone_from(&self.input.elements[place]);
        Ok(points)
    }

    /// For each temperature all speeds, to and fro, so that each point begins near the last one.
    pub(super) fn map(&mut self) -> Result<Vec<Point>, Error> {
        let Some(map) = &self.input.map else { return Ok(Vec::new()) };
        let mut points = Vec::with_capacity(map.engine_speeds.len() * map.oil_temperatures.len());
        for (row, &temperature) in map.oil_temperatures.iter().enumerate() {
            let begin = points.len();
            let backwards = row % 2 == 1;
            for column in 0..map.engine_speeds.len() {
                let column = if backwards { map.engine_speeds.len() - 1 - column } else { column };
                self.balance(map.engine_speeds[column], temperature)?;
                points.push(self.point());
            }
            if backwards {
                points[begin..].reverse();
            }
        }
        Ok(points)
    }
}

/// What the rule wants at a speed.
pub(super) fn wanted(rule: &PressureRule, speed: RotationalSpeed) -> Pressure {
    let thousands = speed.revolutions_per_minute() / 1000.0;
    let rising = rule.per_thousand_revolutions.map_or(0.0, |pressure| pressure.pascals() * thousands);
    let least = rule.least.map_or(0.0, |pressure| pressure.pascals());
    Pressure::from_pascals(rising.max(least))
}

const fn group(group: Group) -> usize {
    match group {
        Group::BottomEnd => 0,
        Group::TopEnd => 1,
        Group::Other => 2,
    }
}

fn farthest(one: Option<Opening>, other: Option<Opening>) -> Option<Opening> {
    let rank = |opening: &Opening| match opening {
        Opening::Shut => 0,
        Opening::Open => 1,
        Opening::WideOpen => 2,
    };
    one.into_iter().chain(other).max_by_key(rank)
}
