//! The forms for many requests at once: batch (one JSON document), stream (endless lines of JSON) and table (CSV). All of them
//! answer every item by the same calculation; a wrong item never spoils the others.

pub(crate) mod batch;
mod body;
mod cut;
mod in_order;
pub(crate) mod item;
mod progress;
pub(crate) mod stream;
pub(crate) mod table;

pub(crate) use body::broke_off;

use crate::calculation::Entry;

/// Largest body of a batch; a larger table is answered while it comes.
pub(crate) const LARGEST_BODY: usize = 8 * 1024 * 1024;

/// The suffixes of these forms, as an address has them.
pub(crate) fn suffixes(entry: &Entry) -> &'static [&'static str] {
    if entry.has_query { &["/batch", "/stream", "/table"] } else { &["/batch", "/stream"] }
}
