//! The build sheet: the whole engine as data, and every consequence of it.

pub mod cylinders;
mod equations;
pub mod evaluate;
pub mod explain;
pub mod measured_block;
mod operation_cautions;
pub mod operation_rules;
pub mod operations;
pub mod place;
pub mod sensitivity;
pub mod sheet;

#[cfg(test)]
pub(crate) mod tests;
