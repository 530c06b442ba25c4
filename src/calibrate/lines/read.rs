//! From a CSV text to lines, with every fault of the file at once.

use super::columns::{Column, column};
use super::{Line, LineFault, LineFaults, Measured, Value};
use motefall_figures::calibration::{Quantity, What};
use motefall_files::file_kind::FileKind;
use motefall_files::plain_file;
use motefall_scenario::{Turnable, nearest};
use std::collections::HashMap;
use std::path::Path;

/// Largest table, bytes.
const LARGEST_FILE: u64 = 10_000_000;
/// Most lines of a table.
const MOST_LINES: usize = 2000;
/// Largest relative uncertainty: beyond, a value says next to nothing, and its logarithm is not what is normal.
const LARGEST_UNCERTAINTY: f64 = 0.6;

/// Reads a table of lines that were printed as a scenario says.
pub fn load(path: &Path, scenario: &Turnable) -> Result<Measured, LineFaults> {
    let file = path.display().to_string();
    let whole = |what: String, advice: &str| LineFaults {
        file: file.clone(),
        list: vec![LineFault { row: None, what, advice: advice.to_owned() }],
    };
    let bytes = plain_file::read(path, LARGEST_FILE).map_err(|error| {
        whole(
            error.to_string(),
            "give a table of measured lines; `motefall new --measurements` writes one to start from",
        )
    })?;
    let text = String::from_utf8(bytes).map_err(|error| match FileKind::of(error.as_bytes()) {
        Some(kind) => whole(
            format!("it is {}, not a table", kind.words()),
            "save the table as CSV; pictures are measured with `motefall measure`",
        ),
        None => whole("it is not a text in UTF-8".to_owned(), "save the table as CSV, a text in UTF-8"),
    })?;
    parse(&text, &file, scenario)
}

/// The same from text; `file` appears in messages.
pub fn parse(text: &str, file: &str, scenario: &Turnable) -> Result<Measured, LineFaults> {
    let mut reading = Reading { scenario, faults: vec![] };
    let lines = reading.lines(text.strip_prefix('\u{feff}').unwrap_or(text));
    let (lines, unmeasured): (Vec<Line>, Vec<Line>) = lines.into_iter().partition(|line| !line.values.is_empty());
    if lines.is_empty() && reading.faults.is_empty() {
        reading.fault(
            None,
            "nothing is measured in it yet",
            "write what you measured into its rows, each value with its uncertainty beside it, or let `motefall measure --row` add rows",
        );
    }
    match reading.faults.is_empty() {
        true => Ok(Measured { lines, unmeasured: unmeasured.into_iter().map(|line| line.name).collect() }),
        false => Err(LineFaults { file: file.to_owned(), list: reading.faults }),
    }
}

/// Adds what another row measured on the same line; what that row leaves empty besides is as in the first. Otherwise the row that the line
/// stands in already.
fn join(line: &mut Line, other: &Line) -> Result<(), u64> {
    let is_same = line.item == other.item
        && other.settings.iter().all(|setting| line.settings.contains(setting))
        && line.prints == other.prints
        && (line.is_held_out || !other.is_held_out)
        && (line.vial_time == other.vial_time || other.vial_time.is_none())
        && (line.region == other.region || line.region.is_none() || other.region.is_none())
        && other.values.iter().all(|value| line.values.iter().all(|own| own.quantity != value.quantity));
    if !is_same || other.values.is_empty() {
        return Err(line.row);
    }
    line.region = line.region.take().or_else(|| other.region.clone());
    line.values.extend(&other.values);
    Ok(())
}

struct Reading<'a> {
    scenario: &'a Turnable,
    faults: Vec<LineFault>,
}

impl Reading<'_> {
    fn fault(&mut self, row: Option<u64>, what: impl Into<String>, advice: impl Into<String>) {
        self.faults.push(LineFault { row, what: what.into(), advice: advice.into() });
    }

    fn lines(&mut self, text: &str) -> Vec<Line> {
        let head = text.lines().find(|line| !line.trim().is_empty() && !line.starts_with('#')).unwrap_or_default();
        if head.contains(';') && !head.contains(',') {
            self.fault(
                None,
                "its columns are separated by semicolons",
                "save it with commas between columns and points in numbers",
            );
            return vec![];
        }
        let mut reader =
            csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).from_reader(text.as_bytes());
        let heads: Vec<String> = reader.headers().map(|h| h.iter().map(str::to_owned).collect()).unwrap_or_default();
        let columns = self.columns(&heads);
        if !self.faults.is_empty() {
            return vec![];
        }
        let mut lines = vec![];
        let mut names: HashMap<String, usize> = HashMap::new();
        for record in reader.records() {
            let record = match record {
                Ok(record) => record,
                Err(error) => {
                    let row = error.position().map(csv::Position::line);
                    let advice = format!(
                        "give every row {} values, as many as the first line has columns; a comma within a number is one too many: write a point, and put text with commas into quotes",
                        heads.len()
                    );
                    self.fault(row, "it has another number of values than the first line", advice);
                    continue;
                }
            };
            if lines.len() == MOST_LINES {
                self.fault(None, format!("it has more than {MOST_LINES} lines"), "leave some out");
                break;
            }
            let row = record.position().map_or(0, csv::Position::line);
            let line = self.line(row, &columns, &record);
            let known = names.get(&line.name).copied().filter(|_| !line.name.is_empty());
            names.entry(line.name.clone()).or_insert(lines.len());
            match known.map(|at| join(&mut lines[at], &line)) {
                // A picture and a trace of one line stand in rows of their own.
                Some(Ok(())) => continue,
                Some(Err(other)) => self.fault(
                    Some(row),
                    format!("the name \"{}\" stands in row {other} already", line.name),
                    "give each line a name of its own; several measurements of one line are one row with their mean and its uncertainty, or rows that differ only in what was measured",
                ),
                None => (),
            }
            lines.push(line);
        }
        if lines.is_empty() && self.faults.is_empty() {
            self.fault(None, "it has no rows", "add a row for each measured line");
        }
        lines
    }

    fn columns(&mut self, heads: &[String]) -> Vec<Column> {
        let mut columns: Vec<Column> = vec![];
        for head in heads {
            match column(head) {
                Ok(column) if columns.contains(&column) => {
                    self.fault(Some(1), format!("the column `{head}` stands twice"), "keep one of them")
                }
                Ok(column) => columns.push(column),
                Err((what, advice)) => self.fault(Some(1), what, advice),
            }
        }
        if !columns.contains(&Column::Name) && self.faults.is_empty() {
            self.fault(
                Some(1),
                "it has no column `name`",
                "make the first line name the columns, and give each line a name",
            );
        }
        for column in &columns {
            match column {
                Column::Measured(quantity) if !columns.contains(&Column::Uncertainty(quantity)) => self.fault(
                    Some(1),
                    format!("`{}` has no column for its uncertainty", quantity.column),
                    format!("add `{}`: one standard deviation of what you measured", quantity.sd_column),
                ),
                Column::Setting(key) => {
                    if let Err(reason) = self.scenario.knob(key) {
                        self.fault(Some(1), format!("the column `{key}` is no setting of the scenario"), reason);
                    }
                }
                _ => (),
            }
        }
        columns
    }

    fn line(&mut self, row: u64, columns: &[Column], record: &csv::StringRecord) -> Line {
        let text = |wanted: Column| {
            let at = columns.iter().position(|column| *column == wanted)?;
            record.get(at).filter(|text| !text.is_empty()).map(str::to_owned)
        };
        let mut line = Line {
            name: text(Column::Name).unwrap_or_default(),
            row,
            item: text(Column::Item),
            region: text(Column::Region),
            settings: vec![],
            vial_time: None,
            prints: 1,
            method: text(Column::Method),
            is_held_out: false,
            values: vec![],
        };
        if line.name.is_empty() {
            self.fault(Some(row), "the line has no name", "give each line a name in the column `name`");
        }
        if let Some(word) = text(Column::HeldOut) {
            match word.to_lowercase().as_str() {
                "yes" | "true" => line.is_held_out = true,
                "no" | "false" => (),
                _ => self.fault(Some(row), format!("`held_out` is \"{word}\""), "write yes, or leave it empty"),
            }
        }
        if let Some(text) = text(Column::Prints) {
            match text.parse() {
                Ok(prints) if prints > 0 => line.prints = prints,
                _ => self.fault(
                    Some(row),
                    format!("`prints` is \"{text}\""),
                    "write over how many prints the values are means: 1 or more",
                ),
            }
        }
        if let Some(text) = text(Column::VialMinutes) {
            line.vial_time =
                self.number(row, "vial_minutes", &text, [1e-2, 1e5], "minutes").map(|minutes| 60.0 * minutes);
        }
        self.places(row, &line);
        for (k, column) in columns.iter().enumerate() {
            let text = record.get(k).unwrap_or_default();
            match column {
                Column::Setting(key) if !text.is_empty() => {
                    let Ok(knob) = self.scenario.knob(key) else { continue };
                    let value = self.number(row, key, text, knob.range, knob.unit);
                    line.settings.extend(value.map(|value| (key.clone(), value)));
                }
                Column::Measured(quantity) => {
                    let sd = columns.iter().position(|column| *column == Column::Uncertainty(quantity));
                    let sd = sd.and_then(|at| record.get(at)).unwrap_or_default();
                    let value = self.value(row, &line, quantity, text, sd);
                    line.values.extend(value);
                }
                _ => (),
            }
        }
        line
    }

    /// Whether item and region stand in the scenario.
    fn places(&mut self, row: u64, line: &Line) {
        let inputs = &self.scenario.scenario.inputs;
        let items: Vec<&str> = inputs.items().map(|item| item.name.as_str()).collect();
        let regions: Vec<&str> = inputs.regions.iter().map(|region| region.name.as_str()).collect();
        let wanted = [(&line.item, "item", "path item", items), (&line.region, "region", "region", regions)];
        let faults: Vec<(String, String)> = wanted
            .into_iter()
            .filter_map(|(name, column, kind, names)| {
                let name = name.as_deref().filter(|name| !names.contains(name))?;
                let advice = match nearest(name, names.iter().copied()) {
                    Some(near) => format!("did you mean \"{near}\"?"),
                    None if names.is_empty() => format!("the scenario has no {kind} with a name"),
                    None => format!("names are: {}", names.join(", ")),
                };
                Some((format!("`{column}` is \"{name}\", but the scenario has no {kind} of that name"), advice))
            })
            .collect();
        faults.into_iter().for_each(|(what, advice)| self.fault(Some(row), what, advice));
    }

    fn value(&mut self, row: u64, line: &Line, quantity: &'static Quantity, text: &str, sd: &str) -> Option<Value> {
        if text.is_empty() && sd.is_empty() {
            return None;
        }
        if text.is_empty() {
            self.fault(
                Some(row),
                format!("`{}` is given without `{}`", quantity.sd_column, quantity.column),
                "give the measured value too, or neither",
            );
            return None;
        }
        if sd.is_empty() {
            let advice = format!(
                "give `{}`: one standard deviation of what you measured; several places along a line tell it",
                quantity.sd_column
            );
            self.fault(Some(row), format!("`{}` has no uncertainty", quantity.column), advice);
            return None;
        }
        let missing = match quantity.what {
            What::VialLoss if line.vial_time.is_none() => Some("vial_minutes"),
            _ if quantity.is_of_item() && line.item.is_none() => Some("item"),
            _ if quantity.is_of_region() && line.region.is_none() => Some("region"),
            _ => None,
        };
        if let Some(column) = missing {
            let advice = match column {
                "item" => "name the item of the scenario's path by which the line was printed",
                "region" => "name the region of the scenario in which it was measured",
                _ => "say how many minutes the vial gave mist",
            };
            self.fault(Some(row), format!("`{}` needs `{column}`", quantity.column), advice);
            return None;
        }
        let value = self.number(row, quantity.column, text, quantity.range, quantity.unit)?;
        let sd = self.number(row, quantity.sd_column, sd, [f64::MIN_POSITIVE, f64::INFINITY], quantity.unit)?;
        let relative = quantity.fitted_sd(value / quantity.per_si, sd / quantity.per_si);
        if relative > LARGEST_UNCERTAINTY {
            self.fault(
                Some(row),
                format!("`{}` is {value} ± {sd} {}: too uncertain to say anything", quantity.column, quantity.unit),
                "leave the value out, or measure it to 60 % or better",
            );
            return None;
        }
        Some(Value { quantity, value: value / quantity.per_si, sd: sd / quantity.per_si })
    }

    fn number(&mut self, row: u64, column: &str, text: &str, range: [f64; 2], unit: &str) -> Option<f64> {
        let Some(value) = text.parse::<f64>().ok().filter(|value| value.is_finite()) else {
            let advice = match text.replacen(',', ".", 1).parse::<f64>() {
                Ok(value) if text.contains(',') => format!("write a decimal point: {value}"),
                _ => "write a number, or leave it empty".to_owned(),
            };
            self.fault(Some(row), format!("`{column}` is \"{text}\""), advice);
            return None;
        };
        let [least, most] = range;
        if (least..=most).contains(&value) {
            return Some(value);
        }
        let bounds =
            if most.is_finite() { format!("{least} to {most} {unit} can be") } else { "it must be above 0".to_owned() };
        self.fault(
            Some(row),
            format!("`{column}` is {value} {unit}: {}", bounds.trim_end()),
            if value < 0.0 {
                "correct the sign"
            } else {
                "look at its unit: it stands at the end of the column's name"
            },
        );
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lines::starter;
    use crate::testing::{EXAMPLE, first_line};

    fn read(text: &str) -> Measured {
        parse(text, "lines.csv", &first_line()).unwrap_or_else(|faults| panic!("{faults}"))
    }

    #[test]
    fn the_example_is_read() {
        let Measured { lines, unmeasured } = read(EXAMPLE);
        assert_eq!((lines.len(), unmeasured.len()), (13, 0));
        assert_eq!(lines.iter().filter(|line| line.is_held_out).count(), 2);
        let first = &lines[0];
        assert_eq!(first.settings, [("flow.sheath_sccm".to_owned(), 25.0)]);
        assert_eq!((first.item.as_deref(), first.values.len()), (Some("0.5 mm/s"), 3));
        assert!((first.values[0].value - 128e-6).abs() < 1e-12 && (first.values[0].sd - 2.6e-6).abs() < 1e-12);
        let vial = lines.last().expect("several");
        assert_eq!((vial.vial_time, vial.item.as_deref(), vial.is_vial()), (Some(1800.0), None, true));
        assert!((vial.values[0].value - 7.6e-6).abs() < 1e-15);
    }

    /// Nobody learns from a table that was not filled in, and a row that is filled in is read.
    #[test]
    fn the_starter_holds_no_values() {
        let words = parse(starter(), "lines.csv", &first_line()).expect_err("nothing is measured").to_string();
        assert!(words.starts_with("lines.csv: nothing is measured in it yet\n  write what you measured"), "{words}");
        let row = "2 mm/s,2 mm/s,strip at 2 mm/s,,,,";
        assert!(starter().contains(row));
        let Measured { lines, unmeasured } =
            read(&starter().replacen(row, "2 mm/s,2 mm/s,strip at 2 mm/s,,63.3,1.3,", 1));
        assert_eq!((lines.len(), lines[0].name.as_str()), (1, "2 mm/s"));
        assert_eq!(unmeasured, ["0.5 mm/s", "1 mm/s", "4 mm/s", "vial"]);
        let remark = Measured { lines, unmeasured }.remark().expect("rows are left out");
        assert_eq!(remark, "Nothing is measured yet on \"0.5 mm/s\", \"1 mm/s\", \"4 mm/s\", \"vial\": left out.");
    }

    #[test]
    fn rows_of_one_name_are_one_line() {
        let head = "name,item,region,flow.sheath_sccm,edge_width_um,edge_width_sd_um,line_width_um,line_width_sd_um,method,held_out\n";
        // A picture and a trace.
        let lines = read(&format!("{head}a,1 mm/s,,,66,2,,,image,\na,1 mm/s,,,,,45,3,profile,\n")).lines;
        assert_eq!((lines.len(), lines[0].values.len()), (1, 2));
        // A planned row, and what was measured on it later: what that leaves empty is as planned.
        let lines = read(&format!("{head}a,1 mm/s,,25,,,,,,yes\na,1 mm/s,,,66,2,,,image,\n")).lines;
        assert_eq!((lines.len(), lines[0].values.len(), lines[0].is_held_out), (1, 1, true));
        assert_eq!(lines[0].settings, [("flow.sheath_sccm".to_owned(), 25.0)]);
        // Another flow is another line.
        let other = format!("{head}a,1 mm/s,,25,66,2,,,image,\na,1 mm/s,,40,,,45,3,profile,\n");
        let words = parse(&other, "lines.csv", &first_line()).expect_err("two lines").to_string();
        assert!(words.contains("row 3: the name \"a\" stands in row 2 already"), "{words}");
    }

    /// What is wrong, and part of what is said of it: place, reason, remedy.
    #[test]
    fn every_fault_says_where_what_and_what_to_do() {
        const HEAD: &str = "name,item,region,edge_width_um,edge_width_sd_um,coverage_percent,coverage_sd_percent\n";
        let row = |cells: &str| format!("{HEAD}{cells}\n");
        let cases: Vec<(String, [&str; 2])> = vec![
            // Units and columns.
            ("name,edge_width\na,3\n".into(), ["row 1: no column is called `edge_width`", "write `edge_width_um`"]),
            ("name,edge_width_mm\na,3\n".into(), ["row 1: no column is called `edge_width_mm`", "values in µm"]),
            ("name,colour\na,3\n".into(), ["row 1: no column is called `colour`", "columns are"]),
            ("name,flow.sheet_sccm\na,3\n".into(), ["no setting of the scenario", "flow.sheath_sccm"]),
            ("name,edge_width_um\na,3\n".into(), ["no column for its uncertainty", "edge_width_sd_um"]),
            ("item,region\na,b\n".into(), ["no column `name`", "give each line a name"]),
            ("name;item\na;b\n".into(), ["semicolons", "commas"]),
            // Numbers.
            (row("a,1 mm/s,,\"66,5\",2,,"), ["row 2: `edge_width_um` is \"66,5\"", "a decimal point: 66.5"]),
            (row("a,1 mm/s,,66,5,2,,"), ["another number of values", "a comma within a number"]),
            (row("a,1 mm/s,,0.066,0.002,,"), ["`edge_width_um` is 0.066 µm: 1 to 5000 µm can be", "look at its unit"]),
            (row("a,1 mm/s,,-66,2,,"), ["-66", "correct the sign"]),
            (row("a,1 mm/s,,NaN,2,,"), ["`edge_width_um` is \"NaN\"", "write a number"]),
            (row("a,1 mm/s,,66,0,,"), ["it must be above 0", "look at its unit"]),
            (row("a,1 mm/s,,66,,,"), ["has no uncertainty", "one standard deviation"]),
            (row("a,1 mm/s,,66,60,,"), ["too uncertain", "leave the value out"]),
            (row("a,1 mm/s,strip at 1 mm/s,,,120,3"), ["`coverage_percent` is 120", "look at its unit"]),
            // Places.
            (row("a,1 mm,,66,2,,"), ["no path item of that name", "did you mean \"1 mm/s\""]),
            (row("a,,,66,2,,"), ["`edge_width_um` needs `item`", "name the item"]),
            (row("a,1 mm/s,,,,20,1"), ["`coverage_percent` needs `region`", "name the region"]),
            // Lines.
            (
                row("a,1 mm/s,,66,2,,\na,1 mm/s,,67,2,,"),
                ["row 3: the name \"a\" stands in row 2 already", "a name of its own"],
            ),
            (row(",1 mm/s,,66,2,,"), ["the line has no name", "in the column `name`"]),
            (row("a,1 mm/s,,,,,"), ["nothing is measured in it yet", "each value with its uncertainty"]),
            (HEAD.into(), ["it has no rows", "add a row"]),
        ];
        let scenario = first_line();
        for (text, wanted) in cases {
            let words = parse(&text, "lines.csv", &scenario).expect_err(&text).to_string();
            assert!(wanted.iter().all(|part| words.contains(part)), "{wanted:?} of\n{text}\n{words}");
        }
    }
}
