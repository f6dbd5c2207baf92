//! The build sheet: the whole engine as data, and every consequence of it.

pub mod cylinders;
pub mod evaluate;
pub mod fit;
pub mod measured_block;
mod operation_cautions;
pub mod operation_rules;
pub mod operations;
pub mod place;
pub mod sheet;

#[cfg(test)]
pub(crate) mod tests;
