//! The last answers of long calculations to queries. A sheet asks for each result by itself, most offices twice (HEAD, then GET):
//! twenty cells would compute the same forty times. Calculations are pure, so an answer never grows stale.

use std::collections::VecDeque;
use std::sync::Mutex;

/// A few answers, bounded in number and size.
pub(crate) struct Recent {
    answers: Mutex<VecDeque<(String, Vec<u8>)>>,
}

const MOST: usize = 32;
const LARGEST: usize = 128 * 1024;

impl Recent {
    pub(crate) const fn new() -> Self {
        Self { answers: Mutex::new(VecDeque::new()) }
    }

    /// What a request over a path and its pairs is known by.
    pub(crate) fn key(path: &str, pairs: &[(String, String)]) -> String {
        let pair = |(name, text): &(String, String)| format!("\n{}\t{}", name.escape_debug(), text.escape_debug());
        path.chars().chain(pairs.iter().flat_map(|entry| pair(entry).chars().collect::<Vec<_>>())).collect()
    }

    pub(crate) fn find(&self, key: &str) -> Option<Vec<u8>> {
        let answers = self.answers.lock().ok()?;
        answers.iter().find(|(known, _)| known == key).map(|(_, answer)| answer.clone())
    }

    pub(crate) fn keep(&self, key: String, answer: &[u8]) {
        if answer.len() + key.len() > LARGEST {
            return;
        }
        // A lock that a panic has spoilt only costs the memory of this answer.
        if let Ok(mut answers) = self.answers.lock() {
            answers.retain(|(known, _)| *known != key);
            answers.push_back((key, answer.to_vec()));
            if answers.len() > MOST {
                answers.pop_front();
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_oldest_answer_goes_first_and_large_ones_are_not_kept() {
        let recent = Recent::new();
        for number in 0..=MOST {
            recent.keep(number.to_string(), b"answer");
        }
        assert_eq!((recent.find("0"), recent.find("1")), (None, Some(b"answer".to_vec())));
        recent.keep("large".to_owned(), &vec![0; LARGEST]);
        assert_eq!(recent.find("large"), None);
        recent.keep("1".to_owned(), b"again");
        assert_eq!(recent.find("1"), Some(b"again".to_vec()));
    }

    #[test]
    fn keys_of_different_requests_differ() {
        let pairs = |pairs: &[(&str, &str)]| {
            pairs.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect::<Vec<_>>()
        };
        let one = Recent::key("/a", &pairs(&[("b", "c\nd\te")]));
        let other = Recent::key("/a", &pairs(&[("b", "c"), ("d", "e")]));
        assert_ne!(one, other);
    }
}
