//! Rows of a measurements file.

use crate::error::MeasureError;
use crate::figure::{Figure, Values};

/// Columns of a new file.
pub const COLUMNS: [&str; 17] = [
    "name",
    "item",
    "region",
    "width_half_um",
    "width_half_sd_um",
    "width_99_um",
    "width_99_sd_um",
    "coverage_percent",
    "coverage_sd_percent",
    "peak_um",
    "peak_sd_um",
    "section_um2",
    "section_sd_um2",
    "mass_ug",
    "mass_sd_ug",
    "method",
    "held_out",
];

/// Figures that have columns.
const MEASURED: [(Figure, &str, &str); 5] = [
    (Figure::WidthHalf, "width_half_um", "width_half_sd_um"),
    (Figure::Width99, "width_99_um", "width_99_sd_um"),
    (Figure::Coverage, "coverage_percent", "coverage_sd_percent"),
    (Figure::PeakHeight, "peak_um", "peak_sd_um"),
    (Figure::Section, "section_um2", "section_sd_um2"),
];

/// Columns that tell rows apart.
const KEYS: [&str; 4] = ["name", "item", "region", "method"];

/// A row.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Name of the line.
    pub name: String,
    /// Path item that printed it.
    pub item: String,
    /// Region whose coverage it is.
    pub region: String,
    /// `image` or `profile`.
    pub method: &'static str,
    /// Figures; lower bounds are left blank.
    pub values: Values,
}

impl Row {
    fn cell(&self, column: &str) -> String {
        let number = |figure, is_sd| {
            let value = self.values.get(&figure).filter(|value| !value.at_least)?;
            Some(number((if is_sd { value.sd() } else { value.value }) * figure.per_si()))
        };
        match column {
            "name" => self.name.clone(),
            "item" => self.item.clone(),
            "region" => self.region.clone(),
            "method" => self.method.into(),
            _ => {
                let found = MEASURED.iter().find(|(_, value, sd)| [*value, *sd].contains(&column));
                found.and_then(|(figure, _, sd)| number(*figure, *sd == column)).unwrap_or_default()
            }
        }
    }

    /// The file with this row at its end: a new one, or what was there, whose columns may be more and in another order.
    pub fn added_to(&self, existing: Option<&[u8]>) -> Result<Vec<u8>, MeasureError> {
        let mut bytes = existing.unwrap_or_default().to_vec();
        let columns = match existing.filter(|bytes| !bytes.is_empty()) {
            Some(bytes) => self.columns_of(bytes)?,
            None => COLUMNS.map(str::to_owned).to_vec(),
        };
        if bytes.last().is_some_and(|last| *last != b'\n') {
            bytes.push(b'\n');
        }
        let is_new = bytes.is_empty();
        let mut writer = csv::Writer::from_writer(bytes);
        let cells: Vec<String> = columns.iter().map(|column| self.cell(column)).collect();
        let written = if is_new { writer.write_record(&columns) } else { Ok(()) };
        written
            .and_then(|()| writer.write_record(&cells))
            .map_err(|error| fault(error.to_string(), "give another file with --row"))?;
        writer.into_inner().map_err(|error| fault(error.to_string(), "give another file with --row"))
    }

    /// Columns of a file that such a row fits into and is not yet in.
    fn columns_of(&self, bytes: &[u8]) -> Result<Vec<String>, MeasureError> {
        let mut reader =
            csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).flexible(true).from_reader(bytes);
        let other = "give the name of a new file to --row, and a first line with all columns is written";
        let header = reader.headers().map_err(|error| fault(format!("it is no table ({error})"), other))?;
        let columns: Vec<String> = header.iter().map(|name| name.trim_start_matches('\u{feff}').to_owned()).collect();
        let missing: Vec<&str> =
            COLUMNS.into_iter().filter(|column| !columns.iter().any(|name| name == column)).collect();
        if !missing.is_empty() {
            let what = format!("its first line has not all columns of measurements; missing: {}", missing.join(", "));
            return Err(fault(what, other));
        }
        let place = |column: &str| columns.iter().position(|name| name == column);
        for record in reader.records() {
            let record = record.map_err(|error| fault(format!("it is no table ({error})"), other))?;
            let line = record.position().map_or(0, csv::Position::line);
            if record.len() != columns.len() {
                let what = format!("line {line} has {} values under {} columns", record.len(), columns.len());
                return Err(fault(what, "correct that line; a decimal comma makes two values of one"));
            }
            let is_same = |key: &&str| place(key).is_some_and(|at| record[at] == self.cell(key));
            if KEYS.iter().all(is_same) {
                let what = format!(
                    "line {line} is already of `{}` by {}, and twice it would count twice",
                    self.name, self.method
                );
                return Err(fault(what, "remove that line first, or give another --name"));
            }
        }
        Ok(columns)
    }
}

fn fault(what: impl Into<String>, remedy: &str) -> MeasureError {
    MeasureError::Rows { what: what.into(), remedy: remedy.into() }
}

/// Six digits, without zeros at the end.
fn number(value: f64) -> String {
    let rounded: f64 = format!("{value:.5e}").parse().unwrap_or(value);
    rounded.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figure::Value;

    fn row() -> Row {
        let value =
            |value, at_least| Value { value, chance: 0.1 * value, threshold: 0.0, focus: 0.0, scale: 0.0, at_least };
        Row {
            name: "line 1, left".into(),
            item: "stroke".into(),
            region: String::new(),
            method: "image",
            values: Values::from([
                (Figure::WidthHalf, value(12.345678e-6, false)),
                (Figure::Width99, value(3e-5, true)),
                (Figure::Coverage, value(0.25, false)),
            ]),
        }
    }

    #[test]
    fn a_new_file_gets_all_columns() {
        let text = String::from_utf8(row().added_to(None).expect("a file")).expect("text");
        assert_eq!(
            text,
            format!("{}\n\"line 1, left\",stroke,,12.3457,1.23457,,,25,2.5,,,,,,,image,\n", COLUMNS.join(","))
        );
    }

    #[test]
    fn other_columns_are_kept_and_left_blank() {
        let mut columns = COLUMNS.to_vec();
        columns.insert(1, "flow.sheath_sccm");
        columns.swap(0, 17);
        let file = format!("# made up\n{}", columns.join(","));
        let text = String::from_utf8(row().added_to(Some(file.as_bytes())).expect("fits")).expect("text");
        let expected = format!("{file}\n,,stroke,,12.3457,1.23457,,,25,2.5,,,,,,,image,\"line 1, left\"\n");
        assert_eq!(text, expected);
        let again = row().added_to(Some(text.as_bytes())).expect_err("the same row").to_string();
        assert!(again.starts_with("line 3 is already of `line 1, left` by image"), "{again}");
        let words = |text: &str| row().added_to(Some(text.as_bytes())).expect_err("refused").to_string();
        assert!(words("name,item\n1,2\n").contains("missing: region, width_half_um"));
        assert!(words(&format!("{}\n1,2\n", COLUMNS.join(","))).contains("line 2 has 2 values under 17 columns"));
    }
}
