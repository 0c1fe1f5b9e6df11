//! What a family says that can never come about, and how it is said back.

use backporch_input::Source;
use backporch_quirk::Family;

fn family(parameters: &str, effects: &str) -> Family {
    let text = format!(
        "(version: 1, name: \"test\", title: \"t\", cause: \"c\", looks: \"l\", standing: Known, prior: 1, \
         parameters: {{{parameters}}}, effects: [{effects}])"
    );
    Family::from_source(&Source::built_in("q", text)).unwrap()
}

#[test]
fn conditions_that_never_hold_are_named() {
    let never = "(when: All([Is(of: Line, value: 3), Is(of: Line, value: 5)]), does: Address(CarryBroken(bit: 8)))";
    let sound = "(when: Is(of: Line, value: 3), does: Address(CarryBroken(bit: 8)))";
    let warnings = family("", &format!("{sound}, {never}")).warnings();
    assert_eq!(warnings, ["effect 1: its condition can never hold"]);
}

#[test]
fn effects_that_never_show_are_named() {
    for (effect, warning) in [
        ("(does: Address(Moved(bytes: 0)))", "effect 0: it changes nothing"),
        ("(does: Address(RowReload(row_bytes: 256, reloads: 32)))", "effect 0: it changes nothing"),
        (
            "(does: Fetch(HalvesSwapped)), (does: Fetch(Value(value: 0)))",
            "effect 0: it never shows, a later effect hiding all it does",
        ),
        (
            "(does: Pixel(PairSwapped), threshold: (of: Pitch, from: 0, does: Pixel(Panned(pixels: 1))))",
            "effect 0: its first action never acts, the threshold being always met",
        ),
        (
            "(does: Pixel(PairSwapped), threshold: (of: RowAddress, from: 32, does: Pixel(Panned(pixels: 1))))",
            "effect 0: its threshold is never met",
        ),
    ] {
        assert_eq!(family("", effect).warnings(), [warning], "{effect}");
    }
    let sometimes = "(does: Fetch(HalvesSwapped)), (when: Text, does: Fetch(Value(value: 0)))";
    assert_eq!(family("", sometimes).warnings(), [""; 0], "hidden in text only");
}

#[test]
fn a_warning_names_a_member_it_is_about() {
    let some = family(
        r#""phase": Range(from: 0, to: 5), "bytes": Choice([2, 0])"#,
        r#"(when: Every(of: Line, count: 4, phase: "phase"), does: Address(Moved(bytes: "bytes")))"#,
    );
    assert_eq!(
        some.warnings(),
        [
            "effect 0 with some members, such as test(phase: 4, bytes: 2): its condition can never hold",
            "effect 0 with some members, such as test(phase: 0, bytes: 0): it changes nothing",
        ]
    );
}

#[test]
fn families_and_members_are_said_back_in_plain_words() {
    let family = family(
        r#""rows": Choice([256, 512]), "bits": Choice([0x1F])"#,
        r#"(
            when: All([Every(of: Line, count: 4, phase: 3), Not(Bits(of: Start, mask: "bits", value: 0))]),
            does: Address(RowReload(row_bytes: "rows", reloads: 1)),
            threshold: (of: Tail("rows", 1), from: 16, does: Address(Moved(bytes: -2))),
        )"#,
    );
    assert_eq!(
        family.describe(),
        [
            "When the line of the picture is 3 modulo 4 and it is not so that the start address has 0 in bits <bits>: with \
          memory rows of <rows> bytes the row address is reloaded at most 1 time(s) on a line; past the next crossing the \
          column keeps counting within the old row; but once the number of the line's bytes beyond 1 crossing(s) of \
          <rows>-byte rows is 16 or more, the byte is fetched -2 byte(s) further on in memory."
        ]
    );
    let member = family.close_default();
    assert_eq!(member.to_string(), "test(rows: 256, bits: 31)");
    assert!(member.describe()[0].contains("has 0 in bits 1Fh: with memory rows of 256 bytes"));
}

/// Looking at a family takes bounded effort, however much it says.
#[test]
fn the_widest_families_are_looked_at_too() {
    let leaf = |of: &str, n: usize| format!("Not(Within(of: {of}, from: {}, to: {}))", n * 1000, n * 1000 + 7);
    let parts: Vec<String> = (0..31).map(|n| leaf(if n % 2 == 0 { "Start" } else { "Frame" }, n)).collect();
    let effect = format!("(when: All([{}]), does: Address(Moved(bytes: \"bytes\")))", parts.join(", "));
    let effects = vec![effect; 32].join(", ");
    let family = family(r#""bytes": Range(from: -60000, to: 5000)"#, &effects);
    assert_eq!(family.count(), 65001);
    let _ = family.warnings();
}
