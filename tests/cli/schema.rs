//! Real reports against `docs/brunt-check-1.schema.json`, and real sessions to listen to against
//! `docs/brunt-listen-1.schema.json`, by the crate `jsonschema`.

use std::path::{Path, PathBuf};

use brunt_demo::song::{self, SAMPLE_RATE_HZ, Version};
use jsonschema::Validator;
use serde_json::{Value, json};
use tempfile::TempDir;

use crate::listen::written;
use crate::support::{brunt, check, copy_of, directory, path_text, programme_wav, text, write_wav};

const CHECK: &str = "brunt-check-1";
const LISTEN: &str = "brunt-listen-1";

fn schema(name: &str) -> Value {
    let file = format!("../docs/{name}.schema.json");
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
    let text = std::fs::read_to_string(path).expect("the schema");
    serde_json::from_str(&text).expect("JSON")
}

/// The schema that takes no field but those that it names: a reader may skip others, the document may
/// not.
fn closed(mut schema: Value) -> Value {
    match &mut schema {
        Value::Object(map) => {
            if map.contains_key("properties") {
                map.insert("additionalProperties".to_owned(), Value::Bool(false));
            }
            for value in map.values_mut() {
                *value = closed(value.take());
            }
        }
        Value::Array(list) => list.iter_mut().for_each(|value| *value = closed(value.take())),
        _ => {}
    }
    schema
}

fn validators(name: &str) -> [Validator; 2] {
    [schema(name), closed(schema(name))]
        .map(|schema| jsonschema::draft202012::new(&schema).expect("a schema of draft 2020-12"))
}

fn faults(name: &str, report: &Value) -> Vec<String> {
    let faults = validators(name).map(|validator| {
        let fault = |e: jsonschema::ValidationError<'_>| format!("{}: {e}", e.instance_path());
        validator.iter_errors(report).map(fault).collect::<Vec<_>>()
    });
    faults.concat()
}

/// Mix and stems of a version of the demo's song, as files.
fn stems(d: &TempDir, version: Version) -> (PathBuf, Vec<String>) {
    let session = song::render(version);
    let write = |name: &str, audio: &song::Stereo| {
        let path = d.path().join(name);
        write_wav(&path, &[audio.left.clone(), audio.right.clone()], SAMPLE_RATE_HZ, 24);
        path
    };
    let part = |stem: &song::Stem| {
        format!("--part={}={}", stem.role.code(), path_text(&write(stem.name, &stem.audio)))
    };
    let parts = session.stems.iter().map(part).collect();
    (write("mix.wav", &session.mix), parts)
}

#[test]
fn reports_keep_to_the_schema_and_hold_no_field_that_it_lacks() {
    let d = directory();
    let plain = programme_wav(d.path(), 12.0);
    let before = copy_of(&plain, "before.wav");
    let (mix, parts) = stems(&d, Version::Timing);
    let mut all: Vec<&str> = parts.iter().map(String::as_str).collect();
    all.extend(["--json", "-"]);
    for (what, output) in [
        ("a mix", check(&plain, &["--json", "-"])),
        ("a mix and its before", check(&plain, &["--before", path_text(&before), "--json", "-"])),
        ("a mix and a reference", check(&mix, &["--reference", path_text(&plain), "--json", "-"])),
        ("a mix and its parts", check(&mix, &all)),
    ] {
        assert_eq!(output.status.code(), Some(0), "{what}: {}", text(&output.stderr));
        let report: Value = serde_json::from_slice(&output.stdout).expect("JSON");
        let faults = faults(CHECK, &report);
        assert!(faults.is_empty(), "{what}: {faults:#?}");
    }
}

/// A wrong type, a missing name, a wrong word and a name that the document lacks are each found.
#[test]
fn what_breaks_the_schema_is_found() {
    let d = directory();
    let output = check(&programme_wav(d.path(), 3.0), &["--json", "-"]);
    let report: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert!(faults(CHECK, &report).is_empty());
    let plant = |pointer: &str, name: &str, value: Option<Value>| {
        let mut planted = report.clone();
        let place = planted.pointer_mut(pointer).and_then(Value::as_object_mut).expect("an object");
        match value {
            Some(value) => place.insert(name.to_owned(), value),
            None => place.remove(name),
        };
        faults(CHECK, &planted)
    };
    assert!(!plant("/punch", "hits", Some(json!("many"))).is_empty());
    assert!(!plant("/loudness", "plr_db", None).is_empty());
    assert!(!plant("/leaks/mids", "state", Some(json!("fine"))).is_empty());
    assert!(!plant("/leaks/drive", "planted_db", Some(json!(1.0))).is_empty());
}

/// A session with everything in it, and one of a mix alone, whose causes are left out.
#[test]
fn sessions_to_listen_to_keep_to_their_schema() {
    let d = directory();
    let (_, whole) = written();
    let plain = programme_wav(d.path(), 9.0);
    let reference = copy_of(&plain, "reference.wav");
    let out = d.path().join("out");
    let mut listen = brunt();
    listen.arg("listen").arg(&plain).arg("--reference").arg(&reference).arg("--out").arg(&out);
    let output = listen.args(["--quiet", "--format", "flac"]).output().expect("brunt runs");
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let json = std::fs::read_to_string(out.join("listen.json")).expect("the JSON");
    let alone: Value = serde_json::from_str(&json).expect("JSON");
    assert!(!alone["left_out"].as_array().expect("causes").is_empty());
    for session in [whole, &alone] {
        let faults = faults(LISTEN, session);
        assert!(faults.is_empty(), "{faults:#?}");
    }
    let plant = |pointer: &str, name: &str, value: Value| {
        let mut planted = alone.clone();
        let place = planted.pointer_mut(pointer).and_then(Value::as_object_mut).expect("an object");
        place.insert(name.to_owned(), value);
        faults(LISTEN, &planted)
    };
    assert!(!plant("/versions/0", "id", json!("louder")).is_empty());
    assert!(!plant("/passage", "hits", json!(1.5)).is_empty());
    assert!(!plant("/left_out/0", "leak", json!("drums")).is_empty());
    assert!(!plant("", "planted", json!(1)).is_empty());
}
