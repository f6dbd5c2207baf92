//! Which oil is meant: two points of its data sheet, or a grade; checked once, made into a law once.

use validator::{Validate, ValidationError};

use crate::caution::{About, COMMON_PRACTICE, Caution, Severity};
use crate::error::{Error, broken_rule};
use crate::limit;
use crate::units::{Density, DynamicViscosity, KinematicViscosity, Quantity, Temperature};

use super::grade::{Grade, GradePoint};
use super::law::{HIGH_SHEAR_TEST, OilLaw, THIN, USUAL_DENSITY, VISCOSITY_RANGE, density_at_15};

/// An oil by two points of its data sheet, or by its grade.
#[derive(Debug, Clone, PartialEq, Default, Validate)]
#[validate(schema(function = "one_form", skip_on_field_errors = false))]
#[validate(schema(function = "point_belongs_to_grade", skip_on_field_errors = false))]
#[validate(schema(function = "density_temperature_needs_density", skip_on_field_errors = false))]
#[validate(schema(function = "thins_with_heat"))]
#[validate(schema(function = "high_shear_is_lower"))]
pub struct OilInput {
    /// Kinematic viscosity at the cooler point.
    #[validate(custom(function = "limit::oil_viscosity"))]
    pub cool_viscosity: Option<KinematicViscosity>,
    /// Temperature of the cooler point; 40 degrees C when not given.
    #[validate(custom(function = "limit::oil_temperature"))]
    pub cool_temperature: Option<Temperature>,
    /// Kinematic viscosity at the hotter point.
    #[validate(custom(function = "limit::oil_viscosity"))]
    pub hot_viscosity: Option<KinematicViscosity>,
    /// Temperature of the hotter point; 100 degrees C when not given.
    #[validate(custom(function = "limit::oil_temperature"))]
    pub hot_temperature: Option<Temperature>,
    /// Viscosity grade, instead of the two points.
    pub grade: Option<Grade>,
    /// Which oil of the grade's window; the typical one when not given.
    pub grade_point: Option<GradePoint>,
    /// Density; [`USUAL_DENSITY`] when not given.
    #[validate(custom(function = "limit::oil_density"))]
    pub density: Option<Density>,
    /// Temperature of the density; 15 degrees C when not given.
    #[validate(custom(function = "limit::oil_temperature"))]
    pub density_temperature: Option<Temperature>,
    /// Dynamic viscosity at 150 degrees C and high shear.
    #[validate(custom(function = "limit::high_shear_viscosity"))]
    pub high_shear_viscosity: Option<DynamicViscosity>,
    /// Below this the oil does not pour.
    #[validate(custom(function = "limit::oil_temperature"))]
    pub pour_point: Option<Temperature>,
}

const COOL: Temperature = Temperature::from_degrees_celsius(40.0);
const HOT: Temperature = Temperature::from_degrees_celsius(100.0);
/// Two points nearer than this (K) make no line.
const LEAST_SPAN: f64 = 10.0;
/// B of ASTM D341 that liquids can have: silicones are near 2, bright stocks near 4 (from memory), with room on both sides.
const SLOPES: [f64; 2] = [0.8, 7.0];
/// High-shear viscosity over that at little shear, both at 150 degrees C: a little above one is scatter of the two tests.
const HIGH_SHEAR_SHARES: [f64; 2] = [0.3, 1.08];

impl OilInput {
    /// The oil as a law of temperature, for input that is validated.
    ///
    /// # Errors
    /// [`Error::Invalid`] when the input was not validated and does not make an oil.
    pub fn law(&self) -> Result<OilLaw, Error> {
        self.law_of(self.grade_point.unwrap_or(GradePoint::Typical))
    }

    /// The thinnest and the thickest oil of a grade's window; none when the oil is known by its points.
    ///
    /// # Errors
    /// As [`OilInput::law`].
    pub fn window(&self) -> Result<Option<[OilLaw; 2]>, Error> {
        if self.grade.is_none() {
            return Ok(None);
        }
        Ok(Some([self.law_of(GradePoint::Low)?, self.law_of(GradePoint::High)?]))
    }

    fn law_of(&self, point: GradePoint) -> Result<OilLaw, Error> {
        let Some(points) = self.points(point) else {
            return Err(crate::error::contradiction("grade", "or two points are needed.".to_owned()));
        };
        let given = self.density.unwrap_or(USUAL_DENSITY);
        let density_15 = match self.density_temperature {
            Some(temperature) => density_at_15(given, temperature)?,
            None => given,
        };
        let law = OilLaw::through(points, density_15);
        Ok(self.high_shear_viscosity.map_or(law, |measured| law.with_high_shear(measured)))
    }

    fn points(&self, point: GradePoint) -> Option<[(Temperature, KinematicViscosity); 2]> {
        if let Some(grade) = self.grade {
            return Some([(COOL, grade.viscosity_at_40(point)), (HOT, grade.viscosity_at_100(point))]);
        }
        let cool = (self.cool_temperature.unwrap_or(COOL), self.cool_viscosity?);
        let hot = (self.hot_temperature.unwrap_or(HOT), self.hot_viscosity?);
        Some([cool, hot])
    }

    /// The law without its high-shear part, where the fields make one.
    fn plain_law(&self) -> Option<OilLaw> {
        Self { high_shear_viscosity: None, ..self.clone() }.law().ok()
    }

    /// Why the oil cannot be asked at a temperature, pinned to the field that holds it; the range of the field itself is the
    /// caller's to check.
    #[must_use]
    pub fn temperature_fault(&self, law: &OilLaw, field: &str, temperature: Temperature) -> Option<ValidationError> {
        if let Some(pour_point) = self.pour_point.filter(|pour_point| temperature < *pour_point) {
            let detail = format!("is below the oil's pour point, {}; got {}.", pour_point.shown(), temperature.shown());
            return Some(broken_rule(field, "below_pour_point", detail));
        }
        let viscosity = law.state(temperature).kinematic_viscosity;
        let [least, most] = VISCOSITY_RANGE.map(KinematicViscosity::from_square_metres_per_second);
        if viscosity >= least && viscosity <= most {
            return None;
        }
        let [coldest, hottest] = [law.temperature_of(most), law.temperature_of(least)];
        let detail = format!(
            "is outside the viscosity equation for this oil, {} to {}; got {}.",
            coldest.shown(),
            hottest.shown(),
            temperature.shown()
        );
        Some(broken_rule(field, "outside_viscosity_equation", detail))
    }

    /// What to look at twice about the oil itself; `path` is where it stands in the request (`oil`).
    pub fn cautions(&self, path: &str, cautions: &mut Vec<Caution>) {
        let at = |field: &str| if path.is_empty() { field.to_owned() } else { format!("{path}/{field}") };
        for (field, viscosity) in [("cool_viscosity", self.cool_viscosity), ("hot_viscosity", self.hot_viscosity)] {
            if let Some(viscosity) = viscosity {
                limit::OIL_VISCOSITY.unusual(at(field), viscosity, cautions);
            }
        }
        if let Some(density) = self.density {
            limit::OIL_DENSITY.unusual(at("density"), density, cautions);
        } else {
            let detail = format!("No density is given: {} at 15 degrees C is assumed.", USUAL_DENSITY.shown());
            cautions.push(note("density_assumed", at("density"), detail, COMMON_PRACTICE));
        }
        if let Some(measured) = self.high_shear_viscosity {
            limit::HIGH_SHEAR_VISCOSITY.unusual(at("high_shear_viscosity"), measured, cautions);
        }
        if let Some(grade) = self.grade {
            cautions.push(self.grade_note(grade, at("grade")));
        }
    }

    fn grade_note(&self, grade: Grade, path: String) -> Caution {
        let which = match self.grade_point.unwrap_or(GradePoint::Typical) {
            GradePoint::Low => "the thinnest oil",
            GradePoint::Typical => "the middle",
            GradePoint::High => "the thickest oil",
        };
        let detail = format!(
            "A grade is a window: {which} of {} is assumed, {} at 100 degrees C, with viscosity index {}. Give two points of the \
             oil's data sheet instead.",
            grade.name(),
            grade.viscosity_at_100(self.grade_point.unwrap_or(GradePoint::Typical)).shown(),
            grade.assumed_index()
        );
        Caution { severity: Severity::Caution, ..note("grade_assumed", path, detail, super::grade::ASSUMPTION_SOURCE) }
    }

    /// What to look at twice about this oil at a temperature; `field` is where the temperature stands in the request.
    pub fn temperature_cautions(
        &self,
        law: &OilLaw,
        field: &str,
        temperature: Temperature,
        cautions: &mut Vec<Caution>,
    ) {
        limit::OIL_TEMPERATURE.unusual(field.to_owned(), temperature, cautions);
        if law.kinematic(temperature.kelvins()) < THIN {
            let detail = "The oil is thinner than 2 mm2/s here: the viscosity equation reads low by up to 0.1 percent at 2 mm2/s \
                          and by about 2 percent at 1 mm2/s.";
            cautions.push(note("thin_for_viscosity_equation", field.to_owned(), detail.to_owned(), "ASTM D341"));
        }
        if let Some(caution) = self.far_below_points(field, temperature) {
            cautions.push(caution);
        }
        if let Some(limit) =
            self.grade.and_then(Grade::pumping_limit).filter(|limit| self.pour_point.is_none() && temperature < *limit)
        {
            let detail = format!(
                "{} is below the pumping test of this W grade, {}: the oil may not reach the pump.",
                temperature.shown(),
                limit.shown()
            );
            let source = "SAE J300, table 1 (low-temperature pumping viscosity)";
            cautions.push(Caution {
                severity: Severity::Danger,
                ..note("below_pumping_limit", field.to_owned(), detail, source)
            });
        }
    }
}

/// This far (K) below the cooler point the line is no longer trusted without a word: common practice, no source.
const FAR_BELOW: f64 = 40.0;

impl OilInput {
    fn far_below_points(&self, field: &str, temperature: Temperature) -> Option<Caution> {
        let cool = self.cool_temperature.unwrap_or(COOL);
        (cool.kelvins() - temperature.kelvins() > FAR_BELOW).then(|| {
            let detail = format!(
                "{} is far below the cooler point of the oil, {}: multigrade and waxy oils are thicker there than the line says.",
                temperature.shown(),
                cool.shown()
            );
            let found = note("far_below_points", field.to_owned(), detail, COMMON_PRACTICE);
            Caution { severity: Severity::Caution, ..found }
        })
    }
}

fn note(code: &'static str, path: String, detail: String, source: &'static str) -> Caution {
    Caution { code, severity: Severity::Note, about: About::Request, path: path.into(), detail: detail.into(), source }
}

fn one_form(input: &OilInput) -> Result<(), ValidationError> {
    let viscosities = [("cool_viscosity", input.cool_viscosity), ("hot_viscosity", input.hot_viscosity)];
    let any_point = viscosities.iter().any(|(_, viscosity)| viscosity.is_some())
        || input.cool_temperature.is_some()
        || input.hot_temperature.is_some();
    if input.grade.is_some() {
        if any_point {
            let detail = "stands beside points of a data sheet; give the points or the grade, not both.";
            return Err(broken_rule("grade", "contradiction", detail.to_owned()));
        }
        return Ok(());
    }
    if !any_point {
        let detail = "is missing: give two points of the data sheet (cool_viscosity, hot_viscosity) or a grade.";
        return Err(broken_rule("grade", "missing", detail.to_owned()));
    }
    match viscosities.iter().find(|(_, viscosity)| viscosity.is_none()) {
        Some((field, _)) => {
            Err(broken_rule(field, "missing", "is missing: an oil needs two points, or a grade alone.".to_owned()))
        }
        None => Ok(()),
    }
}

fn point_belongs_to_grade(input: &OilInput) -> Result<(), ValidationError> {
    if input.grade_point.is_some() && input.grade.is_none() {
        let detail = "chooses from the window of a grade, and no grade is given.";
        return Err(broken_rule("grade_point", "contradiction", detail.to_owned()));
    }
    Ok(())
}

fn density_temperature_needs_density(input: &OilInput) -> Result<(), ValidationError> {
    if input.density_temperature.is_some() && input.density.is_none() {
        let detail = "belongs to a density, and none is given.";
        return Err(broken_rule("density_temperature", "contradiction", detail.to_owned()));
    }
    Ok(())
}

fn thins_with_heat(input: &OilInput) -> Result<(), ValidationError> {
    let (None, Some([(cool, thick), (hot, thin)])) = (input.grade, input.points(GradePoint::Typical)) else {
        return Ok(());
    };
    if hot.kelvins() - cool.kelvins() < LEAST_SPAN {
        let detail =
            format!("must be at least 10 degrees C above the cooler point, {}; got {}.", cool.shown(), hot.shown());
        return Err(broken_rule("hot_temperature", "contradiction", detail));
    }
    let slope = OilLaw::through([(cool, thick), (hot, thin)], USUAL_DENSITY).b();
    // Also refuses a viscosity that rises with heat, whose slope is negative.
    if (SLOPES[0]..=SLOPES[1]).contains(&slope) {
        return Ok(());
    }
    let detail = format!(
        "does not go with {} at {}: B of ASTM D341 would be {slope:.2}, and liquids have {} to {}.",
        thick.shown(),
        cool.shown(),
        SLOPES[0],
        SLOPES[1]
    );
    Err(broken_rule("hot_viscosity", "contradiction", detail))
}

fn high_shear_is_lower(input: &OilInput) -> Result<(), ValidationError> {
    let (Some(measured), Some(law)) = (input.high_shear_viscosity, input.plain_law()) else { return Ok(()) };
    let plain = law.state(HIGH_SHEAR_TEST).dynamic_viscosity;
    let share = measured.pascal_seconds() / plain.pascal_seconds();
    // A point that cannot make a law is refused by its own rule.
    if !share.is_finite() || (HIGH_SHEAR_SHARES[0]..=HIGH_SHEAR_SHARES[1]).contains(&share) {
        return Ok(());
    }
    let detail = format!(
        "must be from {} to {} times the viscosity at little shear, {} at 150 degrees C; got {}.",
        HIGH_SHEAR_SHARES[0],
        HIGH_SHEAR_SHARES[1],
        plain.shown(),
        measured.shown()
    );
    Err(broken_rule("high_shear_viscosity", "contradiction", detail))
}
