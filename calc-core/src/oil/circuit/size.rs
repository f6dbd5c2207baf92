//! The diameter of one element that gives a wanted flow, share or pressure.

use std::cell::RefCell;

use crate::error::Error;
use crate::solve::bracketed_newton;
use crate::units::{Flow, Length, Pressure, Quantity, Ratio};

use super::element::Number;
use super::study::Study;
use super::{Size, SizeFound};

impl Study<'_> {
    /// The diameter sought, if one is; the element is put back afterwards.
    ///
    /// # Errors
    /// [`Error::NoSolution`] when no diameter of the range gives what is wanted.
    pub(super) fn size(&mut self) -> Result<Option<SizeFound>, Error> {
        let Some(size) = &self.input.size else { return Ok(None) };
        let place = self.element(&size.element);
        let wanted = target(size);
        let failure = RefCell::new(None);
        let study = RefCell::new(&mut *self);
        // In the logarithm of the diameter; a point that has no balance ends the search.
        let miss = |log: f64| {
            let mut study = study.borrow_mut();
            match study.with_diameter(place, log.exp()) {
                Ok(()) => (study.measured(size) - wanted, 0.0),
                Err(error) => {
                    failure.replace(Some(error));
                    (f64::NAN, 0.0)
                }
            }
        };
        let ends = [size.smallest, size.largest].map(|diameter| diameter.metres().ln());
        let reached = ends.map(|end| miss(end).0 + wanted);
        let found = bracketed_newton("diameter", miss, ends[0], ends[1], 0.5 * (ends[0] + ends[1]));
        if let Some(error) = failure.into_inner() {
            return Err(error);
        }
        let found = found.map_err(|_| out_of_reach(size, reached))?.exp();
        self.with_diameter(place, found)?;
        let (point, flow) = (self.point(), self.flow(place));
        self.elements[place].clone_from(&self.input.elements[place]);
        Ok(Some(SizeFound { diameter: Length::from_metres(found), point, flow }))
    }

    fn with_diameter(&mut self, place: usize, diameter: f64) -> Result<(), Error> {
        Number::Diameter.set(&mut self.elements[place], diameter);
        self.balance(self.input.engine_speed, self.input.oil_temperature).map(|_| ())
    }

    fn measured(&self, size: &Size) -> f64 {
        let flow = || self.plan.through()[self.element(&size.at)].flow;
        match (size.flow, size.share) {
            (Some(_), _) => flow(),
            (None, Some(_)) => flow() / self.plan.supply(&self.elements),
            (None, None) => self.pressure_at(&size.at).pascals(),
        }
    }
}

fn target(size: &Size) -> f64 {
    let wanted = [size.flow.map(Quantity::si), size.share.map(Quantity::si), size.pressure.map(Quantity::si)];
    wanted.into_iter().flatten().next().unwrap_or(f64::NAN)
}

fn out_of_reach(size: &Size, [at_smallest, at_largest]: [f64; 2]) -> Error {
    let (field, shown): (_, fn(f64) -> String) = match (size.flow, size.share) {
        (Some(_), _) => ("size/flow", |value| Flow::from_si(value).shown()),
        (None, Some(_)) => ("size/share", |value| Ratio::from_si(value).shown()),
        (None, None) => ("size/pressure", |value| Pressure::from_si(value).shown()),
    };
    let detail = format!(
        "of {} is out of reach: the smallest diameter, {}, gives {}, the largest, {}, gives {}.",
        shown(target(size)),
        size.smallest.shown(),
        shown(at_smallest),
        size.largest.shown(),
        shown(at_largest)
    );
    Error::NoSolution { field, detail }
}
