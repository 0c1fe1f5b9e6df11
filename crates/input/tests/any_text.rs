//! Properties: no text makes the reader panic, and every value of a form is found under its path.

use std::collections::BTreeMap;

use backporch_input::{Number, Range, Source, TextPosition, Version1, parse};
use proptest::prelude::*;
use serde::Deserialize;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(dead_code, reason = "read for its errors only")]
struct AnyForm {
    a: Version1,
    b: Option<Box<AnyForm>>,
    c: Vec<Step>,
    d: BTreeMap<String, Number>,
    e: (u8, f32, char, bool),
    f: Range,
}

#[derive(Debug, Deserialize)]
#[allow(dead_code, reason = "read for its errors only")]
enum Step {
    A,
    B(i16),
    C { a: String },
}

fn assert_one_line(text: &str) {
    if let Err(error) = parse::<AnyForm>(&Source::built_in("any", text)) {
        let lines = text.matches('\n').count() + 1;
        assert!(error.line().is_some_and(|line| line as usize <= lines));
        assert_eq!(error.to_string().lines().count(), 1);
        assert!(!error.to_string().contains("AnyForm"), "{error}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn any_text_gives_one_line(text in "(?s).{0,60}") {
        assert_one_line(&text);
    }

    #[test]
    fn any_ron_like_text_gives_one_line(
        pieces in proptest::collection::vec(
            prop::sample::select(vec![
                "(", ")", "[", "]", "{", "}", ",", ":", "a", "b", "c", "d", "e", "f", "A", "B(", "C(", "1", "-1", "300",
                "0x", "27h", "\"", "'", "r#\"", "\"#", "r#", "//", "/*", "*/", "/", "\\", "\n", " ", "é", "1.5", "..",
                "Some(", "None", "true", "_", "#![enable(", ")]", "u8", "99999999999999999999", "(a:1,", "c:[", "d:{\"x\":",
                "e:(1,2,'x',true),", "f:\"0..3\",",
            ]),
            0..30,
        )
    ) {
        assert_one_line(&pieces.concat());
    }

    #[test]
    fn any_path_in_any_text_is_answered(text in r#"[()\[\]{},:"'/*r#b a0\n]{0,60}"#, path in "[ab01]{0,3}") {
        let source = Source::built_in("any", text);
        let steps: Vec<&str> = path.split("").filter(|step| !step.is_empty()).collect();
        let place = source.locate(&steps);
        let fault = source.fault(&steps, 1, 2);
        if let Some(TextPosition { line, column }) = place {
            prop_assert_eq!((fault.line(), fault.column()), (Some(line), Some(column)));
        }
    }
}

/// A form made up for the test.
#[derive(Clone, Debug)]
enum Tree {
    Leaf(&'static str),
    List(Vec<Tree>),
    Fields(&'static str, Vec<Tree>),
    Map(Vec<Tree>),
    Some(Box<Tree>),
}

const LEAVES: [&str; 8] = ["0x27", "-1.5", "Swap", "\"a, (b: 1) \\\" //\"", "r#\"]),\"\"#", "'\\''", "b\"}\"", "true"];
const BLANKS: [&str; 6] = ["", " ", "\n", " // x: 1, (\n", "/* y: [ /* ' */ \" */", "\t"];
const NAMES: [&str; 3] = ["", "Rows", "r#type"];

fn tree() -> impl Strategy<Value = Tree> {
    let leaf = prop::sample::select(&LEAVES[..]).prop_map(Tree::Leaf);
    leaf.prop_recursive(4, 40, 4, |inner| {
        // One value in round brackets is seen through, so made-up forms wrap on purpose only.
        let some = proptest::collection::vec(inner.clone(), 0..4);
        let name = prop::sample::select(&NAMES[..]);
        prop_oneof![
            some.clone().prop_map(Tree::List),
            (name, some.clone()).prop_map(|(name, fields)| Tree::Fields(name, fields)),
            some.prop_map(Tree::Map),
            inner.prop_map(|only| Tree::Some(Box::new(only))),
        ]
    })
}

/// Writes forms, and where each value came to stand under which path.
struct Writer {
    text: String,
    blanks: Vec<usize>,
    written: usize,
    values: Vec<(Vec<String>, usize)>,
}

impl Writer {
    fn blank(&mut self) {
        let pick = self.blanks[self.written % self.blanks.len()];
        self.written += 1;
        self.text.push_str(BLANKS[pick]);
    }

    fn write(&mut self, tree: &Tree, path: &[String]) {
        self.values.push((path.to_vec(), self.text.len()));
        self.write_unseen(tree, path);
    }

    fn write_unseen(&mut self, tree: &Tree, path: &[String]) {
        match tree {
            Tree::Leaf(leaf) => self.text.push_str(leaf),
            Tree::List(items) => self.group(items, path, ["[", "]"], |index| (index.to_string(), String::new())),
            Tree::Fields(name, items) => {
                self.text.push_str(name);
                self.group(items, path, ["(", ")"], |index| (format!("f{index}"), format!("f{index}")));
            }
            Tree::Map(items) => {
                self.group(items, path, ["{", "}"], |index| (format!("k {index}"), format!("\"k {index}\"")));
            }
            Tree::Some(only) => {
                self.text.push_str("Some(");
                self.blank();
                self.write_unseen(only, path);
                self.blank();
                self.text.push(')');
            }
        }
    }

    fn group(
        &mut self,
        items: &[Tree],
        path: &[String],
        [open, close]: [&str; 2],
        step: impl Fn(usize) -> (String, String),
    ) {
        self.text.push_str(open);
        for (index, item) in items.iter().enumerate() {
            let (step, key) = step(index);
            self.blank();
            if !key.is_empty() {
                self.text.push_str(&key);
                self.blank();
                self.text.push(':');
                self.blank();
            }
            self.write(item, &[path, &[step]].concat());
            self.blank();
            self.text.push(',');
        }
        self.blank();
        self.text.push_str(close);
    }
}

proptest! {
    #[test]
    fn every_value_is_found_under_its_path(
        tree in tree(),
        blanks in proptest::collection::vec(0..BLANKS.len(), 1..20),
    ) {
        let mut writer = Writer { text: String::new(), blanks, written: 0, values: Vec::new() };
        writer.blank();
        writer.write(&tree, &[]);
        let source = Source::built_in("made-up", writer.text.clone());
        for (path, offset) in writer.values {
            let steps: Vec<&str> = path.iter().map(String::as_str).collect();
            let before = &writer.text[..offset];
            let line = before.split('\n').count() as u32;
            let column = before.rsplit('\n').next().unwrap_or_default().chars().count() as u32 + 1;
            prop_assert_eq!(source.locate(&steps), Some(TextPosition { line, column }), "{:?} in\n{}", steps, source.text());
        }
    }
}
