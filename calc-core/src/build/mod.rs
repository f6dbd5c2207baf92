//! The build sheet: the whole engine as data, and every consequence of it.

pub mod compare;
pub mod consequence;
pub mod cylinders;
pub mod difference;
mod equations;
pub mod evaluate;
pub mod every_place;
pub mod explain;
pub mod fit;
pub mod goal;
mod goal_roots;
mod goal_search;
pub mod measured_block;
mod operation_cautions;
pub mod operation_rules;
pub mod operations;
pub mod place;
pub mod rule;
pub mod sensitivity;
pub mod sheet;
pub mod sweep;
pub mod tolerance;
mod tolerance_draws;

#[cfg(test)]
pub(crate) mod tests;
