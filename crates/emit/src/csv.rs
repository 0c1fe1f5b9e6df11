//! A table as comma-separated values, for spreadsheets and scripts (RFC 4180).

use super::table::{WriteTable, register, words};

impl WriteTable {
    /// The table as CSV: a heading and a line for each port write, numbers in decimal.
    #[must_use]
    pub fn to_csv(&self) -> String {
        let mut text = String::from("order,port,value,moment,register,says\r\n");
        for (order, row) in (1..).zip(self.rows()) {
            let fields = [words(row.stage.moment).to_string(), register(row.cell), row.says()];
            let fields = fields.map(|field| quoted(&field)).join(",");
            text += &format!("{order},{},{},{fields}\r\n", row.port, row.value);
        }
        text
    }
}

/// A field, in quotes where it needs them.
fn quoted(field: &str) -> String {
    if field.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", field.replace('"', "\"\""))
    } else {
        field.to_string()
    }
}
