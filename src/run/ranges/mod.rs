//! The ranges over which relations hold, and whether a setting keeps to them.
//!
//! Every relation whose source or fit has a range stands in `Relation`; each must say here which values it is used at, and each has a
//! caution. A range that is stated in a doc comment alone is looked at by nobody.

mod outside;
mod relation;
mod values;

pub(crate) use outside::capital;
pub(crate) use outside::cautions;
#[cfg(test)]
pub(crate) use outside::tests;
pub(crate) use relation::Relation;
