//! The build sheet: the whole engine as data, and every consequence of it.

pub mod cylinders;
pub mod evaluate;
pub mod sheet;
