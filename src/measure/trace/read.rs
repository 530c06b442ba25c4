//! Reading of a trace: distance and height from a CSV.

use crate::error::MeasureError;

/// Fewest points.
const LEAST_POINTS: usize = 20;

/// Units and their length, m.
const UNITS: [(&str, f64); 6] = [("nm", 1e-9), ("um", 1e-6), ("µm", 1e-6), ("μm", 1e-6), ("mm", 1e-3), ("m", 1.0)];

/// Heights along a trace, m.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Trace {
    /// Distances, which grow.
    pub(crate) distance: Vec<f64>,
    /// Heights at these.
    pub(crate) height: Vec<f64>,
}

fn fault(place: impl Into<String>, what: impl Into<String>, remedy: impl Into<String>) -> MeasureError {
    MeasureError::Trace { place: place.into(), what: what.into(), remedy: remedy.into() }
}

const HEADER: &str = "make the first line `distance_um,height_nm` (units: nm, um, mm, m), one row for each point";

/// Reads a CSV whose first line names the columns `distance_` and `height_`, each ending with its unit. Other columns are left alone.
pub(crate) fn read(bytes: &[u8]) -> Result<Trace, MeasureError> {
    let text = std::str::from_utf8(bytes)
        .map_err(|_| fault("the file", "it is not a text in UTF-8", "save it as CSV, a text in UTF-8"))?;
    let text = text.trim_start_matches('\u{feff}');
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).flexible(true).from_reader(text.as_bytes());
    let header = reader.headers().map_err(|error| fault("line 1", error.to_string(), HEADER))?.clone();
    let (distance, height) = (column(&header, "distance_")?, column(&header, "height_")?);
    let mut trace = Trace { distance: vec![], height: vec![] };
    for record in reader.records() {
        let record = record.map_err(|error| fault("the file", error.to_string(), HEADER))?;
        let line = record.position().map_or(0, csv::Position::line);
        let place = format!("line {line}");
        if record.len() != header.len() {
            let (cells, names) = (record.len(), header.len());
            let what = format!(
                "it has {cells} values under {names} columns; a comma separates values, so a decimal comma makes two of one"
            );
            return Err(fault(place, what, "write numbers with a decimal point, such as 1.5"));
        }
        let [at, height] = [(distance, "distance"), (height, "height")].map(|((column, unit), name)| {
            number(&record[column]).map(|value| value * unit).ok_or_else(|| {
                let what = format!("the {name} `{}` is no finite number", &record[column]);
                fault(
                    place.clone(),
                    what,
                    "write numbers like 1.5 or 2e-3, and leave out points that were not measured",
                )
            })
        });
        let (at, height) = (at?, height?);
        if trace.distance.last().is_some_and(|before| at <= *before) {
            let what = "the distance is not larger than that of the line before";
            return Err(fault(place, what, "sort the points by distance, and keep one trace in a file"));
        }
        trace.distance.push(at);
        trace.height.push(height);
    }
    if trace.distance.len() < LEAST_POINTS {
        let what = format!("it has {} points, and a line needs at least {LEAST_POINTS}", trace.distance.len());
        return Err(fault("the file", what, "export the whole trace"));
    }
    Ok(trace)
}

fn number(text: &str) -> Option<f64> {
    text.parse().ok().filter(|value: &f64| value.is_finite())
}

/// Place of the column that begins so, and its unit, m.
fn column(header: &csv::StringRecord, begin: &str) -> Result<(usize, f64), MeasureError> {
    let names: Vec<String> = header.iter().map(str::to_lowercase).collect();
    if header.len() == 1 && names[0].contains([';', '\t']) {
        let what = "columns are separated by semicolons or tabs, not by commas";
        return Err(fault("line 1", what, "save it with commas between columns and points in numbers"));
    }
    let place = names.iter().position(|name| name.starts_with(begin)).ok_or_else(|| {
        fault("line 1", format!("no column is named `{begin}` with its unit, so it is not known what is what"), HEADER)
    })?;
    let unit = &names[place][begin.len()..];
    let size = UNITS.iter().find(|(name, _)| *name == unit).map(|(_, size)| *size);
    let size =
        size.ok_or_else(|| fault("line 1", format!("`{unit}` in `{}` is no unit of length", names[place]), HEADER))?;
    Ok((place, size))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with(rows: &str) -> String {
        let good: String = (0..30).map(|k| format!("{k},{}\n", 2 * k)).collect();
        read(format!("distance_um,height_nm\n{good}{rows}").as_bytes()).expect_err("refused").to_string()
    }

    #[test]
    fn units_are_those_of_the_header() {
        let rows: String = (0..20).map(|k| format!("x,{},{k}.5\n", k * 2)).collect();
        let trace = read(format!("\u{feff}# made up\nnote,Height_nm,distance_mm\n{rows}").as_bytes()).expect("a trace");
        assert!((trace.distance[1] - 1.5e-3).abs() < 1e-15 && (trace.height[3] - 6e-9).abs() < 1e-20);
    }

    #[test]
    fn faults_say_where_why_and_what_to_do() {
        assert!(with("31,NaN\n").starts_with("line 32: the height `NaN` is no finite number; write numbers"));
        assert!(with("31,inf\n").contains("`inf`") && with("31,\n").contains("the height ``"));
        assert!(with("31,5,25\n").contains("line 32: it has 3 values under 2 columns; a comma separates"));
        assert!(with("29,5\n").contains("line 32: the distance is not larger"));
        let words = |text: &str| read(text.as_bytes()).expect_err("refused").to_string();
        assert!(words("distance_um;height_nm\n1,5;2,5\n").contains("semicolons"));
        assert!(words("a,b\n1,2\n").contains("no column is named `distance_`"));
        assert!(words("distance_inch,height_nm\n1,2\n").contains("`inch` in `distance_inch` is no unit"));
        assert!(words("distance_um,height_nm\n1,2\n").contains("it has 1 points"));
        assert!(words("").contains("line 1"));
        assert!(read(b"\xff\xfe\0").expect_err("refused").to_string().contains("UTF-8"));
    }
}
