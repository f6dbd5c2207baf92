//! Ready-made material for spreadsheets, all of it made from the OpenAPI document.

mod block;
mod form;
mod how_to;
mod look;
mod module;
mod python;
mod workbook;

pub use module::{Language, module};

pub(crate) use workbook::workbook;
