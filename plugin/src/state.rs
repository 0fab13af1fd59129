//! What a session keeps besides the parameters, and how older sessions are read.
//!
//! Every saved state carries a version number of its own, apart from the program's. [`admit`]
//! runs before anything of a loaded state is applied: it brings an older state up to date, one
//! version at a time, and empties a state that is damaged, foreign or from a newer Brunt, so that
//! all settings stay as they are. Settings are applied all together or not at all.

mod migrate;
mod pass;

pub use migrate::admit;
pub use pass::{MAX_SAVED_HITS, SavedPass};

use std::cell::Cell;
use std::sync::Arc;

use nice_plug::params::persist::PersistentField;

use crate::bridge::Bridge;
use crate::contain::{Place, contained, survives, trip};
use crate::model::kept::KeptPass;
pub use crate::model::window::{Theme, Window};

/// Version of the saved state that this program writes.
///
/// - 0: no version field.
/// - 1: version field and last pass added.
/// - 2: what is heard added; it is always restored as the mix.
/// - 3: kept passes and the history of the last pass added.
/// - 4: path of the reference file added.
/// - 5: role, trim and name of a part added.
/// - 6: the last pass has the engine's own readings beside the report.
pub const STATE_VERSION: u32 = 6;

thread_local! {
    static LOADING: Cell<bool> = const { Cell::new(false) };
}

/// Whether this thread is applying a state: what changes then has been changed by nobody's hand.
#[must_use]
pub fn is_loading() -> bool {
    LOADING.get()
}

/// Says that the parameters of an admitted state come next. Its version, which every admitted
/// state has and which is applied after them, says that they are through.
pub fn begin_loading() {
    LOADING.set(true);
}

/// Saves [`STATE_VERSION`]. What is read back is no news: [`admit`] has looked at it before.
pub struct VersionField(pub Arc<Bridge>);

impl PersistentField<'_, u32> for VersionField {
    fn set(&self, _read: u32) {
        LOADING.set(false);
        // Whatever was heard when the session was saved, it opens with the mix, untouched.
        self.0.set_chosen(false);
    }

    fn map<F: Fn(&u32) -> R, R>(&self, read: F) -> R {
        read(&STATE_VERSION)
    }
}

/// Saves the pass that the bridge holds, and hands a saved one to it.
pub struct PassField(pub Arc<Bridge>);

impl PersistentField<'_, Option<SavedPass>> for PassField {
    fn set(&self, pass: Option<SavedPass>) {
        let _ = survives(|| {
            trip(Place::Load);
            self.0.restore(pass);
        });
    }

    fn map<F: Fn(&Option<SavedPass>) -> R, R>(&self, read: F) -> R {
        // A session is saved without the pass rather than not at all.
        let pass = contained(
            || None,
            || {
                trip(Place::Save);
                self.0.pass()
            },
        );
        read(&pass)
    }
}

/// Saves the kept passes that the bridge holds, and hands saved ones to it.
pub struct KeptField(pub Arc<Bridge>);

impl PersistentField<'_, Vec<KeptPass>> for KeptField {
    fn set(&self, kept: Vec<KeptPass>) {
        let _ = survives(|| self.0.restore_kept(kept));
    }

    fn map<F: Fn(&Vec<KeptPass>) -> R, R>(&self, read: F) -> R {
        read(&contained(Vec::new, || self.0.kept()))
    }
}

/// Saves the path of the reference file, and loads a saved one. The path is kept while the file is
/// gone, so that a session opened elsewhere does not lose it.
pub struct ReferenceField(pub Arc<Bridge>);

impl PersistentField<'_, Option<String>> for ReferenceField {
    fn set(&self, path: Option<String>) {
        let _ = survives(|| self.0.reference().load(&path.unwrap_or_default()));
    }

    fn map<F: Fn(&Option<String>) -> R, R>(&self, read: F) -> R {
        let path = self.0.reference().shown().path;
        read(&(!path.is_empty()).then_some(path))
    }
}

/// Saves the user's name of the part.
pub struct PartNameField(pub Arc<Bridge>);

impl PersistentField<'_, Option<String>> for PartNameField {
    fn set(&self, name: Option<String>) {
        self.0.links().set_own_name(&name.unwrap_or_default());
    }

    fn map<F: Fn(&Option<String>) -> R, R>(&self, read: F) -> R {
        read(&self.0.links().own_name())
    }
}
