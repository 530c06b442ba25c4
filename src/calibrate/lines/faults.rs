//! What is wrong with a table of measured lines.

use std::fmt;

/// Most faults that are shown.
const MOST_SHOWN: usize = 30;

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LineFault {
    /// Row of the file, from 1; `None` for the file as a whole.
    pub row: Option<u64>,
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub advice: String,
}

/// All that is wrong with a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LineFaults {
    /// Name of the file.
    pub file: String,
    /// In the order of the rows; never empty.
    pub list: Vec<LineFault>,
}

impl fmt::Display for LineFaults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for fault in self.list.iter().take(MOST_SHOWN) {
            match fault.row {
                Some(row) => writeln!(f, "{}, row {row}: {}", self.file, fault.what)?,
                None => writeln!(f, "{}: {}", self.file, fault.what)?,
            }
            writeln!(f, "  {}", fault.advice)?;
        }
        let n = self.list.len();
        let more = if n > MOST_SHOWN { format!(", the first {MOST_SHOWN} of which are shown") } else { String::new() };
        write!(f, "{n} {}{more}; nothing was computed", if n == 1 { "fault" } else { "faults" })
    }
}

impl std::error::Error for LineFaults {}
