//! The faults that may be the cause: families, and their members by position.

use std::collections::BTreeMap;
use std::sync::Arc;

use backporch_quirk::{Family, QuirkStack};
use backporch_raster::Tap;

/// What there is to know of a family before anything is seen.
#[derive(Clone, Debug, PartialEq)]
pub struct FamilyInfo {
    /// Its name.
    pub name: String,
    /// What is wrong, in a few words.
    pub title: String,
    /// How likely it is beside the other families, above 0.
    pub weight: f64,
    /// Number of its open parameters.
    pub open: usize,
    /// Number of its members, at least 1.
    pub count: u64,
}

/// A fault with every parameter chosen.
#[derive(Clone, Debug)]
pub struct Member<T> {
    /// Its parameters by name.
    pub parameters: BTreeMap<String, i64>,
    /// What it does to a board.
    pub tap: T,
}

/// A list of families that can be gone through in order.
pub trait FaultFamilies: Sync {
    /// What their members do to a board.
    type Tap: Tap + Clone + std::fmt::Debug + Send + Sync;

    /// The families, in order.
    fn families(&self) -> &[FamilyInfo];

    /// A member of a family, by position; `None` where there is none.
    fn member(&self, family: usize, position: u64) -> Option<Member<Self::Tap>>;
}

/// Families of the quirk language: the library's, and the user's.
#[derive(Clone, Debug)]
pub struct QuirkFamilies {
    families: Arc<[Family]>,
    infos: Vec<FamilyInfo>,
    seed: u64,
}

impl QuirkFamilies {
    /// These families; of two with the same name the later one counts.
    #[must_use]
    pub fn new(families: impl IntoIterator<Item = Family>, seed: u64) -> Self {
        let mut kept: Vec<Family> = Vec::new();
        for family in families {
            match kept.iter().position(|known| known.name() == family.name()) {
                Some(at) => kept[at] = family,
                None => kept.push(family),
            }
        }
        let infos = kept.iter().map(FamilyInfo::of).collect();
        Self { families: kept.into(), infos, seed }
    }

    /// The library, and these families beside it.
    #[must_use]
    pub fn library_and(families: impl IntoIterator<Item = Family>, seed: u64) -> Self {
        Self::new(Family::all_built_in().chain(families), seed)
    }

    /// The families, in order.
    #[must_use]
    pub fn definitions(&self) -> &[Family] {
        &self.families
    }
}

impl FamilyInfo {
    fn of(family: &Family) -> Self {
        Self {
            name: family.name().to_string(),
            title: family.title().to_string(),
            weight: f64::from(family.prior()),
            open: family.parameters().len(),
            count: family.count(),
        }
    }
}

impl FaultFamilies for QuirkFamilies {
    type Tap = QuirkStack;

    fn families(&self) -> &[FamilyInfo] {
        &self.infos
    }

    fn member(&self, family: usize, position: u64) -> Option<Member<QuirkStack>> {
        let quirk = self.families.get(family)?.member(position)?;
        Some(Member { parameters: quirk.parameters(), tap: QuirkStack::new(vec![quirk], self.seed) })
    }
}
