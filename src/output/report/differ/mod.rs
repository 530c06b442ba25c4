//! How prints differ: prints along each deciding figure, and which varied input makes them differ.

mod histogram;
mod section;
mod shown;
mod table;

pub(crate) use section::section;
