//! An answer written straight into the cells of its row, as serde walks through it: no answer is built in between.

use std::fmt::Display;

use serde::de::value::Error;
use serde::ser::{Error as _, Impossible, Serialize, SerializeSeq, SerializeStruct, Serializer};
use serde_json::ser::{CompactFormatter, Formatter};

use super::header::Results;
use super::text::{harmless, write_cell};

/// The row that is being written.
pub(crate) struct Cells<'a> {
    pub(super) out: &'a mut Vec<u8>,
    /// The codes of the answer's cautions.
    pub(super) codes: &'a mut String,
    pub(super) delimiter: u8,
    pub(super) decimal_comma: bool,
    /// Result columns written so far.
    pub(super) written: usize,
}

impl Cells<'_> {
    /// Writes the results of an answer.
    ///
    /// # Errors
    /// When a result is not finite, or the answer's fields have another order than its schema.
    pub(crate) fn write(&mut self, answer: &impl Serialize, results: &Results) -> Result<(), Error> {
        answer.serialize(Place { cells: self, at: At::Result(results) })
    }

    /// Begins the cell of a column; those before it that have no value stay empty.
    fn begin(&mut self, column: usize) -> Result<(), Error> {
        if column < self.written {
            return Err(Error::custom("the fields of an answer are not in the order of its schema"));
        }
        if self.written < column {
            self.fill(column);
        }
        self.out.push(self.delimiter);
        self.written = column + 1;
        Ok(())
    }

    /// Begins cells until there are as many. Few are left out, so this stays out of the way of the others.
    #[inline(never)]
    pub(super) fn fill(&mut self, count: usize) {
        self.out.resize(self.out.len() + count - self.written, self.delimiter);
        self.written = count;
    }

    fn number(&mut self, value: f64) -> Result<(), Error> {
        if !value.is_finite() {
            return Err(Error::custom("a result is not a finite number"));
        }
        let start = self.out.len();
        // The digits are those of the JSON forms.
        CompactFormatter.write_f64(&mut *self.out, value).map_err(Error::custom)?;
        if self.decimal_comma {
            self.out[start..].iter_mut().filter(|byte| **byte == b'.').for_each(|byte| *byte = b',');
        }
        Ok(())
    }
}

/// What a value in the answer is to the row.
#[derive(Clone, Copy)]
enum At<'a> {
    /// A result, or an object that holds some.
    Result(&'a Results),
    /// The list of cautions, or one of them.
    Cautions,
    /// The code of a caution.
    Code,
}

/// A place in the answer.
struct Place<'a, 'b, 'c> {
    cells: &'a mut Cells<'b>,
    at: At<'c>,
}

impl<'a, 'b, 'c> Place<'a, 'b, 'c> {
    /// Begins the cell of the value; there is none for what is no result.
    fn cell(self) -> Result<Option<&'a mut Cells<'b>>, Error> {
        match self.at {
            At::Result(&Results { column: Some(column), .. }) => self.cells.begin(column).map(|()| Some(self.cells)),
            _ => Ok(None),
        }
    }

    fn parts(self) -> Parts<'a, 'b, 'c> {
        Parts { cells: self.cells, at: self.at, next: 0 }
    }

    /// A text that needs no quotes.
    fn plain(self, text: &str) -> Result<(), Error> {
        if let Some(cells) = self.cell()? {
            cells.out.extend_from_slice(text.as_bytes());
        }
        Ok(())
    }
}

/// The fields of an object, or the entries of a list.
struct Parts<'a, 'b, 'c> {
    cells: &'a mut Cells<'b>,
    at: At<'c>,
    /// Place of the next field.
    next: usize,
}

impl SerializeStruct for Parts<'_, '_, '_> {
    type Ok = ();
    type Error = Error;

    fn serialize_field<T: Serialize + ?Sized>(&mut self, key: &'static str, value: &T) -> Result<(), Error> {
        let place = self.next;
        self.next += 1;
        let at = match self.at {
            At::Result(results) => match results.inner.get(place) {
                Some(inner) if inner.count > 0 => {
                    // Whole names are compared in the test below, over every calculation; here that would be a twentieth of a table's time.
                    debug_assert_eq!(inner.name, key);
                    if inner.name.len() != key.len() {
                        return Err(Error::custom("the fields of an answer are not those of its schema"));
                    }
                    At::Result(inner)
                }
                _ if key == "cautions" => At::Cautions,
                _ => return Ok(()),
            },
            At::Cautions if key == "code" => At::Code,
            At::Cautions | At::Code => return Ok(()),
        };
        value.serialize(Place { cells: self.cells, at })
    }

    /// What is left out has its place all the same.
    fn skip_field(&mut self, _: &'static str) -> Result<(), Error> {
        self.next += 1;
        Ok(())
    }

    fn end(self) -> Result<(), Error> {
        Ok(())
    }
}

impl SerializeSeq for Parts<'_, '_, '_> {
    type Ok = ();
    type Error = Error;

    fn serialize_element<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), Error> {
        match self.at {
            At::Cautions => value.serialize(Place { cells: self.cells, at: At::Cautions }),
            // Other lists have no place in a row.
            At::Result(_) | At::Code => Ok(()),
        }
    }

    fn end(self) -> Result<(), Error> {
        Ok(())
    }
}

macro_rules! whole_numbers {
    ($($name:ident: $type:ty),+) => {$(
        fn $name(self, value: $type) -> Result<(), Error> {
            self.plain(itoa::Buffer::new().format(value))
        }
    )+};
}

impl<'a, 'b, 'c> Serializer for Place<'a, 'b, 'c> {
    type Ok = ();
    type Error = Error;
    type SerializeSeq = Parts<'a, 'b, 'c>;
    type SerializeTuple = Impossible<(), Error>;
    type SerializeTupleStruct = Impossible<(), Error>;
    type SerializeTupleVariant = Impossible<(), Error>;
    type SerializeMap = Impossible<(), Error>;
    type SerializeStruct = Parts<'a, 'b, 'c>;
    type SerializeStructVariant = Impossible<(), Error>;

    whole_numbers! {
        serialize_i8: i8, serialize_i16: i16, serialize_i32: i32, serialize_i64: i64,
        serialize_u8: u8, serialize_u16: u16, serialize_u32: u32, serialize_u64: u64
    }

    fn serialize_f64(self, value: f64) -> Result<(), Error> {
        self.cell()?.map_or(Ok(()), |cells| cells.number(value))
    }

    fn serialize_f32(self, value: f32) -> Result<(), Error> {
        self.serialize_f64(value.into())
    }

    fn serialize_bool(self, value: bool) -> Result<(), Error> {
        self.plain(if value { "true" } else { "false" })
    }

    fn serialize_char(self, value: char) -> Result<(), Error> {
        self.serialize_str(value.encode_utf8(&mut [0; 4]))
    }

    fn serialize_str(self, text: &str) -> Result<(), Error> {
        if matches!(self.at, At::Code) {
            let codes = &mut *self.cells.codes;
            codes.push_str(if codes.is_empty() { "" } else { " " });
            codes.push_str(text);
        } else if let Some(cells) = self.cell()? {
            write_cell(cells.out, &harmless(text), cells.delimiter);
        }
        Ok(())
    }

    fn serialize_unit_variant(self, _: &'static str, _: u32, variant: &'static str) -> Result<(), Error> {
        self.serialize_str(variant)
    }

    fn serialize_none(self) -> Result<(), Error> {
        Ok(())
    }

    fn serialize_unit(self) -> Result<(), Error> {
        Ok(())
    }

    fn serialize_unit_struct(self, _: &'static str) -> Result<(), Error> {
        Ok(())
    }

    fn serialize_some<T: Serialize + ?Sized>(self, value: &T) -> Result<(), Error> {
        value.serialize(self)
    }

    fn serialize_newtype_struct<T: Serialize + ?Sized>(self, _: &'static str, value: &T) -> Result<(), Error> {
        value.serialize(self)
    }

    fn serialize_seq(self, _: Option<usize>) -> Result<Parts<'a, 'b, 'c>, Error> {
        Ok(self.parts())
    }

    fn serialize_struct(self, _: &'static str, _: usize) -> Result<Parts<'a, 'b, 'c>, Error> {
        Ok(self.parts())
    }

    fn collect_str<T: Display + ?Sized>(self, value: &T) -> Result<(), Error> {
        self.serialize_str(&value.to_string())
    }

    fn serialize_bytes(self, _: &[u8]) -> Result<(), Error> {
        Err(no_wire_type())
    }

    fn serialize_tuple(self, _: usize) -> Result<Self::SerializeTuple, Error> {
        Err(no_wire_type())
    }

    fn serialize_tuple_struct(self, _: &'static str, _: usize) -> Result<Self::SerializeTupleStruct, Error> {
        Err(no_wire_type())
    }

    fn serialize_map(self, _: Option<usize>) -> Result<Self::SerializeMap, Error> {
        Err(no_wire_type())
    }

    fn serialize_newtype_variant<T: Serialize + ?Sized>(
        self,
        _: &'static str,
        _: u32,
        _: &'static str,
        _: &T,
    ) -> Result<(), Error> {
        Err(no_wire_type())
    }

    fn serialize_tuple_variant(
        self,
        _: &'static str,
        _: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Self::SerializeTupleVariant, Error> {
        Err(no_wire_type())
    }

    fn serialize_struct_variant(
        self,
        _: &'static str,
        _: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Self::SerializeStructVariant, Error> {
        Err(no_wire_type())
    }
}

/// Tuples, maps and variants with contents do not travel.
fn no_wire_type() -> Error {
    Error::custom("an answer holds a type that does not travel")
}

#[cfg(test)]
mod tests {
    use calc_core::stop::Stop;
    use serde_json::Value;

    use super::super::whole;
    use crate::memory::Held;
    use crate::openapi;
    use crate::routes::CALCULATIONS;

    /// The cells that a request fills: single values, and lists of them.
    fn cells(value: &Value, name: &str, found: &mut Vec<(String, String)>) {
        let text = |value: &Value| value.as_str().map_or_else(|| value.to_string(), str::to_owned);
        match value {
            Value::Object(fields) => {
                let inner = |key: &String| if name.is_empty() { key.clone() } else { format!("{name}.{key}") };
                fields.iter().for_each(|(key, value)| cells(value, &inner(key), found));
            }
            Value::Array(items) => found.push((name.to_owned(), items.iter().map(text).collect::<Vec<_>>().join(","))),
            single => found.push((name.to_owned(), text(single))),
        }
    }

    /// A row has no place for lists of objects.
    fn remove_lists_of_objects(value: &mut Value) {
        if let Value::Object(fields) = value {
            fields.retain(|_, value| !value.as_array().is_some_and(|items| items.iter().any(Value::is_object)));
            fields.values_mut().for_each(remove_lists_of_objects);
        }
    }

    #[test]
    fn every_result_of_every_calculation_stands_in_its_own_column() {
        let mut compared = 0;
        for entry in CALCULATIONS.iter().filter(|entry| entry.has_query) {
            let mut given = Vec::new();
            let mut request: Value = serde_json::from_str(entry.example).unwrap();
            remove_lists_of_objects(&mut request);
            cells(&request, "", &mut given);
            let (names, texts): (Vec<_>, Vec<_>) = given.into_iter().unzip();
            let mut table = csv::Writer::from_writer(Vec::new());
            table.write_record(&names).unwrap();
            table.write_record(&texts).unwrap();
            let table = table.into_inner().unwrap();
            let (table, _) = whole(entry, "", &table, Held::default(), &Stop::never()).unwrap();
            let mut rows = csv::Reader::from_reader(table.as_slice());
            let titles = rows.headers().unwrap().clone();
            let row = rows.records().next().unwrap().unwrap();
            assert_eq!(&row[row.len() - 1], "", "{}", entry.path);
            let answer: Value = serde_json::from_slice(&entry.answer(request.to_string().as_bytes()).unwrap()).unwrap();
            for result in openapi::results(entry) {
                let taken = names.contains(&result.name);
                let title = if taken { format!("answer.{}", result.name) } else { result.name.clone() };
                let Some(place) = titles.iter().position(|found| found.split(" [").next() == Some(title.as_str()))
                else {
                    assert!(taken, "{}: {title}", entry.path);
                    continue;
                };
                let wanted = match answer.pointer(&result.pointer) {
                    None => String::new(),
                    Some(Value::String(text)) => text.clone(),
                    Some(value) => value.to_string(),
                };
                assert_eq!(row[place], wanted, "{}: {title}", entry.path);
                compared += usize::from(!wanted.is_empty());
            }
        }
        assert!(compared > 200, "{compared}");
    }
}
