//! Which oil is meant: the part that every oil request shares.

use calc_core::oil::grade;
use calc_core::oil::oil_input as core;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::wire::Units;
use crate::wire::quantity::{DynamicViscosityInput, KinematicViscosityInput, OilDensityInput, TemperatureInput};

use super::oil_grade::OilGrade;

/// Which oil: two points of its data sheet (usually at 40 and 100 degrees C), or a viscosity grade.
#[derive(Debug, Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OilRequest {
    /// Kinematic viscosity at the cooler point of the data sheet.
    #[serde(skip_serializing_if = "Option::is_none")]
    cool_viscosity: Option<KinematicViscosityInput>,
    /// Temperature of the cooler point; 40 degrees C when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    cool_temperature: Option<TemperatureInput>,
    /// Kinematic viscosity at the hotter point of the data sheet.
    #[serde(skip_serializing_if = "Option::is_none")]
    hot_viscosity: Option<KinematicViscosityInput>,
    /// Temperature of the hotter point, at least 10 degrees C above the cooler; 100 degrees C when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    hot_temperature: Option<TemperatureInput>,
    /// Viscosity grade instead of the two points; a grade is a window, and one oil of it is assumed.
    #[serde(skip_serializing_if = "Option::is_none")]
    grade: Option<OilGrade>,
    /// Which oil of the grade's window; typical when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    grade_point: Option<OilGradePoint>,
    /// Density; 870 kg/m3 is assumed when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    density: Option<OilDensityInput>,
    /// Temperature of that density; 15 degrees C when absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    density_temperature: Option<TemperatureInput>,
    /// Dynamic viscosity at 150 degrees C and high shear (HTHS), from the data sheet.
    #[serde(skip_serializing_if = "Option::is_none")]
    high_shear_viscosity: Option<DynamicViscosityInput>,
    /// Pour point: nothing is computed below it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pour_point: Option<TemperatureInput>,
}

/// Which oil of a grade's window.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum OilGradePoint {
    /// The thinnest that may bear the grade.
    Low,
    /// The middle of the window.
    Typical,
    /// The thickest that may bear the grade.
    High,
}

impl OilGradePoint {
    pub(crate) fn core(self) -> grade::GradePoint {
        match self {
            Self::Low => grade::GradePoint::Low,
            Self::Typical => grade::GradePoint::Typical,
            Self::High => grade::GradePoint::High,
        }
    }
}

impl OilRequest {
    /// The core's input, bare numbers read in the units of the request.
    pub(crate) fn core(&self, units: Units) -> core::OilInput {
        let viscosity = |given: Option<KinematicViscosityInput>| given.map(|viscosity| viscosity.core(units));
        let temperature = |given: Option<TemperatureInput>| given.map(|temperature| temperature.core(units));
        core::OilInput {
            cool_viscosity: viscosity(self.cool_viscosity),
            cool_temperature: temperature(self.cool_temperature),
            hot_viscosity: viscosity(self.hot_viscosity),
            hot_temperature: temperature(self.hot_temperature),
            grade: self.grade.map(OilGrade::core),
            grade_point: self.grade_point.map(OilGradePoint::core),
            density: self.density.map(|density| density.core(units)),
            density_temperature: temperature(self.density_temperature),
            high_shear_viscosity: self.high_shear_viscosity.map(|viscosity| viscosity.core(units)),
            pour_point: temperature(self.pour_point),
        }
    }
}
