//! Text and tables that fit into a number of columns.

use std::fmt::Write;

/// Most places that are listed.
const MOST_PLACES: usize = 10;

/// Writes text broken at spaces.
pub(super) fn wrap(out: &mut String, first: &str, rest: &str, text: &str, width: usize) {
    let mut line = String::from(first);
    let mut empty = true;
    for word in text.split_whitespace() {
        if !empty && line.chars().count() + 1 + word.chars().count() > width {
            let _ = writeln!(out, "{}", line.trim_end());
            line = rest.to_string();
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    let _ = writeln!(out, "{}", line.trim_end());
}

enum Row<const N: usize> {
    Cells([String; N]),
    /// Across all columns.
    Heading(String),
}

/// A table whose first column breaks when space is short.
pub(super) struct Table<const N: usize> {
    rows: Vec<Row<N>>,
}

impl<const N: usize> Table<N> {
    pub(super) fn new(head: [&str; N]) -> Self {
        Self { rows: vec![Row::Cells(head.map(String::from))] }
    }

    pub(super) fn add(&mut self, row: [String; N]) {
        self.rows.push(Row::Cells(row));
    }

    /// A line across all columns, above rows that belong to it.
    pub(super) fn heading(&mut self, words: String) {
        self.rows.push(Row::Heading(words));
    }

    fn cells(&self) -> impl Iterator<Item = &[String; N]> {
        self.rows.iter().filter_map(|row| match row {
            Row::Cells(cells) => Some(cells),
            Row::Heading(_) => None,
        })
    }

    /// Widest cell of each column.
    pub(super) fn widths(&self) -> [usize; N] {
        let mut widths = [0; N];
        for row in self.cells() {
            for (w, cell) in widths.iter_mut().zip(row) {
                *w = (*w).max(cell.chars().count());
            }
        }
        widths
    }

    /// What the first column needs, broken at spaces.
    fn longest_word(&self) -> usize {
        let indented = |text: &String| {
            let indent = text.chars().take_while(|c| *c == ' ').count();
            let longest = text.split_whitespace().map(|word| word.chars().count()).max().unwrap_or(0);
            indent + 2 + longest
        };
        self.cells().map(|row| indented(&row[0])).max().unwrap_or(0)
    }

    pub(super) fn print(&self, out: &mut String, width: usize, mut widths: [usize; N]) {
        const NARROWEST: usize = 16;
        let over = (widths.iter().sum::<usize>() + 2 * (N - 1)).saturating_sub(width);
        if over > 0 {
            widths[0] = widths[0].saturating_sub(over).max(NARROWEST).max(self.longest_word().min(widths[0]));
        }
        for row in &self.rows {
            match row {
                Row::Cells(cells) => print_row(out, cells, widths),
                Row::Heading(words) => wrap(out, "", "  ", words, width),
            }
        }
    }
}

fn print_row<const N: usize>(out: &mut String, row: &[String; N], widths: [usize; N]) {
    let mut first = String::new();
    let indent: String = row[0].chars().take_while(|c| *c == ' ').collect();
    wrap(&mut first, &indent, &format!("{indent}  "), &row[0], widths[0]);
    let mut lines = first.lines();
    let name = lines.next().unwrap_or_default();
    let mut line = format!("{name}{}", " ".repeat(widths[0].saturating_sub(name.chars().count()) + 2));
    for (cell, w) in row.iter().zip(widths).skip(1) {
        line.push_str(cell);
        line.push_str(&" ".repeat(w.saturating_sub(cell.chars().count()) + 2));
    }
    let _ = writeln!(out, "{}", line.trim_end());
    for rest in lines {
        let _ = writeln!(out, "{rest}");
    }
}

/// A table for each place, whose columns stand below each other.
#[derive(Default)]
pub(super) struct ByPlace<'a> {
    tables: Vec<(Option<&'a str>, Table<3>)>,
    /// Rows of places beyond the most that are listed.
    pub(super) left_out: usize,
}

impl<'a> ByPlace<'a> {
    /// Adds a row of a place, or of the whole print.
    pub(super) fn add(&mut self, place: Option<&'a str>, row: [String; 3]) {
        let index = match self.tables.iter().position(|(own, _)| *own == place) {
            Some(index) => index,
            None if place.is_some() && self.tables.len() >= MOST_PLACES => {
                self.left_out += 1;
                return;
            }
            None => {
                self.tables.push((place, Table::new([place.unwrap_or("whole print"), "", ""])));
                self.tables.len() - 1
            }
        };
        self.tables[index].1.add(row);
    }

    pub(super) fn is_empty(&self) -> bool {
        self.tables.is_empty()
    }

    pub(super) fn print(&self, out: &mut String, width: usize) {
        let widths = self.tables.iter().fold([0; 3], |widest, (_, table)| {
            let own = table.widths();
            std::array::from_fn(|k| widest[k].max(own[k]))
        });
        for (_, table) in &self.tables {
            out.push('\n');
            table.print(out, width, widths);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A word that does not fit leaves the columns below each other.
    #[test]
    fn columns_stand_below_each_other() {
        let mut table = Table::new(["unknown", "before", "later"]);
        table.heading("a heading that is longer than the first column".into());
        table.add(["  atomiser.mist_load_ul_per_l".into(), "20".into(), "24".into()]);
        table.add(["  packing of the powder that was given".into(), "0.5".into(), "0.4".into()]);
        let mut out = String::new();
        table.print(&mut out, 40, table.widths());
        let at = |word: &str| out.lines().find_map(|line| line.find(word)).unwrap_or_else(|| panic!("{word}: {out}"));
        assert_eq!([at("20"), at("0.5")], [at("before"); 2], "{out}");
        assert_eq!([at("24"), at("0.4")], [at("later"); 2], "{out}");
        assert!(out.contains("a heading that is longer than the first"), "{out}");
    }

    #[test]
    fn places_share_their_columns() {
        let mut tables = ByPlace::default();
        for k in 0..12 {
            let place = ["a", "b", "c", "d", "e", "f", "g", "h", "i", "j", "k", "l"][k];
            tables.add(Some(place), ["  coverage".into(), "30 %".into(), String::new()]);
        }
        tables.add(None, ["  time of the whole print".into(), "8 s".into(), String::new()]);
        let mut out = String::new();
        tables.print(&mut out, 60);
        assert_eq!((tables.left_out, tables.is_empty()), (2, false));
        let at = |word: &str| out.lines().find_map(|line| line.find(word)).unwrap_or_else(|| panic!("{word}: {out}"));
        assert_eq!(at("30 %"), at("8 s"), "{out}");
    }
}
