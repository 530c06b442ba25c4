//! Keys and the fields that they fill: stated once, in a line of the table, from which reading and echo follow.

use super::choices::{DesignWord, Draw, Scale};
use super::key::{Key, Number, Section};
use super::reader::{Reader, number_spec, tidy};
use motefall_physics::inputs::{
    BeadRule, Chance, Conduction, EdgeStroke, FlightModel, LandingMethod, Law, PrintCount, Role, ShutterLead,
    SpreadRule, Turns,
};
use motefall_physics::materials::gas::GasSpecies;
use motefall_physics::materials::hazards::Hazard;
use motefall_physics::materials::sizes::Weighting;
use motefall_physics::units::{LengthUnit, StandardFlow};
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
        pub(crate) mod $module {
            use super::*;

            pub(crate) const TABLE: Section = Section { name: $name, help: $help, keys: &[$($key),+] };

            pub(crate) fn read(section: &Reader<'_> $(, $known: $Known)?) -> section!(@read $Type $($($Given),+)?) {
                $($(let $field = section!(@value section, $key $(, $other)?);)?)+
                section!(@make { $Type $(:: $Variant)? { $($($field,)?)+ $($($given,)+)? } } $($($given)+)?)
            }

            // The sizes of a powder are echoed as percentiles.
            #[allow(dead_code)]
            pub(crate) fn write(value: &$Type) -> Out {
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
pub(crate) trait Value: Sized {
    /// What the file says or the table's default; a stand-in for a faulty or missing one.
    fn read(section: &Reader<'_>, name: &str) -> Self;

    /// As it is written in the file, in the key's unit; `None`: not at all.
    fn written(&self, key: &Key) -> Option<Json>;
}

impl Reader<'_> {
    /// The value of a key.
    pub(crate) fn get<T: Value>(&self, name: &str) -> T {
        T::read(self, name)
    }

    /// The value of a key, or what it follows from if the file leaves it out.
    pub(crate) fn get_or<T: Value>(&self, name: &str, other: T) -> T {
        if self.has(name) {
            return T::read(self, name);
        }
        self.assume_followed(name, |key| other.written(key).and_then(|written| written.as_f64()).unwrap_or(f64::NAN));
        other
    }
}

fn in_unit(key: &Key, si: f64) -> f64 {
    let Number { unit, .. } = number_spec(key).expect("the table says that it is a number");
    tidy(unit.of_si(si))
}

/// How values of a type are read and written.
macro_rules! values {
    ($($Type:ty: |$section:ident, $name:ident| $read:expr, |$value:ident, $key:ident| $written:expr;)+) => {
        $(impl Value for $Type {
            fn read($section: &Reader<'_>, $name: &str) -> Self {
                $read
            }

            fn written(&self, $key: &Key) -> Option<Json> {
                let $value = self;
                $written
            }
        })+
    };
}

values! {
    f64: |section, name| section.number(name), |si, key| Some(json!(in_unit(key, *si)));
    Option<f64>: |section, name| section.optional(name), |si, key| si.as_ref()?.written(key);
    StandardFlow: |section, name| Self(section.number(name)), |flow, key| flow.0.written(key);
    Vec<f64>: |section, name| section.numbers(name), |list, key| Some(list.iter().map(|si| in_unit(key, *si)).collect());
    [f64; 2]: |section, name| section.point(name), |point, key| Some(json!(point.map(|si| in_unit(key, si))));
    Vec<[f64; 2]>: |section, name| section.points(name), |points, key| points.iter().map(|point| point.written(key)).collect();
    u64: |section, name| section.integer(name).unwrap_or(1), |n, _key| Some(json!(n));
    u32: |section, name| section.integer(name).unwrap_or(1) as u32, |n, _key| Some(json!(n));
    PrintCount: |section, name| section.integer(name).map_or(Self::Automatic, |n| Self::Fixed(n as u32)),
        |count, _key| Some(match count {
            Self::Automatic => json!("auto"),
            Self::Fixed(n) => json!(n),
        });
    String: |section, name| section.text(name), |text, _key| Some(json!(text));
    Option<String>: |section, name| section.has(name).then(|| section.text(name)), |text, key| text.as_ref()?.written(key);
    bool: |section, name| section.flag(name), |flag, _key| Some(json!(flag));
    Conduction: |section, name| if section.flag(name) { Self::Conducting } else { Self::Insulating },
        |conduction, _key| Some(json!(*conduction == Self::Conducting));
    EdgeStroke: |section, name| if section.flag(name) { Self::Along } else { Self::Without },
        |edge, _key| Some(json!(*edge == Self::Along));
}

/// Enums whose values are words, alone, left out or in a list.
macro_rules! choices {
    ($($Choice:ty),+ $(,)?) => {
        values! {
            $(
                $Choice: |section, name| section.choice(name), |value, _key| Some(json!(value.word()));
                Option<$Choice>: |section, name| section.has(name).then(|| section.choice(name)),
                    |value, key| value.as_ref()?.written(key);
                Vec<$Choice>: |section, name| section.choices(name),
                    |list, key| list.iter().map(|value| value.written(key)).collect();
            )+
        }
    };
}

choices! {
    BeadRule, Chance, FlightModel, GasSpecies, Hazard, LandingMethod, Law, LengthUnit, Role, ShutterLead, SpreadRule, Turns, Weighting,
    DesignWord, Draw, Scale,
}

/// A section of the JSON under construction: SI goes in, the unit of the key comes out.
pub(crate) struct Out {
    spec: &'static Section,
    map: Map<String, Json>,
}

impl Out {
    /// An empty one.
    pub(crate) fn new(spec: &'static Section) -> Self {
        Self { spec, map: Map::new() }
    }

    /// Adds a key of the table.
    pub(crate) fn put<T: Value>(mut self, name: &str, value: &T) -> Self {
        let key = self.spec.key(name).expect("the echo writes only keys of the table");
        if let Some(written) = value.written(key) {
            self.map.insert(name.to_owned(), written);
        }
        self
    }

    /// Adds what is already as it is to be written: sections, and values that follow from others.
    pub(crate) fn add(mut self, name: &str, value: impl Into<Json>) -> Self {
        self.map.insert(name.to_owned(), value.into());
        self
    }

    /// Adds the kind of a shape.
    pub(crate) fn kind(self) -> Self {
        let kind = self.spec.name;
        self.add("kind", kind)
    }

    /// Adds what another holds.
    pub(crate) fn and(mut self, other: Self) -> Self {
        self.map.extend(other.map);
        self
    }

    /// The section.
    pub(crate) fn done(self) -> Json {
        Json::Object(self.map)
    }
}
