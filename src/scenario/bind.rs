//! Keys and the fields that they fill: stated once, in a line of the table, from which reading and echo follow.

use super::key::{Key, Number, Section};
use super::keys;
use super::reader::{Reader, number_spec, tidy};
use crate::inputs::{Bounce, Conduction, EdgeStroke, PrintCount};
use crate::units::StandardFlow;
use crate::words::Words;
use serde_json::{Map, Value as Json, json};

/// A section of the file and what it fills:
///
/// ```text
/// module: Type;                           or `Type::Variant`; then what else is needed:
///     with field: Type, ...;              fields that no key fills
///     after name: Type;                   a value from elsewhere that defaults follow from
///     "name", "help";
///     KEY => field;                       the key's value is the field
///     KEY => field or value;              the same; `value` if it is left out: an earlier field, or what `after` names
///     KEY;                                build.rs and echo.rs say what it means
/// ```
///
/// Makes `module::TABLE`, `module::read` and `module::write`. Where there are fields that no key fills, `read` reads the keys and gives a
/// function that takes these fields and makes the value.
macro_rules! section {
    (
        $(#[$doc:meta])*
        $module:ident: $Type:ident $(:: $Variant:ident)?;
        $(with $($given:ident: $Given:ty),+;)?
        $(after $known:ident: $Known:ty;)?
        $name:literal, $help:literal;
        $($key:expr $(=> $field:ident $(or $other:expr)?)?;)+
    ) => {
        $(#[$doc])*
        pub mod $module {
            use super::*;

            pub const TABLE: Section = Section { name: $name, help: $help, keys: &[$($key),+] };

            pub fn read(section: &Reader<'_> $(, $known: $Known)?) -> section!(@read $Type $($($Given),+)?) {
                $($(let $field = section!(@value section, $key $(, $other)?);)?)+
                section!(@make { $Type $(:: $Variant)? { $($($field,)?)+ $($($given,)+)? } } $($($given)+)?)
            }

            // The sizes of a powder are echoed as percentiles.
            #[allow(dead_code)]
            pub fn write(value: &$Type) -> Out {
                match value {
                    $Type $(:: $Variant)? { $($($field,)?)+ $($($given: _,)+)? } => {
                        Out::new(&TABLE) $($(.put($key.name, $field))?)+
                    }
                    #[allow(unreachable_patterns)]
                    _ => unreachable!("who writes it has looked at its kind"),
                }
            }
        }
    };
    (@read $Type:ident) => { $Type };
    (@read $Type:ident $($Given:ty),+) => { impl FnOnce($($Given),+) -> $Type };
    (@make { $($made:tt)+ }) => { $($made)+ };
    (@make { $($made:tt)+ } $($given:ident)+) => { move |$($given),+| $($made)+ };
    (@value $section:ident, $key:expr) => { $section.get($key.name) };
    (@value $section:ident, $key:expr, $other:expr) => { $section.get_or($key.name, $other) };
}

pub(super) use section;

/// A value that a key can hold.
pub trait Value: Sized {
    /// What the file says or the table's default; a stand-in for a faulty or missing one.
    fn read(section: &Reader<'_>, name: &str) -> Self;

    /// As it is written in the file, in the key's unit; `None`: not at all.
    fn written(&self, key: &Key) -> Option<Json>;
}

impl Reader<'_> {
    /// The value of a key.
    pub fn get<T: Value>(&self, name: &str) -> T {
        T::read(self, name)
    }

    /// The value of a key, or what it follows from if the file leaves it out.
    pub fn get_or<T: Value>(&self, name: &str, other: T) -> T {
        if self.has(name) {
            return T::read(self, name);
        }
        self.assume_followed(name, |key| other.written(key).and_then(|written| written.as_f64()).unwrap_or(f64::NAN));
        other
    }
}

fn in_unit(key: &Key, si: f64) -> f64 {
    let Number { unit, .. } = number_spec(key).expect("the table says that it is a number");
    tidy(unit.from_si(si))
}

impl Value for f64 {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        section.number(name)
    }

    fn written(&self, key: &Key) -> Option<Json> {
        Some(json!(in_unit(key, *self)))
    }
}

impl Value for Option<f64> {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        section.optional(name)
    }

    fn written(&self, key: &Key) -> Option<Json> {
        self.as_ref().and_then(|si| si.written(key))
    }
}

impl Value for Option<Bounce> {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        section.optional_table(name).map(|bounce| keys::bounce::read(&bounce))
    }

    fn written(&self, _: &Key) -> Option<Json> {
        self.as_ref().map(|bounce| keys::bounce::write(bounce).done())
    }
}

impl Value for StandardFlow {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        Self(section.number(name))
    }

    fn written(&self, key: &Key) -> Option<Json> {
        self.0.written(key)
    }
}

impl Value for Vec<f64> {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        section.numbers(name)
    }

    fn written(&self, key: &Key) -> Option<Json> {
        Some(self.iter().map(|si| in_unit(key, *si)).collect())
    }
}

impl Value for [f64; 2] {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        section.point(name)
    }

    fn written(&self, key: &Key) -> Option<Json> {
        Some(json!(self.map(|si| in_unit(key, si))))
    }
}

impl Value for Vec<[f64; 2]> {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        section.points(name)
    }

    fn written(&self, key: &Key) -> Option<Json> {
        Some(self.iter().filter_map(|point| point.written(key)).collect())
    }
}

impl Value for u64 {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        section.integer(name).unwrap_or(1)
    }

    fn written(&self, _: &Key) -> Option<Json> {
        Some(json!(self))
    }
}

impl Value for u32 {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        section.integer(name).unwrap_or(1) as u32
    }

    fn written(&self, _: &Key) -> Option<Json> {
        Some(json!(self))
    }
}

impl Value for PrintCount {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        section.integer(name).map_or(Self::Automatic, |n| Self::Fixed(n as u32))
    }

    fn written(&self, _: &Key) -> Option<Json> {
        Some(match self {
            Self::Automatic => json!("auto"),
            Self::Fixed(n) => json!(n),
        })
    }
}

impl Value for String {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        section.text(name)
    }

    fn written(&self, _: &Key) -> Option<Json> {
        Some(json!(self))
    }
}

impl Value for Option<String> {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        section.has(name).then(|| section.text(name))
    }

    fn written(&self, _: &Key) -> Option<Json> {
        self.as_ref().map(|text| json!(text))
    }
}

impl Value for bool {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        section.flag(name)
    }

    fn written(&self, _: &Key) -> Option<Json> {
        Some(json!(self))
    }
}

impl Value for Conduction {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        if section.flag(name) { Self::Conducting } else { Self::Insulating }
    }

    fn written(&self, _: &Key) -> Option<Json> {
        Some(json!(*self == Self::Conducting))
    }
}

impl Value for EdgeStroke {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        if section.flag(name) { Self::Along } else { Self::Without }
    }

    fn written(&self, _: &Key) -> Option<Json> {
        Some(json!(*self == Self::Along))
    }
}

impl<T: Words> Value for T {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        section.choice(name)
    }

    fn written(&self, _: &Key) -> Option<Json> {
        let place = T::ALL.iter().position(|value| value == self);
        place.map(|place| json!(T::WORDS[place]))
    }
}

impl<T: Words> Value for Option<T> {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        section.has(name).then(|| section.choice(name))
    }

    fn written(&self, key: &Key) -> Option<Json> {
        self.as_ref().and_then(|value| value.written(key))
    }
}

impl<T: Words> Value for Vec<T> {
    fn read(section: &Reader<'_>, name: &str) -> Self {
        section.choices(name)
    }

    fn written(&self, key: &Key) -> Option<Json> {
        Some(self.iter().filter_map(|value| value.written(key)).collect())
    }
}

/// A section of the JSON under construction: SI goes in, the unit of the key comes out.
pub struct Out {
    spec: &'static Section,
    map: Map<String, Json>,
}

impl Out {
    /// An empty one.
    pub fn new(spec: &'static Section) -> Self {
        Self { spec, map: Map::new() }
    }

    /// Adds a key of the table.
    pub fn put<T: Value>(mut self, name: &str, value: &T) -> Self {
        let key = self.spec.key(name).expect("the echo writes only keys of the table");
        if let Some(written) = value.written(key) {
            self.map.insert(name.to_owned(), written);
        }
        self
    }

    /// Adds what is already as it is to be written: sections, and values that follow from others.
    pub fn add(mut self, name: &str, value: impl Into<Json>) -> Self {
        self.map.insert(name.to_owned(), value.into());
        self
    }

    /// Adds the kind of a shape.
    pub fn kind(self) -> Self {
        let kind = self.spec.name;
        self.add("kind", kind)
    }

    /// Adds what another holds.
    pub fn and(mut self, other: Self) -> Self {
        self.map.extend(other.map);
        self
    }

    /// The section.
    pub fn done(self) -> Json {
        Json::Object(self.map)
    }
}
