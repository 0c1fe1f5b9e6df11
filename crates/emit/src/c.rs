//! A table as a C header: C89, nothing included, nothing but data.

use super::table::{WriteTable, code, words};

impl WriteTable {
    /// The table as a C header. `name` is made an identifier; the header
    /// defines one constant array of that name and its length.
    #[must_use]
    pub fn to_c(&self, name: &str) -> String {
        let name = identifier(name);
        let guard = format!("{}_H", name.to_uppercase());
        let mut text = String::from("/*\n");
        for line in self.head() {
            text += &format!(" * {}\n", line.replace("*/", "* /"));
        }
        text += &format!(" */\n#ifndef {guard}\n#define {guard}\n\n");
        text += "#ifndef BACKPORCH_WRITE\n#define BACKPORCH_WRITE\n\
                 /* Where the beam has to be for a write. */\n\
                 #define BACKPORCH_ANYTIME 0\n#define BACKPORCH_RETRACE 1\n#define BACKPORCH_ACTIVE 2\n\n\
                 /* One byte to one port. */\n\
                 struct backporch_write {\n    unsigned short port;\n    unsigned char value;\n    unsigned char moment;\n};\n\
                 #endif\n\n";
        text += &format!("static const struct backporch_write {name}[] = {{\n");
        let mut stage = None;
        for row in self.rows() {
            if stage != Some(row.stage.purpose) {
                stage = Some(row.stage.purpose);
                text += &format!("    /* {} ({}) */\n", row.stage.purpose, words(row.stage.moment));
            }
            let moment = ["BACKPORCH_ANYTIME", "BACKPORCH_RETRACE", "BACKPORCH_ACTIVE"];
            let moment = moment[usize::from(code(row.stage.moment))];
            text += &format!("    {{ 0x{:03X}, 0x{:02X}, {moment} }}, /* {} */\n", row.port, row.value, row.says());
        }
        text += &format!("}};\n\n#define {name}_length (sizeof {name} / sizeof {name}[0])\n\n#endif\n");
        text
    }
}

/// A name that C and assembly take: letters, digits and underscores, no digit first.
pub(super) fn identifier(name: &str) -> String {
    let legal = |c: char| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '_' };
    let name: String = name.chars().map(legal).collect();
    match name.chars().next() {
        Some(first) if !first.is_ascii_digit() => name,
        _ => format!("t_{name}"),
    }
}
