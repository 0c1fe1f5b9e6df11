//! What people read when a form is wrong: one line with the place, the field, what was found and what is allowed.

use std::collections::BTreeMap;

use backporch_input::{InputError, Number, Range, Source, Version1, parse, refuse};
use serde::{Deserialize, Deserializer};

/// A form with one field of every kind that the project's forms use.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(dead_code, reason = "read for its errors only")]
struct BenchForm {
    version: Version1,
    title: String,
    registers: RegistersForm,
    #[serde(default)]
    quirks: Vec<QuirkForm>,
    #[serde(default)]
    aspect: Option<(u32, u32)>,
    #[serde(default)]
    sweep: Option<Range>,
    #[serde(default)]
    by_number: BTreeMap<String, Number>,
    #[serde(default)]
    tagged: Option<TaggedForm>,
    #[serde(default)]
    either: Option<EitherForm>,
    #[serde(default)]
    even: Option<Even>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(dead_code, reason = "read for its errors only")]
struct RegistersForm {
    displayed: u8,
    #[serde(default)]
    start_address: u16,
    #[serde(default)]
    skew: i8,
    #[serde(default)]
    dot_clock: f64,
    #[serde(default)]
    interlaced: bool,
}

#[derive(Debug, Deserialize)]
#[allow(dead_code, reason = "read for its errors only")]
enum QuirkForm {
    Swap,
    Rows { rows: u16 },
    Shift(i16),
}

#[derive(Debug, Deserialize)]
#[serde(tag = "kind", deny_unknown_fields)]
#[allow(dead_code, reason = "read for its errors only")]
enum TaggedForm {
    Wait { line: u16 },
}

#[derive(Debug, Deserialize)]
#[serde(untagged)]
#[allow(dead_code, reason = "read for its errors only")]
enum EitherForm {
    Line(u16),
    Name(String),
}

#[derive(Debug)]
struct Even;

impl<'de> Deserialize<'de> for Even {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        match u32::deserialize(deserializer)? {
            even if even % 2 == 0 => Ok(Self),
            odd => Err(refuse(format_args!("the odd {odd}"), "an even number")),
        }
    }
}

fn error(text: &str) -> InputError {
    parse::<BenchForm>(&Source::built_in("b", text)).unwrap_err()
}

/// The error of a form that is right but for `field`, which stands on line 2 from column 1.
fn error_in(field: &str) -> InputError {
    error(&format!("(version: 1, title: \"quay\", registers: (displayed: 39),\n{field},\n)"))
}

/// Holds the message of each text in a table of `text => message` lines against what is read; `␤` is a line break.
///
/// All that differ are shown at once.
fn assert_messages(read: impl Fn(&str) -> InputError, table: &str) {
    let rows = table.lines().filter_map(|line| line.trim().split_once(" => "));
    let wrong: Vec<String> = rows
        .map(|(text, wanted)| (text, wanted, read(&text.replace('␤', "\n")).to_string()))
        .filter(|(_, wanted, given)| given != wanted)
        .map(|(text, wanted, given)| format!("{text}\n  gives  {given}\n  wanted {wanted}"))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The same for one field of the registers, which begins in column 1 of line 2.
fn error_in_registers(field: &str) -> InputError {
    let text = format!("(version: 1, title: \"quay\", registers: (displayed: 39,\n{field}\n))");
    error(&text)
}

#[test]
fn a_right_form_is_read() {
    let text = "#![enable(unwrap_newtypes)]
        BenchForm(version: 1, title: r#\"quay\"#, registers: (displayed: 0x27, skew: -3, dot_clock: 14.5),
        quirks: [Swap, Rows(rows: 256), Shift(-2)], aspect: (4, 3), sweep: \"0..=32/16\",
        by_number: { \"R1\": 0x27, \"R2\": \"2Dh\" }, tagged: (kind: \"Wait\", line: 3), either: \"top\", even: 2)";
    let form = parse::<BenchForm>(&Source::built_in("b", text)).unwrap();
    assert_eq!(form.registers.displayed, 39);
    assert_eq!(form.by_number["R2"].get(), 0x2d);
}

#[test]
fn unknown_names_are_shown_with_those_that_are_known() {
    let unknown = error_in("registers: (displayed: 39)");
    assert_eq!(unknown.to_string(), "b:2:1: registers: found the field again, allowed it once in each group");
    let unknown = error("(version: 1, title: \"quay\", registers: (\n    dispalyed: 39))");
    assert_eq!(
        unknown.to_string(),
        "b:2:5: registers.dispalyed: found an unknown field, allowed displayed, start_address, skew, dot_clock, interlaced"
    );
    assert_eq!(unknown.help(), Some("did you mean displayed?"));
    let unknown = error_in("quirks: [Swap, rows(rows: 256)]");
    assert_eq!(unknown.to_string(), "b:2:16: quirks.1: found rows, allowed Swap, Rows, Shift");
    assert_eq!(unknown.help(), Some("did you mean Rows?"));
    let unknown = error_in("quirks: [Palette]");
    assert_eq!(unknown.help(), None);
}

#[test]
fn a_missing_field_points_at_its_group() {
    let missing = error("(version: 1, title: \"quay\", registers: (\n    skew: 1,\n  ))");
    assert_eq!(missing.to_string(), "b:3:3: registers.displayed: found nothing, allowed a value for this field");
    assert_eq!(
        error("(title: \"quay\")").to_string(),
        "b:1:15: version: found nothing, allowed a value for this field"
    );
    assert_eq!(
        error_in("quirks: [Rows()]").to_string(),
        "b:2:15: quirks.0.rows: found nothing, allowed a value for this field"
    );
}

#[test]
fn numbers_out_of_bounds_are_shown_with_the_bounds() {
    assert_messages(
        error_in_registers,
        "
        start_address: 70_000 => b:2:16: registers.start_address: found 70_000, allowed 0..=65535
        start_address: -1 => b:2:16: registers.start_address: found -1, allowed 0..=65535
        start_address: 0x1FFFF => b:2:16: registers.start_address: found 0x1FFFF, allowed 0..=65535
        skew: 128 => b:2:7: registers.skew: found 128, allowed -128..=127
        ",
    );
    assert_messages(
        error_in,
        r#"
        aspect: (4, 5000000000) => b:2:13: aspect.1: found 5000000000, allowed 0..=4294967295
        quirks: [Shift(40000)] => b:2:16: quirks.0: found 40000, allowed -32768..=32767
        by_number: {"R2": 18446744073709551616} => b:2:19: by_number.R2: found 18446744073709551616, allowed a whole number such as 39, 0x27 or "27h"
        "#,
    );
}

#[test]
fn wrong_kinds_are_named_in_plain_words() {
    assert_messages(
        error_in_registers,
        r#"
        start_address: "a" => b:2:16: registers.start_address: found "a", allowed a whole number, 0..=65535
        start_address: 3.5 => b:2:16: registers.start_address: found 3.5, allowed a whole number, 0..=65535
        start_address: 27h => b:2:16: registers.start_address: found 27h, allowed a whole number, 0..=65535
        start_address: 2A => b:2:16: registers.start_address: found 2A, allowed a whole number, 0..=65535
        start_address: [1] => b:2:16: registers.start_address: found a list in [ ], allowed a whole number, 0..=65535
        start_address: , => b:2:16: registers.start_address: found `,`, allowed a whole number, 0..=65535
        interlaced: 1 => b:2:13: registers.interlaced: found 1, allowed true or false
        dot_clock: fast => b:2:12: registers.dot_clock: found fast, allowed a number
        dot_clock: 3.5x => b:2:12: registers.dot_clock: found 3.5x, allowed a number
        "#,
    );
    assert_messages(
        error_in,
        r#"
        quirks: Swap => b:2:9: quirks: found Swap, allowed a list in [ ]
        quirks: ["Swap"] => b:2:10: quirks.0: found "Swap", allowed a name without quotes
        quirks: [Rows] => b:2:14: quirks: found `]`, allowed values in ( )
        aspect: 4 => b:2:9: aspect: found 4, allowed values in ( )
        aspect: (4) => b:2:9: aspect: found 1 value, allowed 2 values
        aspect: (4, 3, 2) => b:2:16: aspect.2: found 2, allowed `)`
        sweep: "9..3" => b:2:8: sweep: found 9..3, allowed a TO above FROM (TO itself is left out)
        by_number: (a: 1) => b:2:12: by_number: found values in ( ), allowed a map in { }
        even: 3 => b:2:7: even: found the odd 3, allowed an even number
        either: 70000 => b:2:9: either: found 70000, allowed one of the shapes this field can have
        tagged: (kind: "Wait", line: "a") => b:2:9: tagged: found "a", allowed a whole number, 0..=65535
        tagged: (kind: "Stop") => b:2:16: tagged.kind: found Stop, allowed Wait
        tagged: (line: 3) => b:2:17: tagged.kind: found nothing, allowed a value for this field
        "#,
    );
    assert_messages(
        error,
        r#"
        (version: 1, title: 5) => b:1:21: title: found 5, allowed text in double quotes
        (version: 1, title: "", registers: {}) => b:1:36: registers: found a map in { }, allowed fields in ( )
        Board(version: 1) => b:1:1: found the name Board, allowed fields in ( )
        "#,
    );
}

#[test]
fn broken_ron_points_at_the_break() {
    assert_messages(
        error,
        r#"
        (version: 1 title: "quay") => b:1:13: found title, allowed a comma or a closing bracket
        (version: 1,␤ title "quay") => b:2:8: found "quay", allowed a colon and a value
        (version: 1, title: "quay => b:1:21: title: found text without an end, allowed a closing quote
        (version: 1, title: "a\qb") => b:1:23: title: found an unknown escape, allowed an escape such as \\, \" or \n
        (version: 1 => b:1:12: found the end of the file, allowed a comma or a closing bracket
        (version: => b:1:10: found the end of the file, allowed the rest of the form
        (version: /x 1) => b:1:11: version: found /x, allowed a comment, begun with // or /*
        (version: 1, /* title => b:1:14: found /* title, allowed a comment closed with */
        (start-address: 1) => b:1:2: found start-address, allowed a name of letters, digits and underscores
        #![enable(wings)] () => b:1:16: found wings, allowed an extension that RON knows, such as implicit_some
        #![allow(wings)] () => b:1:4: found a broken attribute, allowed an attribute as in #![enable(implicit_some)], or none
        #!(wings) () => b:1:3: found a broken attribute, allowed an attribute as in #![enable(implicit_some)], or none
        (version: 1, title: "quay", registers: (displayed: 39)) more => b:1:57: found more, allowed nothing after the end of the form
        "#,
    );
    assert_eq!(error("").to_string(), "b:1:1: found the end of the file, allowed fields in ( )");
    assert_eq!(error("\0\0").to_string(), "b:1:1: found \\u{0}\\u{0}, allowed fields in ( )");
}

#[test]
fn depth_without_end_is_an_error_like_any_other() {
    #[derive(Debug, Deserialize)]
    struct Nest(#[allow(dead_code, reason = "read for its errors only")] Vec<Nest>);
    let text = format!("#![enable(unwrap_newtypes)]{}", "[".repeat(1 << 16));
    let error = parse::<Nest>(&Source::built_in("b", text)).unwrap_err();
    assert_eq!(error.found(), "brackets nested too deep");
}

#[test]
fn a_hint_on_hexadecimal_says_how_to_write_it() {
    let text = "(version: 1, title: \"\", registers: (displayed: 27h))";
    assert_eq!(error(text).help(), Some("hexadecimal is written 0x27 here"));
}
