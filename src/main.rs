//! motefall
fn main() {}
