//! Target `state`: a host loads what it, a disk or another program has made of a saved state.

use std::cell::RefCell;

use arbitrary::{Result, Unstructured};
use brunt_host::{Instance, SavedState};
use serde_json::{Value, json};

use crate::{json, sample};

thread_local! {
    // One instance for all executions: making one costs more than loading a state, and a state
    // takes the place of the one before it.
    static PLUGIN: RefCell<Instance> = RefCell::new(
        Instance::load_linked(&brunt::clap_entry).expect("the linked plug-in"),
    );
}

pub fn run(bytes: &[u8]) {
    let state = made(&mut Unstructured::new(bytes)).unwrap_or_default();
    PLUGIN.with_borrow_mut(|plugin| load(plugin, &state));
}

/// Loads it. What is saved then must be whole, and load again as it is.
fn load(plugin: &mut Instance, state: &[u8]) {
    // Whether the host is told of a failure depends on the framework; nothing may break.
    let _ = plugin.restore(state);
    let saved = plugin.save().expect("saves");
    let json = saved.json().expect("is JSON");
    let version = brunt::state::STATE_VERSION.to_string();
    assert_eq!(json["fields"]["version"], json!(version));
    plugin.restore(&saved.bytes).expect("its own state loads");
    let again = plugin.save().expect("saves");
    assert_eq!(saved.json().expect("JSON"), again.json().expect("JSON"), "a state changes itself");
}

/// The bytes of a state.
fn made(u: &mut Unstructured) -> Result<Vec<u8>> {
    if u.ratio(1, 16)? {
        return Ok(u.bytes(u.len())?.to_vec());
    }
    let mut state = sample::STATE.clone();
    older(&mut state, u.int_in_range(0..=4)?);
    for _ in 0..u.int_in_range(0..=3)? {
        change(&mut state, u)?;
    }
    let mut bytes = SavedState::from_json(&state).bytes;
    if u.ratio(1, 4)? {
        damage(&mut bytes, u)?;
    }
    Ok(bytes)
}

/// Brings the state down to what an older version wrote.
fn older(state: &mut Value, version: u32) {
    let Some(fields) = state["fields"].as_object_mut() else { return };
    fields.insert("version".to_owned(), json!(version.to_string()));
    for (from, field) in [(4, "reference"), (3, "kept"), (1, "pass"), (1, "version")] {
        if version < from {
            fields.remove(field);
        }
    }
    if version == 0 {
        state["params"]["reset"] = json!({ "bool": true });
    }
}

fn change(state: &mut Value, u: &mut Unstructured) -> Result<()> {
    let field = *u.choose(&["version", "window", "pass", "kept", "reference"])?;
    match u.int_in_range(0..=9)? {
        0 => json::edit(state, u),
        1 => state.get_mut("params").map_or(Ok(()), |params| json::edit(params, u)),
        2 => state.get_mut("fields").map_or(Ok(()), |fields| json::edit(fields, u)),
        _ => {
            // A field is JSON in a text of its own.
            let Some(place) = state.get_mut("fields").and_then(|f| f.get_mut(field)) else {
                return Ok(());
            };
            let Some(text) = place.as_str() else { return Ok(()) };
            let Ok(mut inner) = serde_json::from_str::<Value>(text) else { return Ok(()) };
            json::edit(&mut inner, u)?;
            *place = inner.to_string().into();
            Ok(())
        }
    }
}

/// What a disk or a cut transfer does.
fn damage(bytes: &mut Vec<u8>, u: &mut Unstructured) -> Result<()> {
    for _ in 0..u.int_in_range(1..=3)? {
        let at = u.choose_index(bytes.len().max(1))?;
        match u.int_in_range(0..=3)? {
            0 => bytes.truncate(at),
            1 => {
                if let Some(byte) = bytes.get_mut(at) {
                    *byte = u.arbitrary()?;
                }
            }
            2 => {
                // The length that stands in front.
                let length: u64 = u.arbitrary()?;
                let known = bytes.len().min(8);
                bytes[..known].copy_from_slice(&length.to_le_bytes()[..known]);
            }
            _ => drop(bytes.drain(..at)),
        }
    }
    Ok(())
}
