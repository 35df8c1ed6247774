//! Proof that a table of keys and the structs it is read into agree, key by key.
//!
//! The structs' own deserialisers are asked what they want; nothing is listed a second time.

use std::cell::RefCell;
use std::collections::BTreeMap;

use serde::Deserialize;
use serde::de::value::{Error, StrDeserializer};
use serde::de::{DeserializeSeed, Deserializer, IntoDeserializer, MapAccess, SeqAccess, Visitor};
use serde::forward_to_deserialize_any;

use super::{JOB, Key, Kind};

type Wants = RefCell<BTreeMap<String, String>>;

/// A deserialiser that writes down what is asked of it at each path.
struct Probe<'a> {
    path: String,
    list: &'static str,
    wants: &'a Wants,
}

impl Probe<'_> {
    fn note(&self, kind: &str) {
        self.wants.borrow_mut().insert(self.path.clone(), format!("{}{kind}", self.list));
    }
}

impl<'de> Deserializer<'de> for Probe<'_> {
    type Error = Error;

    fn deserialize_any<V: Visitor<'de>>(self, _: V) -> Result<V::Value, Error> {
        panic!("{}: a kind that this proof does not know", self.path)
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_some(self)
    }

    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        self.note("flag");
        visitor.visit_bool(true)
    }

    fn deserialize_f64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        self.note("number");
        visitor.visit_f64(1.0)
    }

    fn deserialize_i16<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        self.note("whole");
        visitor.visit_i16(1)
    }

    fn deserialize_u8<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        self.note("whole");
        visitor.visit_u8(1)
    }

    fn deserialize_u16<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        self.note("whole");
        visitor.visit_u16(1)
    }

    fn deserialize_i32<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        self.note("whole");
        visitor.visit_i32(1)
    }

    fn deserialize_str<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        self.note("text");
        visitor.visit_str("2026-11-03")
    }

    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        self.deserialize_str(visitor)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        self.note(&variants.join(" "));
        let first: StrDeserializer<'_, Error> = variants[0].into_deserializer();
        visitor.visit_enum(first)
    }

    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_seq(One(Some(Probe { list: "list of ", ..self })))
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        self.note("table");
        visitor.visit_map(Fields { probe: self, fields: fields.iter() })
    }

    forward_to_deserialize_any! {
        i8 i64 i128 u32 u64 u128 f32 char bytes byte_buf unit unit_struct newtype_struct
        tuple tuple_struct map identifier ignored_any
    }
}

struct One<'a>(Option<Probe<'a>>);

impl<'de> SeqAccess<'de> for One<'_> {
    type Error = Error;

    fn next_element_seed<T: DeserializeSeed<'de>>(
        &mut self,
        seed: T,
    ) -> Result<Option<T::Value>, Error> {
        self.0.take().map(|probe| seed.deserialize(probe)).transpose()
    }
}

struct Fields<'a> {
    probe: Probe<'a>,
    fields: std::slice::Iter<'static, &'static str>,
}

impl<'de> MapAccess<'de> for Fields<'_> {
    type Error = Error;

    fn next_key_seed<K: DeserializeSeed<'de>>(
        &mut self,
        seed: K,
    ) -> Result<Option<K::Value>, Error> {
        let Some(field) = self.fields.as_slice().first() else { return Ok(None) };
        let name: StrDeserializer<'_, Error> = field.into_deserializer();
        seed.deserialize(name).map(Some)
    }

    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, Error> {
        let field = self.fields.next().expect("a key was asked for before its value");
        let table = &self.probe.path;
        let path = if table.is_empty() { (*field).to_owned() } else { format!("{table}.{field}") };
        seed.deserialize(Probe { path, list: "", wants: self.probe.wants })
    }
}

/// What a type's deserialiser wants at each path.
fn wants<T: for<'de> Deserialize<'de>>() -> BTreeMap<String, String> {
    let wants = Wants::default();
    T::deserialize(Probe { path: String::new(), list: "", wants: &wants })
        .expect("the probe gives each field what it asks for");
    let mut wants = wants.into_inner();
    wants.remove("");
    wants
}

/// What a table of keys gives at each path, in the same words.
fn gives(keys: &[Key]) -> BTreeMap<String, String> {
    let kind = |key: &Key| match key.kind {
        Kind::Table => "table".to_owned(),
        Kind::Tables => "list of table".to_owned(),
        Kind::Text | Kind::Date => "text".to_owned(),
        Kind::Texts => "list of text".to_owned(),
        Kind::Choice(choices) => choices().join(" "),
        Kind::Choices(choices) => format!("list of {}", choices().join(" ")),
        Kind::Flag => "flag".to_owned(),
        Kind::Number(_) | Kind::OneOf(_) => "number".to_owned(),
        Kind::Whole(_) => "whole".to_owned(),
        Kind::Numbers(_) => "list of number".to_owned(),
    };
    keys.iter().map(|key| (key.path.to_owned(), kind(key))).collect()
}

#[test]
fn the_table_and_the_structs_agree_both_ways() {
    assert_eq!(wants::<crate::job::Job>(), gives(JOB));
}

#[test]
fn names_end_in_their_unit_and_tables_are_keys_too() {
    for key in JOB {
        let ends = key.unit.is_empty() || key.leaf().ends_with(&format!("_{}", key.unit));
        assert!(ends, "{} does not end in {}", key.path, key.unit);
        assert!(
            key.table().is_empty() || JOB.iter().any(|table| table.path == key.table()),
            "{} stands in no table",
            key.path
        );
    }
}
