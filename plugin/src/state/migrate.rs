//! Brings older saved states up to date, and keeps out what cannot be used.

mod pass5;

use std::fmt;

use brunt_report::bounds;
use nice_plug::plugin::{ParamValue, PluginState};
use serde::de::{DeserializeOwned, Error};

use super::{STATE_VERSION, SavedPass, Window};
use crate::kept::KeptPass;
use crate::params::{LISTEN_IDS, ROLE_IDS, SIDE_ROLE_IDS, THRESHOLD_RANGE_DB, TRIM_RANGE_MS};
use pass5::Pass5;

/// Name of the field that holds the state's version.
const VERSION: &str = "version";
/// Name of the field that holds the window: every version has it, so its absence tells a foreign
/// state.
const WINDOW: &str = "window";
/// Name of the field that holds the last pass.
const PASS: &str = "pass";
/// Name of the field that holds the kept passes.
const KEPT: &str = "kept";

/// Name of the field that holds the path of the reference file.
const REFERENCE: &str = "reference";
/// Name of the field that holds the user's name of the part.
const PART: &str = "part";
/// Longest path or name taken from a state, bytes: what common systems allow.
const LONGEST_TEXT: usize = 4096;

/// Why a state is not applied.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Refusal {
    /// It has no window: not Brunt's.
    Foreign,
    /// Its version is no number, or one that this program does not know.
    Version(String),
    /// A field's content cannot be read.
    Field(&'static str),
    /// A parameter's value has the wrong type or lies out of range.
    Param(String),
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Foreign => write!(f, "no field \"{WINDOW}\": expected a state saved by Brunt"),
            Self::Version(got) => {
                write!(f, "field \"{VERSION}\" is {got}: expected 0 to {STATE_VERSION}")
            }
            Self::Field(name) => write!(f, "field \"{name}\" cannot be read"),
            Self::Param(id) => write!(f, "parameter \"{id}\" has a value that it cannot take"),
        }
    }
}

/// Looks at a loaded state before anything of it is applied. An older one is brought up to date.
/// One that cannot be used is emptied and the reason logged: all settings then stay as they are.
pub fn admit(saved: &mut PluginState) {
    if let Err(refusal) = prepare(saved) {
        nice_plug::nice_warn!("Brunt ignores the saved state: {refusal}");
        saved.params.clear();
        saved.fields.clear();
    }
}

fn prepare(saved: &mut PluginState) -> Result<(), Refusal> {
    if !saved.fields.contains_key(WINDOW) {
        return Err(Refusal::Foreign);
    }
    let version = match saved.fields.get(VERSION) {
        None => 0,
        Some(text) => text
            .parse::<u32>()
            .ok()
            .filter(|&version| version <= STATE_VERSION)
            .ok_or_else(|| Refusal::Version(text.chars().take(40).collect()))?,
    };
    // One step a version, so that a state of any age takes the same road.
    if version < 1 {
        from_0_to_1(saved);
    }
    if version < 2 {
        from_1_to_2(saved);
    }
    if version < 3 {
        from_2_to_3(saved);
    }
    if version < 4 {
        from_3_to_4(saved);
    }
    if version < 5 {
        from_4_to_5(saved);
    }
    if version < 6 {
        from_5_to_6(saved);
    }
    check(saved)
}

/// Version 1 numbers its states.
fn from_0_to_1(saved: &mut PluginState) {
    saved.fields.insert(VERSION.to_owned(), "1".to_owned());
    saved.fields.insert(PASS.to_owned(), "null".to_owned());
}

/// Version 2 knows what is heard.
fn from_1_to_2(saved: &mut PluginState) {
    saved.fields.insert(VERSION.to_owned(), "2".to_owned());
    saved.params.insert("listen".to_owned(), ParamValue::String("mix".to_owned()));
}

/// Version 3 keeps passes to compare with.
fn from_2_to_3(saved: &mut PluginState) {
    saved.fields.insert(VERSION.to_owned(), "3".to_owned());
    saved.fields.insert(KEPT.to_owned(), "[]".to_owned());
}

/// Version 4 knows a reference file; before it there was none.
fn from_3_to_4(saved: &mut PluginState) {
    saved.fields.insert(VERSION.to_owned(), "4".to_owned());
    saved.fields.insert(REFERENCE.to_owned(), "null".to_owned());
}

/// Version 5 knows parts; before it every instance sat on the mix bus.
fn from_4_to_5(saved: &mut PluginState) {
    saved.fields.insert(VERSION.to_owned(), "5".to_owned());
    saved.fields.insert(PART.to_owned(), "null".to_owned());
    saved.params.insert("role".to_owned(), ParamValue::String("mix".to_owned()));
    saved.params.insert("trim".to_owned(), ParamValue::F32(0.0));
}

/// Version 6 keeps the engine's own readings beside the report; before it everything was read back
/// from the report.
fn from_5_to_6(saved: &mut PluginState) {
    saved.fields.insert(VERSION.to_owned(), "6".to_owned());
    let pass = saved.fields.get(PASS).map(String::as_str).unwrap_or("null");
    let new = read::<Option<Pass5>>(pass)
        .and_then(|pass| serde_json::to_string(&pass.map(SavedPass::from)));
    match new {
        Ok(pass) => saved.fields.insert(PASS.to_owned(), pass),
        Err(error) => {
            nice_plug::nice_warn!("Brunt leaves out the saved pass: {error}");
            saved.fields.remove(PASS)
        }
    };
}

/// Makes sure that everything in the state can be applied.
fn check(saved: &mut PluginState) -> Result<(), Refusal> {
    for (id, value) in &saved.params {
        let sound = match (id.as_str(), value) {
            ("bypass" | "follow" | "reset", ParamValue::Bool(_)) => true,
            ("watch" | "leak", ParamValue::F32(db)) => {
                (THRESHOLD_RANGE_DB.0..=THRESHOLD_RANGE_DB.1).contains(db)
            }
            ("side", ParamValue::String(role)) => SIDE_ROLE_IDS.contains(&role.as_str()),
            ("role", ParamValue::String(role)) => ROLE_IDS.contains(&role.as_str()),
            ("trim", ParamValue::F32(ms)) => (TRIM_RANGE_MS.0..=TRIM_RANGE_MS.1).contains(ms),
            ("listen", ParamValue::String(heard)) => LISTEN_IDS.contains(&heard.as_str()),
            _ => false,
        };
        if !sound {
            return Err(Refusal::Param(id.chars().take(40).collect()));
        }
    }
    let window = saved.fields.get(WINDOW).map(String::as_str).unwrap_or_default();
    let window: Window = serde_json::from_str(window).map_err(|_| Refusal::Field(WINDOW))?;
    let window = serde_json::to_string(&window.clamped()).map_err(|_| Refusal::Field(WINDOW))?;
    saved.fields.insert(WINDOW.to_owned(), window);
    // The pass is a picture of what was measured, no setting: an unreadable one is left out, and
    // the settings still count.
    let pass = saved.fields.get(PASS).map(String::as_str).unwrap_or("null");
    if let Err(error) = read::<Option<SavedPass>>(pass) {
        nice_plug::nice_warn!("Brunt leaves out the saved pass: {error}");
        saved.fields.remove(PASS);
    }
    saved.fields.entry(PASS.to_owned()).or_insert_with(|| "null".to_owned());
    let kept = saved.fields.get(KEPT).map(String::as_str).unwrap_or("[]");
    if let Err(error) = read::<Vec<KeptPass>>(kept) {
        nice_plug::nice_warn!("Brunt leaves out the kept passes: {error}");
        saved.fields.remove(KEPT);
    }
    saved.fields.entry(KEPT.to_owned()).or_insert_with(|| "[]".to_owned());
    // Nor is a session refused for a path or a name that cannot be read.
    for field in [REFERENCE, PART] {
        let text = saved.fields.get(field).map(String::as_str).unwrap_or("null");
        let sound = serde_json::from_str::<Option<String>>(text)
            .is_ok_and(|text| text.is_none_or(|text| text.len() <= LONGEST_TEXT));
        if !sound {
            nice_plug::nice_warn!("Brunt leaves out the saved field \"{field}\": no text");
            saved.fields.insert(field.to_owned(), "null".to_owned());
        }
        saved.fields.entry(field.to_owned()).or_insert_with(|| "null".to_owned());
    }
    let ours = [VERSION, WINDOW, PASS, KEPT, REFERENCE, PART];
    saved.fields.retain(|name, _| ours.contains(&name.as_str()));
    Ok(())
}

/// Reads a field of measurements, where no number in it is out of all proportion.
fn read<T: DeserializeOwned>(text: &str) -> Result<T, serde_json::Error> {
    bounds::check(&serde_json::from_str(text)?).map_err(serde_json::Error::custom)?;
    serde_json::from_str(text)
}

#[cfg(test)]
mod tests {
    use nice_plug::params::Params;

    use super::*;
    use crate::params::BruntParams;

    /// What this version saves, before anything is set.
    fn saved() -> PluginState {
        let params = [
            ("bypass", ParamValue::Bool(true)),
            ("follow", ParamValue::Bool(true)),
            ("leak", ParamValue::F32(3.0)),
            ("listen", ParamValue::String("mix".to_owned())),
            ("role", ParamValue::String("bass".to_owned())),
            ("side", ParamValue::String("before".to_owned())),
            ("trim", ParamValue::F32(-12.5)),
            ("watch", ParamValue::F32(1.5)),
        ];
        PluginState {
            version: "0.1.0".to_owned(),
            params: params.map(|(id, value)| (id.to_owned(), value)).into(),
            fields: BruntParams::default().serialize_fields(),
        }
    }

    fn refused(change: impl FnOnce(&mut PluginState)) -> Refusal {
        let mut state = saved();
        change(&mut state);
        let refusal = prepare(&mut state.clone()).expect_err("should be refused");
        admit(&mut state);
        assert!(state.params.is_empty() && state.fields.is_empty(), "nothing may be applied");
        refusal
    }

    #[test]
    fn our_own_state_is_taken() {
        let mut state = saved();
        assert_eq!(prepare(&mut state), Ok(()));
        assert_eq!(state.params.len(), 8);
        assert_eq!(state.fields[VERSION], STATE_VERSION.to_string());
    }

    #[test]
    fn version_0_is_brought_up_to_date() {
        // As the first builds wrote it.
        let mut state = saved();
        state.fields.remove(VERSION);
        state.fields.remove(PASS);
        state.params.insert("reset".to_owned(), ParamValue::Bool(true));
        assert_eq!(prepare(&mut state), Ok(()));
        assert_eq!(state.fields[VERSION], STATE_VERSION.to_string());
        assert_eq!(state.fields[PASS], "null");
        assert_eq!(state.params.len(), 9, "the settings are kept");
    }

    #[test]
    fn what_is_heard_is_one_of_the_choices() {
        for (heard, sound) in [("mix", true), ("side", true), ("difference", true), ("all", false)]
        {
            let mut state = saved();
            state.params.insert("listen".to_owned(), ParamValue::String(heard.to_owned()));
            assert_eq!(prepare(&mut state).is_ok(), sound, "{heard}");
        }
    }

    #[test]
    fn a_newer_or_unreadable_version_is_refused() {
        for version in ["7", "-1", "\"1\"", "1.0", "", "99999999999"] {
            let refusal = refused(|s| {
                s.fields.insert(VERSION.to_owned(), version.to_owned());
            });
            assert_eq!(refusal, Refusal::Version(version.to_owned()));
        }
    }

    #[test]
    fn a_foreign_state_is_refused() {
        assert_eq!(refused(|s| s.fields.clear()), Refusal::Foreign);
    }

    #[test]
    fn a_damaged_value_refuses_the_whole() {
        let bad = [
            ("bypass", ParamValue::F32(1.0)),
            ("watch", ParamValue::F32(f32::NAN)),
            ("watch", ParamValue::F32(-3.0)),
            ("leak", ParamValue::F32(f32::INFINITY)),
            ("side", ParamValue::String("elsewhere".to_owned())),
            ("side", ParamValue::I32(7)),
            ("role", ParamValue::String("horns".to_owned())),
            ("trim", ParamValue::F32(501.0)),
            ("trim", ParamValue::F32(f32::NAN)),
            ("unheard-of", ParamValue::Bool(true)),
        ];
        for (id, value) in bad {
            let refusal = refused(|s| {
                s.params.insert(id.to_owned(), value);
            });
            assert_eq!(refusal, Refusal::Param(id.to_owned()));
        }
        for window in ["", "3", "{\"width\":\"wide\"}", "{\"scale\":1"] {
            let refusal = refused(|s| {
                s.fields.insert(WINDOW.to_owned(), window.to_owned());
            });
            assert_eq!(refusal, Refusal::Field(WINDOW), "{window}");
        }
    }

    #[test]
    fn a_window_that_cannot_be_opened_is_put_right() {
        let usual = Window::default();
        let cases = [
            ("{\"width\":0}", usual),
            ("{\"height\":-5.0}", usual),
            ("{\"scale\":9}", Window { scale: 3.0, ..usual }),
            ("{\"width\":1e30}", Window { width: 8192.0, ..usual }),
        ];
        for (window, expected) in cases {
            let mut state = saved();
            state.fields.insert(WINDOW.to_owned(), window.to_owned());
            assert_eq!(prepare(&mut state), Ok(()), "{window}");
            let read: Window = serde_json::from_str(&state.fields[WINDOW]).expect("reads");
            assert_eq!(read, expected, "{window}");
        }
    }

    #[test]
    fn an_unreadable_pass_is_left_out_and_the_settings_count() {
        let mut state = saved();
        state.fields.insert(PASS.to_owned(), "{\"report\":7}".to_owned());
        assert_eq!(prepare(&mut state), Ok(()));
        assert_eq!(state.fields[PASS], "null");
        assert_eq!(state.params.len(), 8);
    }

    #[test]
    fn numbers_out_of_all_proportion_are_left_out_and_the_settings_count() {
        let kept = "[{\"number\":1,\"time_s\":1e300,\"contrast_db\":null,\"lost_db\":null,\
                    \"integrated_lufs\":null,\"hits\":[],\"history\":null}]";
        let mut state = saved();
        state.fields.insert(KEPT.to_owned(), kept.to_owned());
        assert_eq!(prepare(&mut state), Ok(()));
        assert_eq!(state.fields[KEPT], "[]");
        assert_eq!(state.params.len(), 8);
        let mut state = saved();
        state.fields.insert(KEPT.to_owned(), kept.replace("1e300", "60.0"));
        assert_eq!(prepare(&mut state), Ok(()));
        assert_ne!(state.fields[KEPT], "[]", "the same with a number that can be");
    }

    #[test]
    fn version_2_has_no_kept_passes_and_unreadable_ones_are_left_out() {
        for kept in [None, Some("7"), Some("[{\"number\":\"one\"}]")] {
            let mut state = saved();
            state
                .fields
                .insert(VERSION.to_owned(), if kept.is_some() { "3" } else { "2" }.to_owned());
            match kept {
                Some(text) => state.fields.insert(KEPT.to_owned(), text.to_owned()),
                None => state.fields.remove(KEPT),
            };
            assert_eq!(prepare(&mut state), Ok(()));
            assert_eq!(state.fields[VERSION], STATE_VERSION.to_string());
            assert_eq!(state.fields[KEPT], "[]");
            assert!(state.params.contains_key("bypass"), "the settings count");
        }
    }

    #[test]
    fn a_path_that_is_none_is_left_out_and_the_settings_count() {
        let long = format!("\"{}\"", "x".repeat(5_000));
        for (saved_path, want) in
            [("7", "null"), (&*long, "null"), ("\"/a.wav\"", "\"/a.wav\""), ("null", "null")]
        {
            let mut state = saved();
            state.fields.insert(REFERENCE.to_owned(), saved_path.to_owned());
            assert_eq!(prepare(&mut state), Ok(()));
            assert_eq!(state.fields[REFERENCE], want);
        }
    }

    /// What the window draws of a pass of version 5, against the numbers in that state.
    #[test]
    fn a_pass_of_version_5_is_drawn_as_it_was() {
        let text = include_str!("../../../tests/hosts/data/state-5-parts.json");
        let mut state: PluginState = serde_json::from_str(text).expect("a state");
        let old: serde_json::Value = serde_json::from_str(&state.fields[PASS]).expect("JSON");
        let number = |path: &str| {
            let number = old["report"].pointer(path).and_then(serde_json::Value::as_f64);
            number.unwrap_or_else(|| panic!("no {path}"))
        };
        assert_eq!(prepare(&mut state), Ok(()));
        let pass: Option<SavedPass> = serde_json::from_str(&state.fields[PASS]).expect("a pass");
        let display = pass.expect("a pass").display();
        let readings = &display.readings;
        assert_eq!(readings.loudness.integrated_lufs, Some(number("/loudness/integrated_lufs")));
        assert_eq!(readings.punch.contrast_db, Some(number("/punch/contrast_db")));
        assert_eq!(readings.balance.thirds_dbfs[9], Some(number("/balance/thirds/9/level_dbfs")));
        let timing = readings.leaks.timing;
        assert_eq!(timing.cost.expect("known").db, number("/leaks/timing/cost_db"));
        let attack = timing.attack.expect("known").db;
        assert_eq!(attack, number("/leaks/timing/shared_attack_cost_db"));
        assert_eq!(display.hits.len(), old["report"]["hits"].as_array().expect("a list").len());
        assert_eq!(display.hits[3].hit.contrast_db, number("/hits/3/contrast_db"));
        assert_eq!(display.hits[3].beat, old["beats"][3].as_f64());
        assert_eq!(display.bars[1].time_s, old["bars"][1][0].as_f64().expect("a time"));
        let part = &display.linked.parts[1];
        assert_eq!(part.name, old["report"]["parts"][1]["file"]);
        assert_eq!(part.spread_ms, Some(number("/parts/1/spread_ms")));
        assert_eq!(part.costs.timing_db, Some(number("/parts/1/leak_costs_db/timing")));
        let reading = display.linked.reading.as_ref().expect("read");
        assert_eq!(reading.said[0].says, old["report"]["leaks"]["timing"]["says"]);
        assert!(display.history().is_some());
    }
}
