//! JSON read into a type, `null` refused: serde would take it for an absent optional field, and nobody knows what a caller
//! meant by it. The refusal costs nothing: the wrapper only looks where serde asks for an optional value.

use serde::Deserialize;
use serde::de::{DeserializeSeed, Deserializer, EnumAccess, Error, MapAccess, SeqAccess, Visitor};
use serde_json::de::StrRead;

/// Reads a whole document.
pub(crate) fn from_slice<'a, T: Deserialize<'a>>(text: &'a [u8]) -> Result<T, serde_json::Error> {
    // Looked at once as a whole, its strings need not be one by one.
    if let Ok(text) = std::str::from_utf8(text) {
        return read(serde_json::Deserializer::from_str(text));
    }
    Err(serde_json::Error::custom("not text in UTF-8"))
}

fn read<'a, T: Deserialize<'a>>(mut reader: serde_json::Deserializer<StrRead<'a>>) -> Result<T, serde_json::Error> {
    let value = T::deserialize(NoNull(&mut reader))?;
    reader.end()?;
    Ok(value)
}

/// A reader, or what it calls back, that lets no `null` pass.
struct NoNull<T>(T);

macro_rules! wrapped {
    ($($name:ident($($argument:ident: $type:ty),*);)+) => {$(
        fn $name<V: Visitor<'de>>(self, $($argument: $type,)* visitor: V) -> Result<V::Value, D::Error> {
            self.0.$name($($argument,)* NoNull(visitor))
        }
    )+};
}

impl<'de, D: Deserializer<'de>> Deserializer<'de> for NoNull<D> {
    type Error = D::Error;

    wrapped! {
        deserialize_any();
        deserialize_bool();
        deserialize_i8();
        deserialize_i16();
        deserialize_i32();
        deserialize_i64();
        deserialize_u8();
        deserialize_u16();
        deserialize_u32();
        deserialize_u64();
        deserialize_f32();
        deserialize_f64();
        deserialize_char();
        deserialize_str();
        deserialize_string();
        deserialize_bytes();
        deserialize_byte_buf();
        deserialize_option();
        deserialize_unit();
        deserialize_unit_struct(name: &'static str);
        deserialize_newtype_struct(name: &'static str);
        deserialize_seq();
        deserialize_tuple(length: usize);
        deserialize_tuple_struct(name: &'static str, length: usize);
        deserialize_map();
        deserialize_struct(name: &'static str, fields: &'static [&'static str]);
        deserialize_enum(name: &'static str, variants: &'static [&'static str]);
        deserialize_identifier();
        deserialize_ignored_any();
    }
}

impl<'de, V: Visitor<'de>> Visitor<'de> for NoNull<V> {
    type Value = V::Value;

    fn expecting(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.expecting(formatter)
    }

    fn visit_none<E: Error>(self) -> Result<V::Value, E> {
        Err(E::custom("null"))
    }

    fn visit_unit<E: Error>(self) -> Result<V::Value, E> {
        Err(E::custom("null"))
    }

    fn visit_some<D: Deserializer<'de>>(self, inner: D) -> Result<V::Value, D::Error> {
        self.0.visit_some(NoNull(inner))
    }

    fn visit_newtype_struct<D: Deserializer<'de>>(self, inner: D) -> Result<V::Value, D::Error> {
        self.0.visit_newtype_struct(NoNull(inner))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, sequence: A) -> Result<V::Value, A::Error> {
        self.0.visit_seq(NoNull(sequence))
    }

    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<V::Value, A::Error> {
        self.0.visit_map(NoNull(map))
    }

    fn visit_enum<A: EnumAccess<'de>>(self, choice: A) -> Result<V::Value, A::Error> {
        self.0.visit_enum(choice)
    }

    fn visit_bool<E: Error>(self, value: bool) -> Result<V::Value, E> {
        self.0.visit_bool(value)
    }

    fn visit_i64<E: Error>(self, value: i64) -> Result<V::Value, E> {
        self.0.visit_i64(value)
    }

    fn visit_u64<E: Error>(self, value: u64) -> Result<V::Value, E> {
        self.0.visit_u64(value)
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<V::Value, E> {
        self.0.visit_f64(value)
    }

    fn visit_str<E: Error>(self, value: &str) -> Result<V::Value, E> {
        self.0.visit_str(value)
    }

    fn visit_borrowed_str<E: Error>(self, value: &'de str) -> Result<V::Value, E> {
        self.0.visit_borrowed_str(value)
    }

    fn visit_string<E: Error>(self, value: String) -> Result<V::Value, E> {
        self.0.visit_string(value)
    }
}

impl<'de, A: MapAccess<'de>> MapAccess<'de> for NoNull<A> {
    type Error = A::Error;

    fn next_key_seed<K: DeserializeSeed<'de>>(&mut self, seed: K) -> Result<Option<K::Value>, A::Error> {
        self.0.next_key_seed(seed)
    }

    fn next_value_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<S::Value, A::Error> {
        self.0.next_value_seed(NoNull(seed))
    }

    fn size_hint(&self) -> Option<usize> {
        self.0.size_hint()
    }
}

impl<'de, A: SeqAccess<'de>> SeqAccess<'de> for NoNull<A> {
    type Error = A::Error;

    fn next_element_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<Option<S::Value>, A::Error> {
        self.0.next_element_seed(NoNull(seed))
    }

    fn size_hint(&self) -> Option<usize> {
        self.0.size_hint()
    }
}

impl<'de, S: DeserializeSeed<'de>> DeserializeSeed<'de> for NoNull<S> {
    type Value = S::Value;

    fn deserialize<D: Deserializer<'de>>(self, inner: D) -> Result<S::Value, D::Error> {
        self.0.deserialize(NoNull(inner))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Outer {
        text: Option<String>,
        inner: Option<Inner>,
        numbers: Option<Vec<f64>>,
    }

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Inner {
        number: Option<f64>,
    }

    #[test]
    fn a_null_is_refused_at_every_depth_and_the_word_is_not() {
        for text in
            ["{\"text\":null}", "{\"inner\":{\"number\":null}}", "{\"inner\":null}", "{\"numbers\":[1,null]}", "null"]
        {
            assert!(from_slice::<Outer>(text.as_bytes()).is_err(), "{text}");
        }
        let read: Outer =
            from_slice(br#"{"text":"null","inner":{"number":1.5},"numbers":[2]}"#).expect("nothing here is null");
        assert_eq!(read.text.as_deref(), Some("null"));
        assert_eq!(read.inner.and_then(|inner| inner.number), Some(1.5));
        assert_eq!(read.numbers, Some(vec![2.0]));
        assert!(from_slice::<Outer>(b"{} {}").is_err());
    }
}
