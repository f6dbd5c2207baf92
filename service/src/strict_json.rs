//! JSON read with its duplicate keys: `serde_json` alone lets the last one win in silence.

use std::fmt;

use serde::de::{DeserializeSeed, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};

/// The document, and a pointer to every key that stands twice.
pub(crate) fn parse(text: &[u8]) -> Result<(Value, Vec<String>), serde_json::Error> {
    let mut duplicates = Vec::new();
    let mut reader = serde_json::Deserializer::from_slice(text);
    let value = Node { pointer: "#".to_owned(), duplicates: &mut duplicates }.deserialize(&mut reader)?;
    reader.end()?;
    Ok((value, duplicates))
}

/// One place in the document.
struct Node<'a> {
    pointer: String,
    duplicates: &'a mut Vec<String>,
}

impl<'de> DeserializeSeed<'de> for Node<'_> {
    type Value = Value;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Value, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Node<'_> {
    type Value = Value;

    fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str("JSON")
    }

    fn visit_unit<E: Error>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E: Error>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_i64<E: Error>(self, value: i64) -> Result<Value, E> {
        Ok(Value::Number(value.into()))
    }

    fn visit_u64<E: Error>(self, value: u64) -> Result<Value, E> {
        Ok(Value::Number(value.into()))
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<Value, E> {
        Number::from_f64(value).map(Value::Number).ok_or_else(|| E::custom("number out of range"))
    }

    fn visit_str<E: Error>(self, value: &str) -> Result<Value, E> {
        Ok(Value::String(value.to_owned()))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut sequence: A) -> Result<Value, A::Error> {
        let mut items = Vec::new();
        loop {
            let pointer = format!("{}/{}", self.pointer, items.len());
            match sequence.next_element_seed(Node { pointer, duplicates: &mut *self.duplicates })? {
                Some(item) => items.push(item),
                None => return Ok(Value::Array(items)),
            }
        }
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Value, A::Error> {
        let mut fields = Map::new();
        while let Some(key) = map.next_key::<String>()? {
            let pointer = format!("{}/{}", self.pointer, escape(&key));
            if fields.contains_key(&key) {
                self.duplicates.push(pointer.clone());
            }
            let value = map.next_value_seed(Node { pointer, duplicates: &mut *self.duplicates })?;
            fields.insert(key, value);
        }
        Ok(Value::Object(fields))
    }
}

/// A key as it stands in a JSON Pointer (RFC 6901, section 3).
pub(crate) fn escape(key: &str) -> String {
    key.replace('~', "~0").replace('/', "~1")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn duplicates_are_found_at_any_depth() {
        let (value, duplicates) = parse(br#"{"a":{"b":1,"b":2},"c":[{"d":1,"d":1}]}"#).unwrap();
        assert_eq!(duplicates, ["#/a/b", "#/c/0/d"]);
        assert_eq!(value["a"]["b"], 2);
    }

    #[test]
    fn endless_numbers_deep_nesting_and_trailing_text_are_refused() {
        for text in ["1e999", "{} {}", "{\"a\":", "\u{7f}", &"[".repeat(100_000)] {
            assert!(parse(text.as_bytes()).is_err(), "{}", &text[..1]);
        }
    }
}
