//! The forms for many requests at once: batch (one JSON document), stream (endless lines of JSON) and table (CSV). All of them
//! answer every item by [`Entry::answer`] or its twin for queries; a wrong item never spoils the others.

pub(crate) mod batch;
pub(crate) mod item;
mod progress;
pub(crate) mod stream;
pub(crate) mod table;

use crate::calculation::Entry;

/// Largest body of a batch or a table.
pub(crate) const LARGEST_BODY: usize = 8 * 1024 * 1024;

/// The suffixes of these forms, as an address has them.
pub(crate) fn suffixes(entry: &Entry) -> &'static [&'static str] {
    if entry.has_query { &["/batch", "/stream", "/table"] } else { &["/batch", "/stream"] }
}
