//! The host's parameters. Their ids are stable for ever: sessions and automation hold them.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use nice_plug::prelude::*;
use parking_lot::RwLock;

use brunt_engine::Thresholds;

use crate::audition::Heard;
use crate::bridge::Bridge;
pub use crate::model::roles::{Role, SideRole};
use crate::state::{
    self, KeptField, PartNameField, PassField, ReferenceField, VersionField, Window,
};

/// What is heard: [`Heard`] as a host's parameter.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Enum)]
pub enum Listen {
    /// The mix, untouched.
    #[default]
    #[id = "mix"]
    #[name = "Mix"]
    Mix,
    /// The side-chain at the mix's loudness.
    #[id = "side"]
    #[name = "Side-chain"]
    Side,
    /// The side-chain at the mix's loudness, less the mix.
    #[id = "difference"]
    #[name = "Difference"]
    Difference,
}

impl From<Listen> for Heard {
    fn from(listen: Listen) -> Self {
        match listen {
            Listen::Mix => Self::Mix,
            Listen::Side => Self::Side,
            Listen::Difference => Self::Difference,
        }
    }
}

impl From<Heard> for Listen {
    fn from(heard: Heard) -> Self {
        match heard {
            Heard::Mix => Self::Mix,
            Heard::Side => Self::Side,
            Heard::Difference => Self::Difference,
        }
    }
}

/// Saved ids of [`Role`].
pub(crate) const ROLE_IDS: [&str; 6] = ["mix", "drums", "bass", "guitars", "vocals", "other"];

/// Saved ids of the roles.
pub(crate) const SIDE_ROLE_IDS: [&str; 4] = ["off", "before", "reference", "partner"];

/// Saved ids of [`Listen`].
pub(crate) const LISTEN_IDS: [&str; 3] = ["mix", "side", "difference"];

/// Parameters and persisted settings of one instance.
#[derive(Params)]
pub struct BruntParams {
    /// Measuring off; audio passes. The host knows it as the bypass.
    #[id = "bypass"]
    pub bypass: BoolParam,
    /// What the side-chain carries.
    #[id = "side"]
    pub side_role: EnumParam<SideRole>,
    /// A rise from off to on forgets everything measured; one that comes from a loaded state does
    /// not.
    #[id = "reset"]
    reset: BoolParam,
    /// Cost from which a leak is worth an eye, dB of hit contrast.
    #[id = "watch"]
    pub watch_db: FloatParam,
    /// Cost from which a leak counts as leaking, dB of hit contrast.
    #[id = "leak"]
    pub leaking_db: FloatParam,
    /// A start of the host's transport resets the readings.
    #[id = "follow"]
    pub follow_transport: BoolParam,
    /// What is asked to be heard. A host can map it to a button, but not automate it, and what a
    /// loaded state asks for is not heard: nothing may get into a bounce by itself.
    #[id = "listen"]
    pub(crate) listen: EnumParam<Listen>,
    /// What this instance sits on.
    #[id = "role"]
    pub role: EnumParam<Role>,
    /// How much later the part counts than it is heard, ms: against what its track is late by.
    #[id = "trim"]
    pub trim_ms: FloatParam,

    /// Rises of the reset so far.
    presses: Arc<AtomicU64>,

    /// Version of the saved state.
    #[persist = "version"]
    version: VersionField,
    /// Size and look of the window.
    #[persist = "window"]
    pub window: Arc<RwLock<Window>>,
    /// The last pass.
    #[persist = "pass"]
    pass: PassField,
    /// The kept passes.
    #[persist = "kept"]
    kept: KeptField,
    /// Path of the reference file.
    #[persist = "reference"]
    reference: ReferenceField,
    /// The user's name of the part.
    #[persist = "part"]
    part: PartNameField,
}

/// Smallest and largest threshold, dB of hit contrast. Ours: under 0.1 dB every leak would always
/// be on; no cost measured so far comes near 12 dB.
pub const THRESHOLD_RANGE_DB: (f32, f32) = (0.1, 12.0);

/// Smallest and largest trim of a part, ms. Ours: half a second covers look-ahead and linear-phase
/// filters that a host does not make up for.
pub const TRIM_RANGE_MS: (f32, f32) = (-500.0, 500.0);

impl Default for BruntParams {
    fn default() -> Self {
        let bridge = Arc::<Bridge>::default();
        // Called on whatever thread changes the parameter: each stores one number.
        let (of_role, of_trim) = (Arc::clone(bridge.links()), Arc::clone(bridge.links()));
        let of_listen = Arc::clone(&bridge);
        let presses = Arc::<AtomicU64>::default();
        let pressed = Arc::clone(&presses);
        let (min, max) = TRIM_RANGE_MS;
        let limits = Thresholds::default();
        let threshold = |name: &str, default: f64| {
            let (min, max) = THRESHOLD_RANGE_DB;
            FloatParam::new(name, default as f32, FloatRange::Linear { min, max })
                .with_step_size(0.1)
                .with_unit(" dB")
                .with_string_to_value(Arc::new(number))
        };
        Self {
            bypass: BoolParam::new("Bypass", false).make_bypass(),
            side_role: EnumParam::new("Side-chain role", SideRole::default()),
            reset: BoolParam::new("Reset", false).with_callback(Arc::new(move |on| {
                if on && !state::is_loading() {
                    pressed.fetch_add(1, Ordering::Relaxed);
                }
            })),
            watch_db: threshold("Watch from", limits.watch_db),
            leaking_db: threshold("Leaking from", limits.leaking_db),
            follow_transport: BoolParam::new("Reset on transport start", false),
            listen: EnumParam::new("Listen", Listen::default())
                .non_automatable()
                .with_callback(Arc::new(move |_| of_listen.set_chosen(!state::is_loading()))),
            role: EnumParam::new("Role", Role::default())
                .with_callback(Arc::new(move |role| of_role.set_role(role))),
            trim_ms: FloatParam::new("Part trim", 0.0, FloatRange::Linear { min, max })
                .with_step_size(0.1)
                .with_unit(" ms")
                .with_string_to_value(Arc::new(number))
                .with_callback(Arc::new(move |ms| of_trim.set_trim_ms(f64::from(ms)))),
            presses,
            version: VersionField(Arc::clone(&bridge)),
            window: Arc::new(RwLock::new(Window::default())),
            reference: ReferenceField(Arc::clone(&bridge)),
            part: PartNameField(Arc::clone(&bridge)),
            pass: PassField(Arc::clone(&bridge)),
            kept: KeptField(bridge),
        }
    }
}

/// Reads a number with or without its unit. The framework's own reader takes "NaN" and "inf" for
/// numbers, and a threshold that is no number would compare false with every cost.
fn number(text: &str) -> Option<f32> {
    let digits = text.trim().trim_end_matches(|c: char| c.is_alphabetic()).trim_end();
    digits.parse().ok().filter(|number: &f32| number.is_finite())
}

impl BruntParams {
    /// The bridge of this instance: saving the session needs it as much as the editor does.
    #[must_use]
    pub fn bridge(&self) -> &Arc<Bridge> {
        &self.pass.0
    }

    /// The thresholds as set. `leaking_db` under `watch_db` counts as `watch_db`: a leak cannot
    /// be leaking before it is worth an eye.
    #[must_use]
    pub fn thresholds(&self) -> Thresholds {
        let watch_db = f64::from(self.watch_db.value());
        Thresholds { watch_db, leaking_db: f64::from(self.leaking_db.value()).max(watch_db) }
    }

    /// What is to be heard: the mix, unless something else was chosen since the last state was
    /// loaded.
    #[must_use]
    pub fn heard(&self) -> Heard {
        if self.bridge().is_chosen() { self.listen.value().into() } else { Heard::Mix }
    }

    /// Presses of the reset so far.
    #[must_use]
    pub fn presses(&self) -> u64 {
        self.presses.load(Ordering::Relaxed)
    }
}

#[cfg(test)]
mod tests {
    use brunt_engine::parts::PartRole;

    use super::*;

    #[test]
    fn the_saved_roles_are_the_roles() {
        assert_eq!(<SideRole as Enum>::ids(), Some(&SIDE_ROLE_IDS[..]));
        assert_eq!(<Listen as Enum>::ids(), Some(&LISTEN_IDS[..]));
        assert_eq!(<Role as Enum>::ids(), Some(&ROLE_IDS[..]));
        for (index, role) in Role::ALL.into_iter().enumerate() {
            assert_eq!(role.to_index(), index);
            assert_eq!(role.part().map_or("mix", PartRole::code), ROLE_IDS[index]);
        }
    }

    #[test]
    fn numbers_are_read_with_and_without_unit() {
        assert_eq!(number("1.5"), Some(1.5));
        assert_eq!(number(" 1.5 dB "), Some(1.5));
        assert_eq!(number("-12.5 ms"), Some(-12.5));
        for text in ["", "dB", "NaN", "NaN dB", "inf", "-inf dB", "1e99", "1.5.5"] {
            assert_eq!(number(text), None, "{text}");
        }
    }

    #[test]
    fn leaking_never_lies_under_watch() {
        let params = BruntParams::default();
        let limits = params.thresholds();
        assert!(limits.leaking_db >= limits.watch_db);
        assert_eq!(limits, Thresholds::default());
    }
}
