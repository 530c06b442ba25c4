//! Rows of a measurements file.

use crate::error::MeasureError;
use crate::figure::{Figure, Values};
use motefall_figures::calibration::{QUANTITIES, Quantity};

/// How a row was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// From pictures: what is covered.
    Image,
    /// From traces: heights.
    Profile,
}

impl Method {
    /// As the column says it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Image => "image",
            Self::Profile => "profile",
        }
    }
}

/// Columns of a new file.
const COLUMNS: [&str; 15] = [
    "name",
    "item",
    "region",
    "edge_width_um",
    "edge_width_sd_um",
    "line_width_um",
    "line_width_sd_um",
    "width_99_um",
    "width_99_sd_um",
    "peak_height_nm",
    "peak_height_sd_nm",
    "coverage_percent",
    "coverage_sd_percent",
    "method",
    "held_out",
];

/// Figures that have columns, with the method that measures what predictions mean by the column: a picture tells where particles cover, a trace
/// where half of the height and 99 % of the volume lie.
const MEASURED: [(Figure, Method, &str); 5] = [
    (Figure::EdgeWidth, Method::Image, "edge_width_um"),
    (Figure::Coverage, Method::Image, "coverage_percent"),
    (Figure::WidthHalf, Method::Profile, "line_width_um"),
    (Figure::Width99, Method::Profile, "width_99_um"),
    (Figure::PeakHeight, Method::Profile, "peak_height_nm"),
];

/// Columns that tell rows apart.
const KEYS: [&str; 4] = ["name", "item", "region", "method"];

/// Columns in which each row of a line has its own.
const OWN: [&str; 3] = ["name", "region", "method"];
const OTHER_FILE: &str = "give the name of a new file to --row, and a first line with all columns is written";

/// A row.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Name of the line.
    pub name: String,
    /// Path item that printed it.
    pub item: String,
    /// Region whose coverage it is.
    pub region: String,
    /// How it was measured.
    pub method: Method,
    /// Figures; lower bounds are left blank.
    pub values: Values,
}

impl Row {
    fn cell(&self, column: &str) -> String {
        match column {
            "name" => self.name.clone(),
            "item" => self.item.clone(),
            "region" => self.region.clone(),
            "method" => self.method.word().to_owned(),
            _ => self.number(column).unwrap_or_default(),
        }
    }

    /// Whether it holds no value: such a row is none.
    pub fn is_empty(&self) -> bool {
        QUANTITIES.iter().all(|quantity| self.number(quantity.column).is_none())
    }

    /// The value or the uncertainty of a column, in its unit.
    fn number(&self, column: &str) -> Option<String> {
        let quantity = QUANTITIES.iter().find(|quantity| [quantity.column, quantity.sd_column].contains(&column))?;
        let (figure, ..) = MEASURED.iter().find(|(_, by, own)| *by == self.method && *own == quantity.column)?;
        let value = self.values.get(figure).filter(|value| !value.at_least)?;
        // Coverage is that of a region, if its name is known.
        let is_placed = *figure != Figure::Coverage || !self.region.is_empty();
        is_placed.then(|| number(if column == quantity.column { value.value } else { value.sd() } * quantity.per_si))
    }

    /// The file with this row at its end: a new one, or what was there, whose columns may be more and in another order.
    pub fn added_to(&self, existing: Option<&[u8]>) -> Result<Vec<u8>, MeasureError> {
        let mut bytes = existing.unwrap_or_default().to_vec();
        let (columns, cells) = match existing.filter(|bytes| !bytes.is_empty()) {
            Some(bytes) => self.fitted_to(bytes)?,
            None => (COLUMNS.map(str::to_owned).to_vec(), COLUMNS.map(|column| self.cell(column)).to_vec()),
        };
        if bytes.last().is_some_and(|last| *last != b'\n') {
            bytes.push(b'\n');
        }
        let is_new = bytes.is_empty();
        let mut writer = csv::Writer::from_writer(bytes);
        let written = if is_new { writer.write_record(&columns) } else { Ok(()) };
        written
            .and_then(|()| writer.write_record(&cells))
            .map_err(|error| fault(error.to_string(), "give another file with --row"))?;
        writer.into_inner().map_err(|error| fault(error.to_string(), "give another file with --row"))
    }

    /// Columns of a file that such a row fits into and is not yet in, and its cells.
    fn fitted_to(&self, bytes: &[u8]) -> Result<(Vec<String>, Vec<String>), MeasureError> {
        let mut reader =
            csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).flexible(true).from_reader(bytes);
        let header = reader.headers().map_err(|error| fault(format!("it is no table ({error})"), OTHER_FILE))?;
        let columns: Vec<String> = header.iter().map(|name| name.trim_start_matches('\u{feff}').to_owned()).collect();
        let is_missing = |column: &&str| {
            let is_needed = KEYS.contains(column) || self.number(column).is_some();
            is_needed && !columns.iter().any(|name| name == column)
        };
        let missing: Vec<&str> = COLUMNS.into_iter().filter(is_missing).collect();
        if !missing.is_empty() {
            let what = format!("its first line has not all columns of this row; missing: {}", missing.join(", "));
            return Err(fault(what, OTHER_FILE));
        }
        let mut cells: Vec<String> = columns.iter().map(|column| self.cell(column)).collect();
        for record in reader.records() {
            let record = record.map_err(|error| fault(format!("it is no table ({error})"), OTHER_FILE))?;
            let line = record.position().map_or(0, csv::Position::line);
            if record.len() != columns.len() {
                let what = format!("line {line} has {} values under {} columns", record.len(), columns.len());
                return Err(fault(what, "correct that line; a decimal comma makes two values of one"));
            }
            let earlier = Earlier { line, columns: &columns, cells: &record };
            if earlier.cell("name") == self.name {
                self.join(&earlier, &mut cells)?;
            }
        }
        Ok((columns, cells))
    }

    /// Rows of one name are one line in a calibration: measured by the same item, in at most one region, nothing twice, at the same settings, which
    /// are taken from the earlier row.
    fn join(&self, earlier: &Earlier, cells: &mut [String]) -> Result<(), MeasureError> {
        let Earlier { line, columns, .. } = *earlier;
        let other =
            |what: String, remedy: &str| Err(fault(format!("line {line} is already of `{}`{what}", self.name), remedy));
        if KEYS.iter().all(|key| earlier.cell(key) == self.cell(key)) {
            let what = format!(" by {}, and twice it would count twice", self.method.word());
            return other(what, "remove that line first, or give another --name");
        }
        let (item, region) = (earlier.cell("item"), earlier.cell("region"));
        if !self.item.is_empty() && self.item != item {
            let what =
                format!(", printed by the item `{item}` and not by `{}`; rows of one name are one line", self.item);
            return other(what, "give the same --item, or another --name");
        }
        if !self.region.is_empty() && !region.is_empty() && self.region != region {
            let what =
                format!(", in the region `{region}` and not in `{}`; rows of one name have one region", self.region);
            return other(what, "give another --name");
        }
        let is_twice =
            |quantity: &&Quantity| self.number(quantity.column).is_some() && !earlier.cell(quantity.column).is_empty();
        if let Some(twice) = QUANTITIES.iter().find(is_twice) {
            let what = format!(" and holds `{}`, which this row would hold again", twice.column);
            return other(
                what,
                "give --of field if this picture is to give the coverage of its region alone, or another --name",
            );
        }
        for (cell, column) in cells.iter_mut().zip(columns) {
            let is_measured = QUANTITIES.iter().any(|q| [q.column, q.sd_column].contains(&column.as_str()));
            if !is_measured && !OWN.contains(&column.as_str()) {
                *cell = earlier.cell(column).to_owned();
            }
        }
        Ok(())
    }
}

/// A row that stands in the file already.
struct Earlier<'a> {
    line: u64,
    columns: &'a [String],
    cells: &'a csv::StringRecord,
}

impl Earlier<'_> {
    fn cell(&self, column: &str) -> &str {
        self.columns.iter().position(|name| name == column).and_then(|at| self.cells.get(at)).unwrap_or_default()
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
        let value = |value, at_least| Value {
            value,
            chance: 0.1 * value,
            threshold: 0.0,
            focus: 0.0,
            scale: 0.0,
            overlap: 0.0,
            at_least,
        };
        Row {
            name: "line 1, left".into(),
            item: "stroke".into(),
            region: "strip".into(),
            method: Method::Image,
            values: Values::from([
                (Figure::EdgeWidth, value(12.345678e-6, false)),
                (Figure::Width99, value(3e-5, false)),
                (Figure::Coverage, value(0.25, false)),
            ]),
        }
    }

    #[test]
    fn a_new_file_gets_all_columns() {
        let text = |row: Row| String::from_utf8(row.added_to(None).expect("a file")).expect("text");
        let head = COLUMNS.join(",");
        let image = "\"line 1, left\",stroke,strip,12.3457,1.23457,,,,,,,25,2.5,image,\n";
        assert_eq!(text(row()), format!("{head}\n{image}"));
        // Of a trace the heights tell, and without a region there is no coverage. A bound is no value.
        let bound = Value { at_least: true, ..row().values[&Figure::EdgeWidth] };
        let values = Values::from([
            (Figure::WidthHalf, row().values[&Figure::EdgeWidth]),
            (Figure::Width99, bound),
            (Figure::PeakHeight, Value { value: 3e-7, chance: 1e-8, ..row().values[&Figure::EdgeWidth] }),
        ]);
        let trace = Row { region: String::new(), method: Method::Profile, values, ..row() };
        assert_eq!(text(trace), format!("{head}\n\"line 1, left\",stroke,,,,12.3457,1.23457,,,300,10,,,profile,\n"));
        let unplaced = Row { region: String::new(), ..row() };
        assert!(text(unplaced).ends_with("stroke,,12.3457,1.23457,,,,,,,,,image,\n"));
    }

    #[test]
    fn other_columns_are_kept_and_left_blank() {
        let mut columns = COLUMNS.to_vec();
        columns.insert(1, "flow.sheath_sccm");
        columns.swap(0, 15);
        let file = format!("# made up\n{}", columns.join(","));
        let text = String::from_utf8(row().added_to(Some(file.as_bytes())).expect("fits")).expect("text");
        let expected = format!("{file}\n,,stroke,strip,12.3457,1.23457,,,,,,,25,2.5,image,\"line 1, left\"\n");
        assert_eq!(text, expected);
        let again = row().added_to(Some(text.as_bytes())).expect_err("the same row").to_string();
        assert!(again.starts_with("line 3 is already of `line 1, left` by image"), "{again}");
        let words = |row: &Row, text: &str| row.added_to(Some(text.as_bytes())).expect_err("refused").to_string();
        // A picture of the line and one of a region are one line, as calibrate takes them: at the same settings and with nothing twice.
        let line = Row { region: String::new(), ..row() };
        let text = String::from_utf8(line.added_to(Some(file.as_bytes())).expect("fits")).expect("text");
        let text = text.replace("\n,,stroke", "\n,60,stroke");
        let region = Row {
            values: Values::from([(Figure::Coverage, row().values[&Figure::Coverage])]),
            item: String::new(),
            ..row()
        };
        let both = String::from_utf8(region.added_to(Some(text.as_bytes())).expect("fits")).expect("text");
        assert!(both.ends_with("\n,60,stroke,strip,,,,,,,,,25,2.5,image,\"line 1, left\"\n"), "{both}");
        assert!(
            words(&row(), &text).contains("holds `edge_width_um`, which this row would hold again; give --of field")
        );
        let elsewhere = Row { region: "ring".into(), ..region.clone() };
        assert!(words(&elsewhere, &both).contains("in the region `strip` and not in `ring`"));
        let other = Row { item: "dash".into(), ..region };
        assert!(words(&other, &text).contains("printed by the item `stroke` and not by `dash`"));
        assert!(!row().is_empty() && Row { values: Values::new(), ..row() }.is_empty());
        // A table of which only comments and columns are there.
        let empty = format!("# What is measured\n# and how\n{}\n", COLUMNS.join(","));
        let filled = String::from_utf8(row().added_to(Some(empty.as_bytes())).expect("fits")).expect("text");
        assert!(filled.starts_with(&empty) && filled.lines().count() == 4, "{filled}");
        let words = |text: &str| row().added_to(Some(text.as_bytes())).expect_err("refused").to_string();
        assert!(words("name,item\n1,2\n").contains("missing: region, edge_width_um"));
        assert!(words(&format!("{}\n1,2\n", COLUMNS.join(","))).contains("line 2 has 2 values under 15 columns"));
    }
}
