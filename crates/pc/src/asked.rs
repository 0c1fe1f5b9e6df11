//! What a program asked for that the machine does not have.
//!
//! A lenient machine answers as one that lacks the thing: an empty bus, "not
//! installed", a write that goes nowhere. It notes what was asked for, once
//! each, with the instruction that asked first.

use crate::registers::Far;
use crate::trouble::Trouble;

/// Different things that are noted; a program that walks through all ports asks for more.
const MOST: usize = 64;

/// Bytes of an address range that counts as one place.
const PLACE: u32 = 0x8000;

/// One thing that was asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// What it was, as it came first.
    pub what: Trouble,
    /// The instruction that asked first.
    pub at: Far,
    /// How often it was asked for.
    pub times: u64,
}

/// Everything asked for, in the order in which it came.
#[derive(Clone, Debug, Default)]
pub(crate) struct AskedFor {
    list: Vec<Asked>,
    more: u64,
}

impl AskedFor {
    pub fn note(&mut self, what: Trouble, at: Far) {
        if let Some(known) = self.list.iter_mut().find(|known| is_alike(&known.what, &what)) {
            known.times += 1;
        } else if self.list.len() < MOST {
            self.list.push(Asked { what, at, times: 1 });
        } else {
            self.more += 1;
        }
    }

    pub fn list(&self) -> &[Asked] {
        &self.list
    }

    /// Requests beyond those listed.
    pub fn more(&self) -> u64 {
        self.more
    }
}

/// Whether two requests are for the same thing, whatever value went with them.
fn is_alike(one: &Trouble, other: &Trouble) -> bool {
    use Trouble::{PortValue, PortWritten, Service, Written};
    match (one, other) {
        (PortWritten(one, _), PortWritten(other, _)) => one == other,
        (PortValue(one, _), PortValue(other, _)) => one == other,
        (Written(one, _), Written(other, _)) => one / PLACE == other / PLACE,
        (Service { interrupt: one, ax: first }, Service { interrupt: other, ax: second }) => {
            // A mode number counts, other values in AL do not.
            let upper = |ax: &u16| if ax >> 8 == 0 { *ax } else { ax >> 8 << 8 };
            one == other && upper(first) == upper(second)
        }
        _ => one == other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_thing_is_noted_once_and_the_list_has_an_end() {
        let mut asked = AskedFor::default();
        let (first, later) = (Far::new(1, 2), Far::new(3, 4));
        asked.note(Trouble::PortWritten(0x388, 1), first);
        asked.note(Trouble::PortWritten(0x388, 7), later);
        asked.note(Trouble::PortRead(0x388), later);
        let found: Vec<_> = asked.list().iter().map(|asked| (asked.at, asked.times)).collect();
        assert_eq!(found, [(first, 2), (later, 1)]);
        (0..1000).for_each(|port| asked.note(Trouble::PortRead(port), later));
        assert_eq!((asked.list().len(), asked.more()), (MOST, 1000 - 62 - 1));
    }
}
