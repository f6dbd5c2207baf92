//! Oil: what it is at a temperature, and what drilled restrictors let through.

pub mod annulus;
pub mod engine_load;
pub mod feed_overlap;
pub mod journal_bearing;
pub mod oil_grade;
pub mod oil_request;
pub mod properties;
pub mod restrictor;
pub mod restrictor_plug;
pub mod passage;
