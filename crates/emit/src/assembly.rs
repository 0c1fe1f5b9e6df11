//! A table as an assembly include: constants and data in the plain destination-first syntax.

use super::c::identifier;
use super::table::{WriteTable, code, words};

impl WriteTable {
    /// The table as an include for assemblers that put the destination first. `name` is made
    /// an identifier; the include defines the label and, after it, its length
    /// in entries of four bytes: port, value, moment.
    #[must_use]
    pub fn to_assembly(&self, name: &str) -> String {
        let name = identifier(name);
        let mut text = String::new();
        for line in self.head() {
            text += &format!("; {line}\n");
        }
        text += ";\n; An entry is four bytes: the port (word), the value, and where the beam has to be:\n\
                 ; 0 anywhere, 1 in vertical retrace, 2 in the active area.\n\n";
        text += &format!("{name}:\n");
        let mut stage = None;
        let mut count = 0;
        for row in self.rows() {
            if stage != Some(row.stage.purpose) {
                stage = Some(row.stage.purpose);
                text += &format!("    ; {} ({})\n", row.stage.purpose, words(row.stage.moment));
            }
            let moment = code(row.stage.moment);
            text += &format!("    dw 0{:03X}h\n    db 0{:02X}h, {moment} ; {}\n", row.port, row.value, row.says());
            count += 1;
        }
        text += &format!("{name}_length equ {count}\n");
        text
    }
}
