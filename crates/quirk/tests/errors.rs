//! What is wrong with a quirk file, said in one line that points at the word.

use backporch_input::Source;
use backporch_quirk::Family;

fn error(parameters: &str, effects: &str) -> String {
    let text = format!(
        "(\n version: 1,\n name: \"test\",\n title: \"t\", cause: \"c\", looks: \"l\",\n standing: Known, prior: 1,\n \
         parameters: {{{parameters}}},\n effects: [{effects}],\n)"
    );
    match Family::from_source(&Source::built_in("q", text)) {
        Ok(_) => "none".to_owned(),
        Err(error) => error.to_string(),
    }
}

#[test]
fn errors_point_at_line_and_column() {
    let row = "(does: Address(RowReload(row_bytes: \"rows\", reloads: 1)))";
    let cases = [
        (r#""rows": Choice([256])"#, row, "none"),
        (
            r#""rows": Choice([256, 96])"#,
            row,
            "q:6:23: parameters.rows: found 96, allowed a power of two, 2 to 65536, as row_bytes takes it",
        ),
        (
            "",
            row,
            "q:7:48: effects.0.does.row_bytes: found \"rows\", \
             allowed a number (a power of two, 2 to 65536), no parameter being open",
        ),
        (
            r#""rows": Choice([256]), "more": Range(from: 1, to: 2)"#,
            row,
            "q:6:46: parameters.more: found a parameter no effect uses, allowed parameters that effects use",
        ),
        (
            r#""rows": Range(from: 2, to: 1)"#,
            row,
            "q:6:23: parameters.rows: found 0 values, \
             allowed 1 to 65536 values, a range from low to high in steps of 1 or more",
        ),
        (r#""rows": Choice([256, 512, 256])"#, row, "q:6:41: parameters.rows.2: found 256, allowed each value once"),
        ("", "", "q:7:11: effects: found 0, allowed 1 to 32 effects"),
        ("", "(does: Address(CarryBroken(bit: 20)))", "q:7:44: effects.0.does.bit: found 20, allowed 1 to 19"),
        (
            "",
            "(when: All([Always, Is(of: Remainder(Line, 0), value: 1)]), does: Address(CarryBroken(bit: 2)))",
            "q:7:55: effects.0.when.1.of.1: found 0, allowed 1 to 16777216",
        ),
        (
            "",
            "(when: Is(of: Byte, value: 1), does: Latch(BitsLow(bits: 2)))",
            "q:7:26: effects.0.when.of: found Byte, \
             allowed what is known to an action on the take-over of the start address: Frame, Start, SinceWrite",
        ),
        (
            "",
            "(when: Chance(in_1000: 3, each: Write), does: Address(CarryBroken(bit: 2)))",
            "q:7:44: effects.0.when.each: found Write, allowed Frame, Line, Place for an action on a byte of a line",
        ),
    ];
    for (parameters, effects, expected) in cases {
        assert_eq!(error(parameters, effects), expected);
    }
}

#[test]
fn a_misspelt_action_field_or_parameter_is_guessed() {
    let wrong = error("", "(does: Adress(CarryBroken(bit: 2)))");
    assert!(wrong.starts_with("q:7:") && wrong.contains("Adress") && wrong.contains("Address"), "{wrong}");
    let wrong = error("", "(does: Address(CarryBroken(bits: 2)))");
    assert!(wrong.starts_with("q:7:") && wrong.contains("bits"), "{wrong}");
}

#[test]
fn too_many_members_are_refused() {
    let parameters: Vec<String> = (0..3).map(|n| format!("\"p{n}\": Range(from: 0, to: 65535)")).collect();
    let wrong = error(&parameters.join(", "), "(does: Address(CarryBroken(bit: 2)))");
    assert!(wrong.contains("too many members"), "{wrong}");
}
