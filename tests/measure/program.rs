//! The program as a user meets it.
