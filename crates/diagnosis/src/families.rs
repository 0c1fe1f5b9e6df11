//! The faults that may be the cause: families, and their members by position.

use std::collections::BTreeMap;
use std::sync::Arc;

use backporch_quirk::{DesignQuirk, Family, Layers, QuirkStack};
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
    /// The whole board: what its class does by design, and this fault on top.
    pub tap: T,
}

/// A list of families that can be gone through in order, on one class of boards.
pub trait FaultFamilies: Sync {
    /// A board under one of their members.
    type Tap: Tap + Clone + std::fmt::Debug + Send + Sync;

    /// The families, in order.
    fn families(&self) -> &[FamilyInfo];

    /// What the class does by design, whatever the fault.
    fn design(&self) -> &[DesignQuirk];

    /// A member of a family, by position; `None` where there is none.
    fn member(&self, family: usize, position: u64) -> Option<Member<Self::Tap>>;
}

/// Families of the quirk language: the library's, and the user's.
#[derive(Clone, Debug)]
pub struct QuirkFamilies {
    families: Arc<[Family]>,
    infos: Vec<FamilyInfo>,
    layers: Layers,
}

impl QuirkFamilies {
    /// These families on a board of those layers, whose own faults play no part; of two families with the same name
    /// the later one counts.
    #[must_use]
    pub fn new(families: impl IntoIterator<Item = Family>, layers: &Layers) -> Self {
        let mut kept: Vec<Family> = Vec::new();
        for family in families {
            match kept.iter().position(|known| known.name() == family.name()) {
                Some(at) => kept[at] = family,
                None => kept.push(family),
            }
        }
        let infos = kept.iter().map(FamilyInfo::of).collect();
        Self { families: kept.into(), infos, layers: layers.with_faults(Vec::new()) }
    }

    /// The library, and these families beside it.
    #[must_use]
    pub fn library_and(families: impl IntoIterator<Item = Family>, layers: &Layers) -> Self {
        Self::new(Family::all_built_in().chain(families), layers)
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

    fn design(&self) -> &[DesignQuirk] {
        self.layers.design()
    }

    fn member(&self, family: usize, position: u64) -> Option<Member<QuirkStack>> {
        let quirk = self.families.get(family)?.member(position)?;
        Some(Member { parameters: quirk.parameters(), tap: self.layers.under(vec![quirk]) })
    }
}
