//! Oil: what it is at a temperature, and what drilled restrictors let through.

pub mod annulus;
pub mod budget;
pub mod circuit;
pub mod circuit_element;
pub mod circuit_request;
pub mod circuit_study;
pub mod engine_load;
pub mod feed_overlap;
pub mod journal_bearing;
pub mod oil_grade;
pub mod oil_request;
pub mod oil_system;
pub mod passage;
pub mod properties;
pub mod restrictor;
pub mod restrictor_plug;
