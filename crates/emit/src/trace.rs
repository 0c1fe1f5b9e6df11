//! A table as a write trace: the same writes, placed at dots of the beam.

use super::table::WriteTable;

impl WriteTable {
    /// The table as a write trace, CSV of `dot,kind,address,value`, dots
    /// counted from the start of a frame under the mode's start-up values.
    #[must_use]
    pub fn to_trace(&self) -> String {
        let mut text = String::from("dot,kind,address,value\n");
        for (dot, port, value) in &self.timed {
            text += &format!("{dot},port,{port},{value}\n");
        }
        text
    }

    /// Every port write and the dot of the beam at which it is made.
    #[must_use]
    pub fn timed(&self) -> &[(u64, u16, u8)] {
        &self.timed
    }
}
