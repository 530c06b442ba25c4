//! A measured size histogram from a CSV file with the columns lower_um, upper_um, amount.

use motefall_files::plain_file::FileError;
use motefall_physics::materials::sizes::{SizeDistribution, Weighting};
use motefall_physics::units::MICROMETRE;
use std::sync::Arc;

/// What is wrong with the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct CsvFault {
    /// What, with the row of the file.
    pub(crate) what: String,
    /// Why it matters.
    pub(crate) why: String,
    /// What to do.
    pub(crate) advice: String,
}

const COLUMNS: [&str; 3] = ["lower_um", "upper_um", "amount"];

fn fault(what: impl Into<String>, why: &str, advice: impl Into<String>) -> CsvFault {
    CsvFault { what: what.into(), why: why.to_owned(), advice: advice.into() }
}

/// Largest table, bytes. Instruments give some hundred rows.
pub(crate) const LARGEST_FILE: u64 = 10_000_000;

/// Reads a histogram from what reading its file gave. Rows are counted as an editor counts lines.
pub(crate) fn read(
    content: &Result<Arc<[u8]>, Arc<FileError>>,
    weighting: Weighting,
) -> Result<SizeDistribution, CsvFault> {
    let bytes = content.as_ref().map_err(|error| {
        let advice = match **error {
            FileError::TooLarge { .. } => "give a table of sizes, one row for each bin",
            _ => "put the file beside the scenario, or correct its name",
        };
        fault(error.to_string(), "the path counts from the scenario's folder", advice)
    })?;
    let text = std::str::from_utf8(bytes)
        .map_err(|_| fault("it is not a text in UTF-8", "", "save the table as CSV, a text in UTF-8"))?;
    let (edges, amounts) = parse(text)?;
    SizeDistribution::from_histogram(&edges, &amounts, weighting)
        .map_err(|error| fault(error.to_string(), "", "correct the file"))
}

/// Edges in m and amounts.
fn parse(text: &str) -> Result<(Vec<f64>, Vec<f64>), CsvFault> {
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).from_reader(text.as_bytes());
    let headers: Vec<String> = reader.headers().map(|h| h.iter().map(str::to_lowercase).collect()).unwrap_or_default();
    let mut columns = [0; 3];
    for (column, name) in columns.iter_mut().zip(COLUMNS) {
        *column = headers.iter().position(|header| header == name).ok_or_else(|| {
            fault(
                format!("has no column `{name}`"),
                "the first line names the columns",
                format!("make the first line `{}`", COLUMNS.join(",")),
            )
        })?;
    }
    let (mut edges, mut amounts) = (Vec::new(), Vec::<f64>::new());
    for record in reader.records() {
        let record = record.map_err(|error| {
            fault(format!("is not a table ({error})"), "", "give every row as many values as the first line")
        })?;
        let row = record.position().map_or(0, csv::Position::line);
        let [lower, upper, amount] = bin(&record, row, columns)?;
        match edges.last() {
            None => edges.push(lower),
            Some(&last) => follows(row, last, [lower, upper])?,
        }
        edges.push(upper);
        amounts.push(amount);
    }
    if amounts.iter().sum::<f64>() <= 0.0 {
        return Err(fault(
            "all amounts are 0, or there are no rows",
            "",
            "give at least one bin with an amount above 0",
        ));
    }
    Ok((edges.into_iter().map(|edge| edge * MICROMETRE).collect(), amounts))
}

/// Edges (µm) and amount of the bin of a row.
fn bin(record: &csv::StringRecord, row: u64, columns: [usize; 3]) -> Result<[f64; 3], CsvFault> {
    let mut values = [0.0; 3];
    for i in 0..3 {
        let text = record.get(columns[i]).unwrap_or_default();
        values[i] = text.parse().ok().filter(|v: &f64| v.is_finite()).ok_or_else(|| {
            fault(format!("row {row}: `{}` is \"{text}\"", COLUMNS[i]), "", "write a number with a decimal point")
        })?;
    }
    let [lower, upper, amount] = values;
    if lower <= 0.0 || lower >= upper {
        let why = if lower <= 0.0 {
            "particles have a size, and bins are spread in the logarithm"
        } else {
            "a bin runs from its lower to its upper edge"
        };
        return Err(fault(
            format!("row {row}: the bin runs from {lower} to {upper} µm"),
            why,
            "make lower_um positive and less than upper_um",
        ));
    }
    if amount < 0.0 {
        return Err(fault(
            format!("row {row}: the amount is {amount}"),
            "an amount of particles cannot be negative",
            "write 0 or more",
        ));
    }
    Ok(values)
}

/// Whether a bin begins where the one before ends. Instruments round edges: a relative step of 10^-6 between rows is no gap.
fn follows(row: u64, last: f64, [lower, upper]: [f64; 2]) -> Result<(), CsvFault> {
    if (lower - last).abs() <= 1e-6 * last {
        return Ok(());
    }
    let (what, advice) = if lower < last {
        ("begins below the row before ends", "sort the rows by size and let no bins overlap")
    } else {
        ("leaves a gap after the row before", "add a row with the amount 0 between them")
    };
    Err(fault(
        format!("row {row}: the bin from {lower} to {upper} µm {what} (at {last} µm)"),
        "bins must follow each other",
        advice,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sorted_histogram_is_read_in_metres() {
        let (edges, amounts) =
            parse("# invented\namount, lower_um, upper_um\n1, 0.1, 0.2\n3, 0.2, 0.4\n").expect("a good file");
        assert_eq!(amounts, [1.0, 3.0]);
        assert!(edges.iter().zip([1e-7, 2e-7, 4e-7]).all(|(a, b)| (a / b - 1.0).abs() < 1e-12));
    }

    #[test]
    fn faults_name_the_row_of_the_file() {
        for (rows, part) in [
            ("0.2,0.4,1\n0.1,0.2,1\n", "row 3: the bin from 0.1 to 0.2 µm begins below"),
            ("0.1,0.2,1\n0.3,0.4,1\n", "row 3: the bin from 0.3 to 0.4 µm leaves a gap"),
            ("0.1,0.2,-1\n", "row 2: the amount is -1"),
            ("0.4,0.2,1\n", "row 2: the bin runs from 0.4 to 0.2 µm"),
            ("0,0.2,1\n", "row 2: the bin runs from 0 to 0.2 µm"),
            ("0.1,0.2,x\n", "row 2: `amount` is \"x\""),
            ("0.1,0.2,NaN\n", "row 2: `amount` is \"NaN\""),
            ("0.1,0.2,0\n", "all amounts are 0"),
        ] {
            let error = parse(&format!("lower_um,upper_um,amount\n{rows}")).expect_err(rows);
            assert!(error.what.contains(part), "{}", error.what);
        }
        assert!(parse("size,amount\n").expect_err("columns").what.contains("no column `lower_um`"));
    }
}
