//! The JSON against the names of the contract, written out here and not taken from the code.

use std::fs;

use brunt_report::report::Report;
use serde_json::Value;

use crate::support::{check, directory, path_text, programme_wav, text};

/// Every name of `brunt-check/1`: parent, then the names in it.
const NAMES: &[(&str, &[&str])] = &[
    ("", &["schema", "mix", "loudness", "balance", "punch", "hits", "leaks", "parts", "compare"]),
    ("/mix", &["file", "sample_rate_hz", "channels", "duration_s"]),
    (
        "/loudness",
        &[
            "integrated_lufs",
            "short_term_max_lufs",
            "momentary_max_lufs",
            "range_lu",
            "true_peak_dbtp",
            "sample_peak_dbfs",
            "plr_db",
            "psr_min_db",
            "psr_median_db",
        ],
    ),
    ("/balance", &["low_db", "mid_db", "high_db", "mid_deficit_db", "thirds"]),
    ("/balance/thirds/0", &["hz", "level_dbfs", "over_curve_db"]),
    (
        "/small_speaker",
        &["high_pass_hz", "contrast_db", "contrast_p10_db", "contrast_p90_db", "vanished"],
    ),
    (
        "/listener/0",
        &["target_lufs", "gain_db", "held_by_peaks", "hit_level_lufs", "hit_peak_dbtp"],
    ),
    (
        "/punch",
        &["contrast_db", "contrast_p10_db", "contrast_p90_db", "hits", "contrast_percentile"],
    ),
    (
        "/hits/0",
        &[
            "time_s",
            "true_peak_dbtp",
            "contrast_db",
            "lost_db",
            "small_contrast_db",
            "small_vanishes",
        ],
    ),
    ("/leaks", &["ceiling", "timing", "clutter", "drive", "mids"]),
    (
        "/leaks/ceiling",
        &[
            "state",
            "cost_db",
            "cost_low_db",
            "cost_high_db",
            "says",
            "do",
            "implied_reduction_db",
            "implied_reduction_p90_db",
            "implied_reduction_max_db",
            "ceiling_dbtp",
            "hits_at_ceiling",
            "kind",
        ],
    ),
    ("/leaks/timing", &["state", "cost_db", "cost_low_db", "cost_high_db", "says", "do"]),
    ("/leaks/clutter", &["state", "cost_db", "cost_low_db", "cost_high_db", "says", "do"]),
    (
        "/leaks/drive",
        &[
            "state",
            "cost_db",
            "cost_low_db",
            "cost_high_db",
            "says",
            "do",
            "attack_lost_db",
            "attack_lost_low_db",
            "attack_lost_high_db",
            "attack_cost_db",
            "attack_cost_low_db",
            "attack_cost_high_db",
            "hits_cost_db",
        ],
    ),
    (
        "/leaks/mids",
        &[
            "state",
            "cost_db",
            "cost_low_db",
            "cost_high_db",
            "says",
            "do",
            "mid_deficit_db",
            "percentile",
            "dip_db",
            "lift_db",
            "carry_db",
            "weakness_db",
            "weakness_over_reference_db",
            "deficit_over_reference_db",
            "shape",
        ],
    ),
];

fn json(args: &[&str]) -> Value {
    let d = directory();
    let file = programme_wav(d.path(), 12.0);
    let mut all = vec!["--json", "-"];
    all.extend(args);
    let output = check(&file, &all);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("standard output is the JSON and nothing else")
}

#[test]
fn every_name_of_the_contract_is_there() {
    let json = json(&[]);
    for (parent, names) in NAMES {
        let object = json.pointer(parent).and_then(Value::as_object);
        let object = object.unwrap_or_else(|| panic!("{parent} is an object"));
        for name in *names {
            assert!(object.contains_key(*name), "{parent}/{name} in {object:?}");
        }
    }
    assert_eq!(json["schema"], "brunt-check/1");
    assert_eq!(json["mix"]["sample_rate_hz"], 48_000.0);
    assert_eq!(json["mix"]["channels"], 2);
    assert_eq!(json["mix"]["duration_s"], 12.0);
    assert_eq!(json["parts"], Value::Array(Vec::new()));
    assert_eq!(json["compare"], Value::Null);
}

/// Parts are not read: what needs them is unknown, says so, and costs nothing that is known.
#[test]
fn what_the_mix_cannot_show_is_unknown() {
    let json = json(&[]);
    for leak in ["timing", "clutter", "drive"] {
        let leak = &json["leaks"][leak];
        assert_eq!(leak["state"], "unknown");
        assert_eq!(leak["cost_db"], Value::Null);
        assert!(leak["says"].as_str().is_some_and(|s| s.contains("mix alone can't show")));
        assert!(leak["do"].as_str().is_some_and(|s| !s.is_empty()));
    }
}

/// The programme has a hit on every half second.
#[test]
fn hits_stand_where_the_programme_puts_them() {
    let json = json(&[]);
    let hits = json["hits"].as_array().expect("hits");
    assert_eq!(json["punch"]["hits"], hits.len());
    for beat in 1..24 {
        let time_s = f64::from(beat) * 0.5;
        let nearest = hits
            .iter()
            .filter_map(|hit| hit["time_s"].as_f64())
            .map(|t| (t - time_s).abs())
            .fold(f64::INFINITY, f64::min);
        assert!(nearest <= 0.002, "a hit within 2 ms of {time_s} s: {nearest} s away");
    }
    assert!(hits.len() <= 26, "and few others: {}", hits.len());
}

#[test]
fn a_file_holds_what_standard_output_shows_and_reads_back() {
    let d = directory();
    let file = programme_wav(d.path(), 3.0);
    let path = d.path().join("report.json");
    fs::write(&path, "old").expect("written");
    let output = check(&file, &["--json", path_text(&path), "--quiet", "--force"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(output.stdout.is_empty() && output.stderr.is_empty(), "quiet");
    let written = fs::read_to_string(&path).expect("read");
    assert_eq!(written, text(&check(&file, &["--json", "-"]).stdout));
    let report = Report::from_json(&written).expect("the form");
    assert_eq!(report.to_json().expect("JSON"), written, "nothing is lost on the way");
    // The programme and the report: no temporary file is left.
    assert_eq!(fs::read_dir(d.path()).expect("a directory").count(), 2);
}

/// A device is written to, not replaced by a file.
#[cfg(unix)]
#[test]
fn a_device_stays_a_device() {
    use std::os::unix::fs::FileTypeExt;
    let d = directory();
    let file = programme_wav(d.path(), 1.0);
    assert_eq!(check(&file, &["--json", "/dev/null"]).status.code(), Some(0));
    let kind = fs::metadata("/dev/null").expect("there").file_type();
    assert!(kind.is_char_device(), "/dev/null is still a device");
}
