//! The reader of queries, in both forms that have one.

#![no_main]

use libfuzzer_sys::{Corpus, fuzz_target};

fuzz_target!(|input: &[u8]| -> Corpus {
    let Some((entry, query)) = fuzz::calculation(input) else { return Corpus::Reject };
    let Ok(query) = std::str::from_utf8(query) else { return Corpus::Reject };
    if !entry.has_query {
        return Corpus::Reject;
    }
    fuzz::check(entry, &entry.answer_query(query, &fuzz::patience(entry)));
    match entry.answer_cell(query, &fuzz::patience(entry)) {
        Ok(cell) => {
            let wrong = cell.split(',').any(|number| matches!(number, "NaN" | "inf" | "-inf" | "null"));
            assert!(!wrong, "{}: {cell}", entry.path);
        }
        Err(problem) => fuzz::check_problem(entry, &problem),
    }
    Corpus::Keep
});
