//! Oil: what it is at a temperature, and what drilled restrictors, passages, gaps and bearings let through.

pub mod annulus;
pub(crate) mod annulus_law;
pub(crate) mod bearing_film;
pub(crate) mod bearing_law;
pub mod bearing_load;
mod bearing_table;
pub mod budget;
pub(crate) mod checked_oil;
pub mod circuit;
pub mod drills;
pub mod feed_overlap;
pub mod grade;
pub mod journal_bearing;
pub mod law;
pub mod oil_input;
pub(crate) mod overlap_law;
pub mod passage;
pub(crate) mod passage_law;
pub mod pipe_thread;
pub mod properties;
pub mod restrictor;
pub mod restrictor_law;
pub mod viscosity_index;

pub use law::{OilLaw, OilState};
pub use oil_input::OilInput;
