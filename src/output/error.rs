//! Why nothing was written.

use motefall_files::whole_file::WriteError;
use motefall_files::whole_folder::FolderError;

/// Why a result could not be written to its place. Nothing half-written is left behind.
#[derive(Debug, thiserror::Error)]
pub enum OutputError {
    /// The folder, or a file in it.
    #[error(transparent)]
    Folder(#[from] FolderError),
    /// A file beside others.
    #[error(transparent)]
    File(#[from] WriteError),
    /// A file could not be put into its format.
    #[error("cannot make {file}: {reason}")]
    Encode {
        /// The file.
        file: String,
        /// Why.
        reason: String,
    },
}
