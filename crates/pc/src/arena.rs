//! Memory for programs, handed out in paragraphs of 16 bytes.

use crate::stack_watch::OwnedBlock;

/// A block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Block {
    start: u16,
    length: u16,
    /// The program it belongs to, by the segment of what precedes that; `None` where it is free.
    owner: Option<u16>,
}

impl Block {
    fn is_free(&self) -> bool {
        self.owner.is_none()
    }
}

/// All paragraphs between the system's and the end of memory, in order and without gaps.
#[derive(Clone, Debug)]
pub struct Arena {
    blocks: Vec<Block>,
}

/// Why a request failed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refused {
    /// Paragraphs of the largest block that could be had.
    TooLarge(u16),
    /// No block begins there.
    NoBlock,
}

impl Arena {
    /// All free.
    #[must_use]
    pub fn new(start: u16, end: u16) -> Self {
        Self { blocks: vec![Block { start, length: end.saturating_sub(start), owner: None }] }
    }

    /// Paragraphs of the largest free block.
    #[must_use]
    pub fn largest(&self) -> u16 {
        self.blocks.iter().filter(|block| block.is_free()).map(|block| block.length).max().unwrap_or(0)
    }

    /// The first free block that is large enough, cut to size, for a program.
    ///
    /// # Errors
    /// Where none is.
    pub fn take(&mut self, length: u16, owner: u16) -> Result<u16, Refused> {
        let fits = |block: &Block| block.is_free() && block.length >= length;
        let position = self.blocks.iter().position(fits).ok_or(Refused::TooLarge(self.largest()))?;
        self.blocks[position].owner = Some(owner);
        self.cut(position, length);
        Ok(self.blocks[position].start)
    }

    /// Gives a block back.
    ///
    /// # Errors
    /// Where none begins there.
    pub fn give(&mut self, start: u16) -> Result<(), Refused> {
        let position = self.position(start)?;
        self.blocks[position].owner = None;
        self.join();
        Ok(())
    }

    /// Gives a block to another program; nothing where none begins there.
    pub fn hand_over(&mut self, start: u16, owner: u16) {
        if let Ok(position) = self.position(start) {
            self.blocks[position].owner = Some(owner);
        }
    }

    /// Gives back all that belongs to a program.
    pub fn give_all(&mut self, owner: u16) {
        self.blocks.iter_mut().filter(|block| block.owner == Some(owner)).for_each(|block| block.owner = None);
        self.join();
    }

    /// Makes a block longer or shorter.
    ///
    /// # Errors
    /// Where none begins there, or what follows it is in use.
    pub fn resize(&mut self, start: u16, length: u16) -> Result<(), Refused> {
        let position = self.position(start)?;
        let after = self.blocks.get(position + 1).filter(|block| block.is_free()).map_or(0, |block| block.length);
        let most = self.blocks[position].length + after;
        if length > most {
            return Err(Refused::TooLarge(most));
        }
        if after > 0 {
            self.blocks.remove(position + 1);
            self.blocks[position].length = most;
        }
        self.cut(position, length);
        self.join();
        Ok(())
    }

    /// All blocks with their owners.
    #[must_use]
    pub fn owned(&self) -> Vec<OwnedBlock> {
        let address = |paragraph: u16| u32::from(paragraph) * 16;
        let owned = |block: &Block| OwnedBlock {
            addresses: address(block.start)..address(block.start) + address(block.length),
            owner: block.owner,
        };
        self.blocks.iter().map(owned).collect()
    }

    fn position(&self, start: u16) -> Result<usize, Refused> {
        self.blocks.iter().position(|block| !block.is_free() && block.start == start).ok_or(Refused::NoBlock)
    }

    fn cut(&mut self, position: usize, length: u16) {
        let block = &mut self.blocks[position];
        let rest = block.length - length;
        if rest > 0 {
            let start = block.start + length;
            block.length = length;
            self.blocks.insert(position + 1, Block { start, length: rest, owner: None });
        }
    }

    fn join(&mut self) {
        self.blocks.dedup_by(|next, block| {
            let both = next.is_free() && block.is_free();
            if both {
                block.length += next.length;
            }
            both
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn blocks_are_taken_resized_and_joined_again() {
        let mut arena = Arena::new(0x0800, 0xA000);
        let first = arena.take(0x9800, 1).unwrap();
        assert_eq!((first, arena.take(1, 1)), (0x0800, Err(Refused::TooLarge(0))));
        arena.resize(first, 0x1000).unwrap();
        assert_eq!(arena.take(0x10, 2), Ok(0x1800));
        assert_eq!(arena.resize(first, 0x1001), Err(Refused::TooLarge(0x1000)));
        arena.give(0x1800).unwrap();
        assert_eq!((arena.give(0x1800), arena.largest()), (Err(Refused::NoBlock), 0x8800));
        let (one, other) = (arena.take(0x10, 2).unwrap(), arena.take(0x10, 1).unwrap());
        arena.hand_over(other, 2);
        arena.give_all(2);
        assert_eq!(
            (arena.give(one), arena.give(other), arena.largest()),
            (Err(Refused::NoBlock), Err(Refused::NoBlock), 0x8800)
        );
    }

    proptest! {
        #[test]
        fn no_paragraph_is_lost_or_handed_out_twice(asked in proptest::collection::vec((0u8..3, 0u16..0x4000), 0..60)) {
            let mut arena = Arena::new(0x0800, 0xA000);
            let mut taken = Vec::new();
            for (what, length) in asked {
                match what {
                    0 => taken.extend(arena.take(length, 1)),
                    1 => drop(taken.pop().map(|start| arena.give(start))),
                    _ => drop(taken.last().map(|start| arena.resize(*start, length))),
                }
                let ends = arena.blocks.windows(2).all(|pair| pair[0].start + pair[0].length == pair[1].start);
                prop_assert!(ends);
                prop_assert_eq!(arena.blocks.iter().map(|block| u32::from(block.length)).sum::<u32>(), 0x9800);
            }
        }
    }
}
