//! Tables for other programs: comma-separated values after RFC 4180, and workbooks.

use std::borrow::Cow;
use std::io::Write;

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format, Workbook, XlsxError};
use thiserror::Error;

/// Rows and columns a sheet of a workbook holds: 1,048,576 and 32,767 letters in a cell. Source: ECMA-376 programs' published limits.
const MOST_ROWS: usize = 1_048_575;
const MOST_LETTERS: usize = 32_767;

/// One list with its heading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    /// What it is called: `wires`.
    pub name: &'static str,
    /// Heading of each column.
    pub columns: Vec<&'static str>,
    /// Rows, each with as many cells as there are columns.
    pub rows: Vec<Vec<String>>,
}

/// A workbook could not be made.
#[derive(Debug, Error)]
#[error("the workbook could not be made: {0}")]
pub struct WorkbookError(#[from] XlsxError);

impl Table {
    /// Writes comma-separated values after RFC 4180, with a heading: lines end in CRLF, and a cell with a comma, a quote or a line end is
    /// quoted. A cell that a spreadsheet would take for a formula gets an apostrophe before it.
    ///
    /// # Errors
    /// What the writer says.
    pub fn write_csv(&self, out: &mut dyn Write) -> Result<(), csv::Error> {
        let mut list = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out);
        list.write_record(&self.columns)?;
        for row in &self.rows {
            list.write_record(row.iter().map(|cell| guarded(cell).into_owned()))?;
        }
        list.flush()?;
        Ok(())
    }
}

/// A cell that a spreadsheet would take for a formula, with an apostrophe before it; any other as it is. Source: CWE-1236, formula elements in
/// a CSV file.
fn guarded(cell: &str) -> Cow<'_, str> {
    let number = |rest: &str| rest.parse::<f64>().is_ok_and(f64::is_finite);
    let would_act = match cell.chars().next() {
        Some('=' | '@' | '\t' | '\r') => true,
        Some('+' | '-') => !number(cell),
        _ => false,
    };
    if would_act { Cow::Owned(format!("'{cell}")) } else { Cow::Borrowed(cell) }
}

/// These tables as a workbook (.xlsx), a sheet each. Cells are text, never formulas: what begins with `=` in a record stays as it is written.
///
/// # Errors
/// A table with more rows than a sheet holds, and what the library says.
pub fn workbook(tables: &[Table], title: &str) -> Result<Vec<u8>, WorkbookError> {
    let mut book = Workbook::new();
    // A file of the same record has the same bytes: no clock is read, and the day is one all files have.
    let day = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(&DocProperties::new().set_title(within(title, 255)).set_creation_datetime(&day));
    let head = Format::new().set_bold();
    let wrapped = Format::new().set_text_wrap();
    for table in tables {
        let sheet = book.add_worksheet();
        sheet.set_name(table.name)?;
        sheet.set_freeze_panes(1, 0)?;
        for (column, text) in (0_u16..).zip(&table.columns) {
            sheet.write_string_with_format(0, column, *text, &head)?;
            sheet.set_column_width(column, width_of(table, usize::from(column)))?;
        }
        if table.rows.len() > MOST_ROWS {
            return Err(XlsxError::RowColumnLimitError.into());
        }
        for (row, cells) in (1_u32..).zip(&table.rows) {
            for (column, text) in (0_u16..).zip(cells) {
                sheet.write_string_with_format(row, column, within(text, MOST_LETTERS), &wrapped)?;
            }
        }
    }
    Ok(book.save_to_buffer()?)
}

/// A text of no more letters than fit.
fn within(text: &str, most: usize) -> String {
    text.chars().take(most).collect()
}

/// Letters a column is wide: its longest cell, within limits that can be read on a screen.
fn width_of(table: &Table, column: usize) -> f64 {
    let longest = table
        .rows
        .iter()
        .filter_map(|row| row.get(column))
        .map(|text| text.chars().count())
        .chain(table.columns.get(column).map(|head| head.len()))
        .max()
        .unwrap_or(0);
    longest.clamp(6, 50) as f64 + 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table() -> Table {
        Table {
            name: "wires",
            columns: vec!["wire", "note"],
            rows: vec![
                vec!["W1".into(), "a \"quoted\" word, a comma".into()],
                vec!["W2".into(), "two\r\nlines".into()],
                vec!["W3".into(), "=1+1".into()],
                vec!["W4".into(), "-12".into()],
                vec!["W5".into(), "-1+cmd".into()],
            ],
        }
    }

    /// Source: RFC 4180, section 2, rules 1 (CRLF), 5 to 7 (quotes doubled, commas and line ends within quotes).
    #[test]
    fn csv_is_written_after_rfc_4180() {
        let mut out = Vec::new();
        table().write_csv(&mut out).unwrap();
        let text = String::from_utf8(out).unwrap();
        assert_eq!(
            text,
            "wire,note\r\nW1,\"a \"\"quoted\"\" word, a comma\"\r\nW2,\"two\r\nlines\"\r\nW3,'=1+1\r\nW4,-12\r\nW5,'-1+cmd\r\n"
        );
    }

    #[test]
    fn a_workbook_has_the_same_bytes_each_time() {
        let (one, other) = (workbook(&[table()], "a").unwrap(), workbook(&[table()], "a").unwrap());
        assert_eq!(one, other);
        assert_eq!(&one[..2], b"PK");
    }
}
