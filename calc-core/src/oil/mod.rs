//! Oil: what passages, gaps and bearings let through.

pub(crate) mod annulus_law;
pub(crate) mod bearing_film;
pub(crate) mod bearing_law;
mod bearing_table;
pub(crate) mod overlap_law;
pub(crate) mod passage_law;
