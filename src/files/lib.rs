//! Files that the user names: read if they are plain and of bounded size, known by their first bytes; written whole or not at all.

pub mod file_kind;
pub mod plain_file;
pub mod whole_file;
pub mod whole_folder;
