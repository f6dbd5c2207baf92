//! The build sheet: the whole engine as data, and every consequence of it.

pub mod evaluate;
pub mod sheet;
