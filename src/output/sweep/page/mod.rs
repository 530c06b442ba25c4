//! `window.html`: the operating window first, then the settings to choose from, then what each setting does.

mod curve;
mod effects;
mod judged;
mod limits;
mod plan;
mod points;
mod reading;
mod settings;
mod verdict;
mod whole;
mod window;

pub(crate) use whole::html;
