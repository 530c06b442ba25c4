//! Files that the user names: read if they are plain and of bounded size, and known by their first bytes.

pub mod file_kind;
pub mod plain_file;
