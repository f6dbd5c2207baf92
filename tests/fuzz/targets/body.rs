//! The reader of JSON bodies.

#![no_main]

use libfuzzer_sys::{Corpus, fuzz_target};

fuzz_target!(|input: &[u8]| -> Corpus {
    let Some((entry, body)) = fuzz::calculation(input) else { return Corpus::Reject };
    let outcome = entry.answer_while_wanted(body, &fuzz::patience(entry));
    fuzz::check(entry, &outcome);
    Corpus::Keep
});
