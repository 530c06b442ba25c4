//! The figures of one print.

mod item;
mod measurer;
mod print;
mod region;
#[cfg(test)]
mod tests;

pub use measurer::Measurer;
