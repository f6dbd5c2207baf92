//! Oil: what it is at a temperature, and what drilled restrictors let through.

pub mod circuit;
pub mod grade;
pub mod law;
pub mod oil_input;
pub mod restrictor_law;
pub mod viscosity_index;

pub use law::{OilLaw, OilState};
pub use oil_input::OilInput;
