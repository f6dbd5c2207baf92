//! The diameter of one element that gives a wanted flow, share or pressure.

use std::cell::RefCell;

use crate::error::Error;
use crate::solve::bracketed_newton;
use crate::units::{Flow, Length, Pressure, Quantity, Ratio};

use super::element::Number;
use super::study::Study;
use super::{Size, SizeFound, Wanted};

impl Study<'_> {
    /// The diameter sought, if one is; the element is put back afterwards.
    ///
    /// # Errors
    /// [`Error::NoSolution`] when no diameter of the range gives what is wanted.
    pub(super) fn size(&mut self) -> Result<Option<SizeFound>, Error> {
        let Some(size) = &self.input.size else { return Ok(None) };
        let place = self.element(&size.element);
        let wanted = target(&size.wanted);
        let failure = RefCell::new(None);
        let study = RefCell::new(&mut *self);
        // In the logarithm of the diameter; a point that has no balance ends the search.
        let miss = |log: f64| {
            let mut study = study.borrow_mut();
            match study.with_diameter(place, log.exp()) {
                Ok(()) => (study.measured(&size.wanted) - wanted, 0.0),
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

    fn measured(&self, wanted: &Wanted) -> f64 {
        let flow = |name: &str| self.plan.through()[self.element(name)].flow;
        match wanted {
            Wanted::Flow { element, .. } => flow(element),
            Wanted::Share { element, .. } => flow(element) / self.plan.supply(&self.elements),
            Wanted::Pressure { node, .. } => self.pressure_at(node).pascals(),
        }
    }
}

fn target(wanted: &Wanted) -> f64 {
    match wanted {
        Wanted::Flow { flow, .. } => flow.si(),
        Wanted::Share { share, .. } => share.si(),
        Wanted::Pressure { pressure, .. } => pressure.si(),
    }
}

fn out_of_reach(size: &Size, [at_smallest, at_largest]: [f64; 2]) -> Error {
    let shown = |value: f64| match size.wanted {
        Wanted::Flow { .. } => Flow::from_si(value).shown(),
        Wanted::Share { .. } => Ratio::from_si(value).shown(),
        Wanted::Pressure { .. } => Pressure::from_si(value).shown(),
    };
    let field = match size.wanted {
        Wanted::Flow { .. } => "size/flow",
        Wanted::Share { .. } => "size/share",
        Wanted::Pressure { .. } => "size/pressure",
    };
    let detail = format!(
        "of {} is out of reach: the smallest diameter, {}, gives {}, the largest, {}, gives {}.",
        shown(target(&size.wanted)),
        size.smallest.shown(),
        shown(at_smallest),
        size.largest.shown(),
        shown(at_largest)
    );
    Error::NoSolution { field, detail }
}
