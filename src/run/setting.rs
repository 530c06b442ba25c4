//! setting
