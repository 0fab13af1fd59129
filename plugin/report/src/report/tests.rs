mod carried;
mod filler;

use brunt_engine::{Ceiling, CeilingKind, Cost, Leaks, Need, PartLeak};

use super::*;

fn limited() -> Readings {
    Readings {
        leaks: Leaks {
            ceiling: Ceiling {
                state: State::Leaking,
                cost: Some(Cost { db: 3.25, low_db: 2.0, high_db: 4.5 }),
                implied_reduction_db: Some(4.125),
                kind: Some(CeilingKind::Limiter),
                ..Ceiling::default()
            },
            timing: PartLeak { need: Need::Parts, ..PartLeak::default() },
            clutter: PartLeak { need: Need::Hits { have: 3, want: 8 }, ..PartLeak::default() },
            ..Leaks::default()
        },
        ..Readings::default()
    }
}

fn source() -> Source {
    Source {
        file: "a \"song\".wav".to_owned(),
        sample_rate_hz: 48_000.0,
        channels: 2,
        duration_s: 12.5,
        from_s: 4.0,
    }
}

#[test]
fn a_report_reads_back_as_it_was_written() {
    let hit = Hit { time_s: 1.5, true_peak_dbtp: -1.0, contrast_db: 9.5, ..Hit::default() };
    let report = Report::new(source(), &limited(), &[hit], Thresholds::default());
    assert_eq!(report.hits[0].time_s, 5.5, "times count from the start of the file");
    let text = report.to_json().expect("a report is always JSON");
    assert_eq!(Report::from_json(&text).expect("the same form"), report);
}

#[test]
fn numbers_that_are_not_finite_become_null() {
    let hit = Hit { true_peak_dbtp: f64::NEG_INFINITY, contrast_db: f64::NAN, ..Hit::default() };
    let report = Report::new(source(), &Readings::default(), &[hit], Thresholds::default());
    assert_eq!((report.hits[0].true_peak_dbtp, report.hits[0].contrast_db), (None, None));
}

#[test]
fn a_reader_takes_added_fields_and_refuses_another_schema() {
    let report = Report::new(source(), &limited(), &[], Thresholds::default());
    let mut json = serde_json::to_value(&report).expect("JSON");
    json["added_later"] = serde_json::json!({"x": 1});
    json["leaks"]["ceiling"]["added_later"] = serde_json::json!(2);
    assert_eq!(Report::from_json(&json.to_string()).expect("added fields are skipped"), report);
    json["schema"] = serde_json::json!("brunt-check/9");
    let error = Report::from_json(&json.to_string()).expect_err("another schema").to_string();
    assert!(error.contains("brunt-check/9") && error.contains("brunt-check/1"), "{error}");
}

#[test]
fn a_word_outside_the_list_is_named_with_what_was_expected() {
    let report = Report::new(source(), &limited(), &[], Thresholds::default());
    let mut json = serde_json::to_value(&report).expect("JSON");
    json["leaks"]["timing"]["state"] = serde_json::json!("fine");
    let error = Report::from_json(&json.to_string()).expect_err("no such state").to_string();
    assert!(error.contains("fine") && error.contains("unknown, clear, watch, leaking"), "{error}");
}

#[test]
fn the_worst_state_passes_over_unknown_leaks() {
    let report = Report::new(source(), &limited(), &[], Thresholds::default());
    assert_eq!(report.worst(), State::Leaking);
    let none = Report::new(source(), &Readings::default(), &[], Thresholds::default());
    assert_eq!(none.worst(), State::Unknown);
}
