//! What this version is held against.

use brunt_engine::{Relation, SideRole};
use brunt_report::report::ShapeReport;
use brunt_report::words::shape as say;

use super::super::scene::Scene;

/// The other version, as far as the side-chain carries one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Other {
    Before,
    Reference,
}

impl Other {
    pub(super) fn of(scene: &Scene<'_>) -> Option<Self> {
        let compare = scene.display.readings.compare.as_ref();
        // A restored pass has the shape alone.
        match compare.map(|compare| (compare.role, compare.alignment.relation)) {
            Some((SideRole::Before, Relation::Found)) | None => Some(Self::Before),
            Some((SideRole::Reference, _)) => Some(Self::Reference),
            Some(_) => None,
        }
    }

    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Before => say::BEFORE,
            Self::Reference => say::REFERENCE,
        }
    }
}

/// A version whose hits have a shape.
#[derive(Clone, Copy)]
pub(super) struct Version<'a> {
    pub(super) name: &'static str,
    pub(super) shape: &'a ShapeReport,
}
