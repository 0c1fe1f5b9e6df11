//! The outline of a form: which value stands where, and under which path of fields.

use std::borrow::Cow;
use std::ops::Range;

use crate::lex::{Token, TokenKind, tokens};

/// Values nested deeper than this are not told apart. `ron` gives up at 128, so no form that is read goes deeper.
const DEEPEST: usize = 256;

/// All values of a text, parents before children, in the order of the text.
///
/// Any text has an outline: brackets that do not match are closed as they come, open ones at the end of the text.
pub(crate) struct Outline<'a> {
    text: &'a str,
    values: Vec<Value>,
}

/// One value: a word, a text, or a group with the name before it.
struct Value {
    parent: Option<usize>,
    key: Option<Range<usize>>,
    /// Which child of its parent, from 0.
    index: usize,
    span: Range<usize>,
    /// Where its opening bracket stands, if it is a group.
    bracket: Option<usize>,
    /// Whether the text holds all of it: not so for groups left open and for fields without a value, which stand
    /// at the mark that follows them.
    whole: bool,
}

impl<'a> Outline<'a> {
    /// Reads the outline of `text` in one pass.
    pub(crate) fn of(text: &'a str) -> Self {
        let mut builder = Builder { values: Vec::new(), groups: vec![Group::default()], too_deep: 0 };
        for token in tokens(text) {
            builder.add(token);
        }
        Self { text, values: builder.finish(text.len()) }
    }

    /// Every key with the group it stands in (a number of its own each) and its place, in the order of the text.
    pub(crate) fn keys(&self) -> impl Iterator<Item = (Option<usize>, Cow<'a, str>, Range<usize>)> + '_ {
        (0..self.values.len()).filter_map(|at| {
            let value = &self.values[at];
            Some((value.parent, self.key(at)?, value.key.clone()?))
        })
    }

    /// The value under `path`, or the deepest one on the way there; the second part says how many steps were found.
    pub(crate) fn follow(&self, path: &[&str]) -> Option<(Range<usize>, usize)> {
        let mut value = self.root()?;
        for (steps, step) in path.iter().enumerate() {
            match self.child(value, step) {
                Some(child) => value = child,
                None => return Some((self.values[value].span.clone(), steps)),
            }
        }
        Some((self.values[value].span.clone(), path.len()))
    }

    /// The value that ends at byte `offset`, or whose opening bracket does.
    pub(crate) fn ending_at(&self, offset: usize) -> Option<Range<usize>> {
        self.innermost(|value| {
            let opens = value.bracket.is_some_and(|at| at + 1 == offset);
            opens || value.whole && value.span.end == offset
        })
        .map(|value| self.values[value].span.clone())
    }

    /// The value that starts at byte `offset`.
    pub(crate) fn starting_at(&self, offset: usize) -> Option<Range<usize>> {
        self.innermost(|value| value.span.start == offset).map(|value| self.values[value].span.clone())
    }

    /// The innermost group around byte `offset`, its brackets included.
    pub(crate) fn group_around(&self, offset: usize) -> Option<Range<usize>> {
        self.innermost(|value| value.bracket.is_some_and(|at| at <= offset) && offset < value.span.end)
            .map(|value| self.values[value].span.clone())
    }

    /// The dotted path of fields to byte `offset`; empty at the outermost value.
    pub(crate) fn path_to(&self, offset: usize) -> String {
        let mut steps = Vec::new();
        let mut value = self.innermost(|value| value.span.contains(&offset));
        while let Some(at) = value {
            steps.extend(self.step_to(at));
            value = self.values[at].parent;
        }
        steps.reverse();
        steps.join(".")
    }

    fn root(&self) -> Option<usize> {
        (!self.values.is_empty()).then_some(0)
    }

    fn innermost(&self, around: impl Fn(&Value) -> bool) -> Option<usize> {
        self.values.iter().rposition(around)
    }

    fn child(&self, parent: usize, step: &str) -> Option<usize> {
        let matches = |child: &usize| match self.key(*child) {
            Some(key) => key == step,
            None => step.parse() == Ok(self.values[*child].index),
        };
        // `Some([7])`: step 0 means the 7, not the list.
        self.wrapped(parent)
            .and_then(|wrapped| self.child(wrapped, step))
            .or_else(|| self.children(parent).find(matches))
    }

    fn children(&self, parent: usize) -> impl Iterator<Item = usize> + '_ {
        let end = self.values[parent].span.end;
        (parent + 1..self.values.len())
            .take_while(move |child| self.values[*child].span.start < end)
            .filter(move |child| self.values[*child].parent == Some(parent))
    }

    /// The only value in round brackets, as in `Some((rows: 256))`: people do not think of it as a step of its own.
    fn wrapped(&self, parent: usize) -> Option<usize> {
        let bracket = self.values[parent].bracket?;
        let mut children = self.children(parent);
        let only = children.next().filter(|_| children.next().is_none())?;
        let wraps = self.text[bracket..].starts_with('(') && self.values[only].key.is_none();
        wraps.then_some(only)
    }

    fn step_to(&self, value: usize) -> Option<String> {
        let parent = self.values[value].parent?;
        if let Some(key) = self.key(value) {
            return Some(key.into_owned());
        }
        let in_fields = self.children(parent).next().is_some_and(|first| self.values[first].key.is_some());
        let unseen = in_fields || self.wrapped(parent) == Some(value);
        (!unseen).then(|| self.values[value].index.to_string())
    }

    /// A field's name without the marks of a raw name, a map key without its quotes.
    fn key(&self, value: usize) -> Option<Cow<'a, str>> {
        let key = self.text.get(self.values[value].key.clone()?)?;
        if key.contains('"') {
            return ron::from_str(key).map(Cow::Owned).ok();
        }
        Some(Cow::Borrowed(key.strip_prefix("r#").unwrap_or(key)))
    }
}

/// An open group while the outline is read.
#[derive(Default)]
struct Group {
    /// The value that the group belongs to; `None` for the text as a whole.
    value: Option<usize>,
    index: usize,
    key: Option<Range<usize>>,
    current: Option<usize>,
}

struct Builder {
    values: Vec<Value>,
    /// Never empty: the text as a whole, then every open group.
    groups: Vec<Group>,
    too_deep: usize,
}

impl Builder {
    fn add(&mut self, token: Token) {
        if self.too_deep > 0 {
            return self.pass_by(token.kind);
        }
        let Some(group) = self.groups.last_mut() else {
            return;
        };
        match token.kind {
            TokenKind::Comma => {
                self.note_missing_value(token.span);
                self.next_value();
            }
            TokenKind::Colon => {
                if let Some(key) = group.current.take() {
                    group.key = Some(self.values[key].span.clone());
                    self.values.truncate(key);
                }
            }
            TokenKind::Close => {
                self.note_missing_value(token.span.clone());
                self.close(token.span.end);
            }
            TokenKind::Open => self.open(token.span),
            TokenKind::Quoted | TokenKind::Word => {
                self.grow(token.span);
            }
            TokenKind::OpenComment => {}
        }
    }

    fn next_value(&mut self) {
        if let Some(group) = self.groups.last_mut() {
            group.current = None;
            group.key = None;
            group.index += 1;
        }
    }

    /// A field whose value is left out gets one at the `mark` that follows, so that the place has a path.
    fn note_missing_value(&mut self, mark: Range<usize>) {
        let missing = |group: &Group| group.key.is_some() && group.current.is_none();
        if !self.groups.last().is_some_and(missing) {
            return;
        }
        if let Some(value) = self.grow(mark) {
            self.values[value].whole = false;
        }
    }

    /// Makes `span` part of the value at hand, or the start of a new one.
    fn grow(&mut self, span: Range<usize>) -> Option<usize> {
        let group = self.groups.last_mut()?;
        let value = *group.current.get_or_insert_with(|| {
            self.values.push(Value {
                parent: group.value,
                key: group.key.clone(),
                index: group.index,
                span: span.clone(),
                bracket: None,
                whole: true,
            });
            self.values.len() - 1
        });
        self.values[value].span.end = span.end;
        Some(value)
    }

    fn open(&mut self, span: Range<usize>) {
        if self.groups.len() > DEEPEST {
            self.too_deep = 1;
            return;
        }
        let bracket = span.start;
        let value = self.grow(span);
        if let Some(value) = value {
            self.values[value].bracket.get_or_insert(bracket);
        }
        self.groups.push(Group { value, ..Group::default() });
    }

    /// Closes the innermost group; a closing bracket too many is passed by.
    fn close(&mut self, end: usize) {
        if self.groups.len() < 2 {
            return;
        }
        if let Some(value) = self.groups.pop().and_then(|group| group.value) {
            self.values[value].span.end = end;
        }
    }

    fn pass_by(&mut self, kind: TokenKind) {
        match kind {
            TokenKind::Open => self.too_deep += 1,
            TokenKind::Close => self.too_deep -= 1,
            _ => {}
        }
    }

    /// Ends the groups left open at the `end` of the text.
    fn finish(mut self, end: usize) -> Vec<Value> {
        for group in &self.groups {
            if let Some(value) = group.value {
                self.values[value].span.end = end;
                self.values[value].whole = false;
            }
        }
        self.values
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const FORM: &str = r#"#![enable(implicit_some)]
(
    registers: { "displayed": 31, "total": 40 },
    quirks: [Swap, Rows(rows: 256), Some((rows: 128))],
    pair: (7, 8),
    list: Some([9]),
)"#;

    fn under(path: &[&str]) -> Option<&'static str> {
        let (span, steps) = Outline::of(FORM).follow(path)?;
        (steps == path.len()).then(|| &FORM[span])
    }

    #[test]
    fn fields_keys_and_elements_are_found() {
        assert_eq!(under(&["registers", "total"]), Some("40"));
        assert_eq!(under(&["quirks", "0"]), Some("Swap"));
        assert_eq!(under(&["quirks", "1"]), Some("Rows(rows: 256)"));
        assert_eq!(under(&["quirks", "1", "rows"]), Some("256"));
        assert_eq!(under(&["quirks", "2", "rows"]), Some("128"));
        assert_eq!(under(&["pair", "1"]), Some("8"));
        assert_eq!(under(&["list", "0"]), Some("9"));
        assert_eq!(under(&["quirks", "3"]), None);
        assert_eq!(under(&["registers", "start"]), None);
    }

    #[test]
    fn every_place_has_a_path() {
        let outline = Outline::of(FORM);
        let path_of = |token: &str| outline.path_to(FORM.find(token).unwrap());
        assert_eq!(path_of("31"), "registers.displayed");
        assert_eq!(path_of("256"), "quirks.1.rows");
        assert_eq!(path_of("128"), "quirks.2.rows");
        assert_eq!(path_of("7,"), "pair.0");
        assert_eq!(path_of("(7"), "pair");
        assert_eq!(path_of("(\n"), "");
    }

    #[test]
    fn a_field_without_a_value_has_a_path_still() {
        let text = "(a: (b: ), c: , d)";
        let outline = Outline::of(text);
        assert_eq!(outline.path_to(text.find(')').unwrap()), "a.b");
        assert_eq!(outline.path_to(text.find(", d").unwrap()), "c");
        assert_eq!(outline.path_to(text.find('d').unwrap()), "");
    }

    #[test]
    fn nesting_without_end_is_cheap() {
        let text = "(".repeat(1 << 20);
        assert!(Outline::of(&text).values.len() <= DEEPEST);
        let text = format!("({}{},after: 1)", "[".repeat(1000), "]".repeat(1000));
        assert_eq!(Outline::of(&text).follow(&["after"]).unwrap().1, 1);
    }

    proptest! {
        #[test]
        fn any_text_has_an_outline(text in r#"[()\[\]{},:"'\\/*r#b a0\n]{0,80}"#, path in "[a0]") {
            let outline = Outline::of(&text);
            outline.follow(&[&path, &path]);
            for offset in 0..=text.len() {
                outline.path_to(offset);
                outline.ending_at(offset);
                outline.group_around(offset);
            }
            for value in &outline.values {
                prop_assert!(text.get(value.span.clone()).is_some());
            }
        }
    }
}
