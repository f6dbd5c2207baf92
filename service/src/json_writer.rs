//! Answers written as JSON. The names of fields are identifiers and most texts are plain, so nothing is searched byte by byte
//! for what must be escaped, which is most of what `serde_json` does with an answer. Numbers, and texts that need escapes, are
//! written by `serde_json`; so is, from the start, an answer that holds what this writer does not know.

use serde::de::value::Error;
use serde::ser::{Error as _, Impossible, Serialize, SerializeSeq, SerializeStruct, Serializer};
use serde_json::ser::{CompactFormatter, Formatter};

use crate::scan;

/// Appends a value.
///
/// # Errors
/// When it cannot be written; then nothing is appended.
pub(crate) fn append(out: &mut Vec<u8>, value: &impl Serialize) -> Result<(), serde_json::Error> {
    let before = out.len();
    if value.serialize(Writer(out)).is_ok() {
        return Ok(());
    }
    out.truncate(before);
    serde_json::to_writer(&mut *out, value).inspect_err(|_| out.truncate(before))
}

struct Writer<'a>(&'a mut Vec<u8>);

/// What an object or a list still gets.
struct Parts<'a> {
    out: &'a mut Vec<u8>,
    is_empty: bool,
    close: u8,
}

impl Parts<'_> {
    fn next(&mut self) {
        if !self.is_empty {
            self.out.push(b',');
        }
        self.is_empty = false;
    }

    fn close(self) {
        self.out.push(self.close);
    }
}

impl SerializeStruct for Parts<'_> {
    type Ok = ();
    type Error = Error;

    fn serialize_field<T: Serialize + ?Sized>(&mut self, key: &'static str, value: &T) -> Result<(), Error> {
        self.next();
        self.out.push(b'"');
        self.out.extend_from_slice(key.as_bytes());
        self.out.extend_from_slice(b"\":");
        value.serialize(Writer(self.out))
    }

    fn end(self) -> Result<(), Error> {
        self.close();
        Ok(())
    }
}

impl SerializeSeq for Parts<'_> {
    type Ok = ();
    type Error = Error;

    fn serialize_element<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), Error> {
        self.next();
        value.serialize(Writer(self.out))
    }

    fn end(self) -> Result<(), Error> {
        self.close();
        Ok(())
    }
}

/// Whether a text stands in JSON as it is.
pub(crate) fn is_plain(text: &str) -> bool {
    !scan::has(text.as_bytes(), |byte| (byte < b' ') | (byte == b'"') | (byte == b'\\'))
}

macro_rules! whole_numbers {
    ($($name:ident: $type:ty),+) => {$(
        fn $name(self, value: $type) -> Result<(), Error> {
            self.0.extend_from_slice(itoa::Buffer::new().format(value).as_bytes());
            Ok(())
        }
    )+};
}

impl<'a> Serializer for Writer<'a> {
    type Ok = ();
    type Error = Error;
    type SerializeSeq = Parts<'a>;
    type SerializeTuple = Impossible<(), Error>;
    type SerializeTupleStruct = Impossible<(), Error>;
    type SerializeTupleVariant = Impossible<(), Error>;
    type SerializeMap = Impossible<(), Error>;
    type SerializeStruct = Parts<'a>;
    type SerializeStructVariant = Impossible<(), Error>;

    whole_numbers! {
        serialize_i8: i8, serialize_i16: i16, serialize_i32: i32, serialize_i64: i64,
        serialize_u8: u8, serialize_u16: u16, serialize_u32: u32, serialize_u64: u64
    }

    fn serialize_f64(self, value: f64) -> Result<(), Error> {
        if !value.is_finite() {
            return Err(unknown());
        }
        CompactFormatter.write_f64(self.0, value).map_err(Error::custom)
    }

    fn serialize_bool(self, value: bool) -> Result<(), Error> {
        self.0.extend_from_slice(if value { b"true" } else { b"false" });
        Ok(())
    }

    fn serialize_str(self, text: &str) -> Result<(), Error> {
        if is_plain(text) {
            self.0.push(b'"');
            self.0.extend_from_slice(text.as_bytes());
            self.0.push(b'"');
            return Ok(());
        }
        serde_json::to_writer(self.0, text).map_err(Error::custom)
    }

    fn serialize_unit_variant(self, _: &'static str, _: u32, variant: &'static str) -> Result<(), Error> {
        self.serialize_str(variant)
    }

    fn serialize_some<T: Serialize + ?Sized>(self, value: &T) -> Result<(), Error> {
        value.serialize(self)
    }

    fn serialize_newtype_struct<T: Serialize + ?Sized>(self, _: &'static str, value: &T) -> Result<(), Error> {
        value.serialize(self)
    }

    fn serialize_seq(self, _: Option<usize>) -> Result<Parts<'a>, Error> {
        self.0.push(b'[');
        Ok(Parts { out: self.0, is_empty: true, close: b']' })
    }

    fn serialize_struct(self, name: &'static str, _: usize) -> Result<Parts<'a>, Error> {
        // Names of types are words; what begins otherwise is a sign between serde_json and itself.
        if name.starts_with('$') {
            return Err(unknown());
        }
        self.0.push(b'{');
        Ok(Parts { out: self.0, is_empty: true, close: b'}' })
    }

    fn serialize_f32(self, _: f32) -> Result<(), Error> {
        Err(unknown())
    }

    fn serialize_char(self, _: char) -> Result<(), Error> {
        Err(unknown())
    }

    fn serialize_none(self) -> Result<(), Error> {
        Err(unknown())
    }

    fn serialize_unit(self) -> Result<(), Error> {
        Err(unknown())
    }

    fn serialize_unit_struct(self, _: &'static str) -> Result<(), Error> {
        Err(unknown())
    }

    fn serialize_bytes(self, _: &[u8]) -> Result<(), Error> {
        Err(unknown())
    }

    fn serialize_tuple(self, _: usize) -> Result<Self::SerializeTuple, Error> {
        Err(unknown())
    }

    fn serialize_tuple_struct(self, _: &'static str, _: usize) -> Result<Self::SerializeTupleStruct, Error> {
        Err(unknown())
    }

    fn serialize_map(self, _: Option<usize>) -> Result<Self::SerializeMap, Error> {
        Err(unknown())
    }

    fn serialize_newtype_variant<T: Serialize + ?Sized>(
        self,
        _: &'static str,
        _: u32,
        _: &'static str,
        _: &T,
    ) -> Result<(), Error> {
        Err(unknown())
    }

    fn serialize_tuple_variant(
        self,
        _: &'static str,
        _: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Self::SerializeTupleVariant, Error> {
        Err(unknown())
    }

    fn serialize_struct_variant(
        self,
        _: &'static str,
        _: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Self::SerializeStructVariant, Error> {
        Err(unknown())
    }
}

/// Left to `serde_json`.
#[cold]
fn unknown() -> Error {
    Error::custom("not written here")
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use proptest::prelude::*;
    use serde::Serialize;

    use super::*;

    #[derive(Serialize)]
    #[serde(rename_all = "snake_case")]
    enum Choice {
        OneOfThem,
    }

    #[derive(Serialize)]
    struct Answer {
        text: String,
        number: f64,
        whole: u32,
        flag: bool,
        choice: Choice,
        list: Vec<Option<f64>>,
        nested: Option<Box<Answer>>,
        empty: [u8; 0],
    }

    proptest! {
        #[test]
        fn the_bytes_are_those_of_serde_json(text in any::<String>(), number in any::<f64>(), whole in any::<u32>(), deep in any::<bool>()) {
            let leaf = || Answer {
                text: text.clone(), number, whole, flag: deep, choice: Choice::OneOfThem, list: vec![Some(number); 3], nested: None,
                empty: [],
            };
            let answer = if deep { Answer { nested: Some(Box::new(leaf())), ..leaf() } } else { leaf() };
            let mut out = b"before".to_vec();
            append(&mut out, &answer).expect("it can be written");
            prop_assert_eq!(&out[6..], serde_json::to_vec(&answer).expect("it can be written"));
            // What is known here is not left to serde_json.
            out.clear();
            let list = (text.as_str(), number.is_finite());
            prop_assert_eq!(vec![list.0; 2].serialize(Writer(&mut out)).is_ok(), true);
            prop_assert_eq!(&out, &serde_json::to_vec(&[list.0; 2]).expect("it can be written"));
        }
    }

    #[test]
    fn what_it_does_not_know_is_written_all_the_same() {
        let map: BTreeMap<&str, Option<f64>> = [("a", None), ("b", Some(0.5))].into();
        let mut out = Vec::new();
        append(&mut out, &vec![map]).expect("it can be written");
        assert_eq!(out, b"[{\"a\":null,\"b\":0.5}]");
    }
}
