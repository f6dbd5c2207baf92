//! Forms of a calculation without a server: text in, text out. HTTP adds headers, clocks and limits to the same parts.

use calc_core::stop::Stop;
use serde_json::Value;

use crate::bulk::table;
use crate::calculation::{Entry, internal};
use crate::memory::Held;
use crate::problem::Problem;
use crate::{query, value};

impl Entry {
    /// The JSON answer to a query string.
    ///
    /// # Errors
    /// The problem to send instead.
    pub fn answer_query(&self, query: &str, stop: &Stop) -> Result<Vec<u8>, Problem> {
        self.answer_pairs(&query::pairs(query), stop)
    }

    /// The same to the pairs of a query.
    pub(crate) fn answer_pairs(&self, pairs: &[(String, String)], stop: &Stop) -> Result<Vec<u8>, Problem> {
        let request = query::request(self.shape()?, pairs)?;
        self.answer_value(&request, stop).map_err(Problem::in_query)
    }

    /// The bare results that a query names.
    ///
    /// # Errors
    /// The problem to send instead.
    pub fn answer_cell(&self, query: &str, stop: &Stop) -> Result<String, Problem> {
        let mut pairs = query::pairs(query);
        let controls = value::controls(&mut pairs);
        controls.check()?;
        let answer = self.answer_pairs(&pairs, stop)?;
        let answer: Value = serde_json::from_slice(&answer).map_err(|error| internal(&error.to_string()))?;
        value::text(self, &answer, &controls.fields)
    }

    /// The answer to a CSV table; the query counts for every row.
    ///
    /// # Errors
    /// The problem to send instead, when the table as a whole is refused.
    pub fn answer_table(&'static self, query: &str, body: &[u8], stop: &Stop) -> Result<Vec<u8>, Problem> {
        table::whole(self, query, body, Held::default(), stop).map(|(answer, _)| answer)
    }
}
