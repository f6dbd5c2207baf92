//! `POST …/batch`: up to a thousand requests in one JSON document.

use calc_core::stop::Stop;
use serde::Deserialize;
use serde_json::value::RawValue;

use super::item::{self, Counts};
use crate::calculation::{Entry, explain, hung_up};
use crate::memory::Held;
use crate::problem::{FieldError, Problem};
use crate::shape::{Field, Shape, fault};

/// Most items of one batch.
pub(crate) const MOST_ITEMS: usize = 1000;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Batch<'a> {
    #[serde(borrow)]
    items: Vec<&'a RawValue>,
}

/// The answer to a batch: every item's result or problem, in order, and a summary; and what is held for it.
pub(crate) fn answer(entry: &Entry, body: &[u8], mut held: Held, stop: &Stop) -> Result<(Vec<u8>, Held), Problem> {
    held.grow(body.len())?;
    let Ok(batch) = serde_json::from_slice::<Batch>(body) else {
        return Err(explain(&shape(), body));
    };
    if batch.items.is_empty() || batch.items.len() > MOST_ITEMS {
        return Err(Problem::invalid(vec![wrong_count(batch.items.len())]));
    }
    let mut out = Vec::with_capacity(body.len() * 3);
    let mut counts = Counts::default();
    out.extend_from_slice(b"{\"items\":[");
    for (index, text) in batch.items.iter().enumerate() {
        if stop.check().is_err() {
            return Err(hung_up());
        }
        if index > 0 {
            out.push(b',');
        }
        item::answer(entry, stop, index as u64 + 1, text.get().as_bytes(), &mut out, &mut counts);
        held.grow(body.len() + out.len())?;
    }
    out.extend_from_slice(b"],\"summary\":{");
    counts.write(&mut out);
    out.extend_from_slice(b"}}");
    Ok((out, held))
}

fn wrong_count(count: usize) -> FieldError {
    fault("#/items", "wrong_length", format!("must have 1 to {MOST_ITEMS} entries; got {count}."))
}

fn shape() -> Shape {
    let items = Shape::List { item: Box::new(Shape::Anything), most: MOST_ITEMS };
    Shape::Object(vec![Field { name: "items".to_owned(), required: true, shape: items, description: String::new() }])
}
