//! The page on a terminal: width, colour, its last five lines, and the exit status.

use std::fs;

use brunt_cli::terminal::render;
use brunt_engine::{
    Ceiling, CeilingKind, Cost, LeakKind, Leaks, Mids, Readings, State, Thresholds,
};
use brunt_report::report::{Report, Source};

use crate::support::{
    brunt, check, copy_of, directory, path_text, programme, programme_wav, text, write_wav,
};

const LEAKS: [&str; 5] = ["Limiting", "Timing", "Clutter", "Guitar gain", "Mids"];

#[test]
fn no_line_is_longer_than_80_columns() {
    let d = directory();
    let deep = d.path().join("a rather long directory name for a mix").join("and another one");
    fs::create_dir_all(&deep).expect("a directory");
    let file = deep.join("mix with a long name, take 12, vocals up, master 3.wav");
    write_wav(&file, &programme(3.0), 48_000, 24);
    for name in [&file, &programme_wav(d.path(), 12.0)] {
        let output = check(name, &[]);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        for line in text(&output.stdout).lines() {
            assert!(line.chars().count() <= 80, "{}: {line}", line.chars().count());
            assert_eq!(line, line.trim_end(), "no blanks at the end of a line");
        }
    }
}

#[test]
fn help_stays_within_80_columns_and_tells_the_exit_status() {
    for args in [
        &["--help"][..],
        &["check", "--help"],
        &["check", "-h"],
        &["history", "--help"],
        &["takes", "--help"],
        &["listen", "--help"],
        &["listen", "-h"],
        &["man", "--help"],
        &["completions", "--help"],
    ] {
        let output = brunt().args(args).output().expect("brunt runs");
        assert_eq!(output.status.code(), Some(0));
        let help = text(&output.stdout);
        for line in help.lines() {
            assert!(line.chars().count() <= 80, "{line}");
        }
        assert!(args != ["check", "--help"] || help.contains("Exit status: 0 measured"), "{help}");
    }
}

/// The page's last block: what to do about each leak that is not clear, in the order of the leaks
/// above it.
#[test]
fn it_ends_in_what_to_do_about_each_leak_that_is_not_clear() {
    let d = directory();
    let page = text(&check(&programme_wav(d.path(), 12.0), &[]).stdout);
    let lines: Vec<&str> = page.lines().collect();
    let names = |lines: &[&str]| -> Vec<&str> {
        let named =
            // A row has two columns ahead of its name; a sentence that starts with one has more.
            |line: &&str| LEAKS.into_iter().find(|leak| line.starts_with(&format!("  {leak}")));
        lines.iter().filter_map(named).collect()
    };
    let heading = lines.iter().position(|line| *line == "Try first").expect("a heading");
    let state = |leak: &str, word: &str| {
        lines[..heading].iter().any(|line| {
            line.trim_start()
                .strip_prefix(leak)
                .is_some_and(|rest| rest.trim_start().starts_with(word))
        })
    };
    let (above, to_do) = (names(&lines[..heading]), names(&lines[heading..]));
    assert_eq!(above.len(), LEAKS.len(), "{page}");
    let not_clear: Vec<&str> = above.into_iter().filter(|leak| !state(leak, "clear")).collect();
    assert!(not_clear.len() >= 3, "timing, clutter and guitar gain need parts: {page}");
    assert_eq!(to_do, not_clear, "{page}");
    let (next, advice) = lines[heading + 1..].split_last().expect("advice");
    assert!(advice.iter().all(|line| line.ends_with('.')), "{page}");
    // At the very end, in one line: what to give it for the leaks that it could not judge.
    assert!(next.starts_with("  Next ") && next.contains("--part drums=FILE"), "{page}");
}

/// A clear leak has its name, state and cost, and no sentence.
#[test]
fn a_clear_leak_takes_one_line_and_the_worst_comes_first() {
    let cost = |db| Some(Cost { db, low_db: db - 0.1, high_db: db + 0.1 });
    let ceiling = Ceiling { state: State::Clear, cost: cost(0.3), ..Ceiling::default() };
    let mids = Mids {
        state: State::Leaking,
        cost: cost(2.4),
        mid_deficit_db: Some(6.0),
        weakness_db: Some(4.0),
        ..Mids::default()
    };
    let leaks = Leaks { ceiling, mids, ..Leaks::default() };
    let readings = Readings { leaks, ..Readings::default() };
    let report = Report::new(Source::default(), &readings, &[], Thresholds::default());
    let page = without_styles(&render(&report));
    let lines: Vec<&str> = page.lines().map(str::trim).collect();
    let at = |start: &str| lines.iter().position(|line| line.starts_with(start)).expect("a line");
    assert!(at("Mids") < at("Limiting") && at("Limiting") < at("Timing"), "{page}");
    assert_eq!(lines[at("Limiting")], "Limiting    clear    0.3 dB (0.2 to 0.4 dB)");
    assert!(lines[at("Limiting") + 1].starts_with("Timing"), "{page}");
    assert!(page.contains("watch from 1.0 dB, leaking from 2.0 dB"), "the limits in use: {page}");
    for term in ["hit contrast:", "leak:", "cost:", "clutter:"] {
        assert!(lines.iter().any(|line| line.starts_with(term)), "{term} {page}");
    }
}

#[test]
fn the_files_that_were_written_are_named() {
    let d = directory();
    let file = programme_wav(d.path(), 3.0);
    let [html, csv] = ["r.html", "r.csv"].map(|name| d.path().join(name));
    let output = check(&file, &["--html", path_text(&html), "--csv", path_text(&csv)]);
    let page = text(&output.stdout);
    for written in [&html, &csv] {
        let line = format!("Written: {}", path_text(written));
        assert!(page.lines().any(|l| l == line), "{line}: {page}");
        assert!(written.is_file());
    }
    assert!(!text(&check(&file, &[]).stdout).contains("Written"), "nothing was written");
}

/// The default lets unknown leaks pass, and says so; the flag fails on them.
#[test]
fn what_fail_on_could_not_judge_is_said_and_fails_where_it_is_asked_for() {
    let d = directory();
    let file = programme_wav(d.path(), 12.0);
    // Against itself: two tones without mids between them leak beside finished records.
    let copy = copy_of(&file, "copy.wav");
    let own = ["--reference", path_text(&copy)];
    let passed = check(&file, &["--fail-on", "leaking", own[0], own[1]]);
    let said = text(&passed.stderr);
    assert_eq!(passed.status.code(), Some(0), "{said}");
    assert!(said.contains("timing, clutter, guitar gain") && said.contains("--fail-on-unknown"));
    let failed =
        check(&file, &["--fail-on", "leaking", "--fail-on-unknown", "--quiet", own[0], own[1]]);
    assert_eq!(failed.status.code(), Some(1));
    assert!(text(&failed.stderr).contains("not known: "), "{}", text(&failed.stderr));
    let quiet = check(&file, &["--fail-on", "leaking", "--quiet", own[0], own[1]]);
    assert!(quiet.status.code() == Some(0) && quiet.stderr.is_empty());
    assert_eq!(check(&file, &["--fail-on-unknown"]).status.code(), Some(2), "needs --fail-on");
    let help = text(&brunt().args(["check", "--help"]).output().expect("brunt runs").stdout);
    assert!(help.contains("UNKNOWN LEAKS PASS"), "{help}");
}

#[test]
fn every_leak_shows_its_state_in_words() {
    let d = directory();
    let page = text(&check(&programme_wav(d.path(), 12.0), &[]).stdout);
    for leak in LEAKS {
        let line = page.lines().find(|l| l.trim_start().starts_with(leak)).expect(leak);
        let state = line.trim_start()[leak.len()..].split_whitespace().next().expect("a state");
        assert!(["unknown", "clear", "watch", "leaking"].contains(&state), "{line}");
    }
}

/// Colour needs a terminal, or a wish; NO_COLOR (no-color.org) wins over a terminal.
#[test]
fn colour_only_where_it_is_wanted() {
    let d = directory();
    let file = programme_wav(d.path(), 1.0);
    let plain = check(&file, &[]).stdout;
    assert!(!plain.contains(&0x1b), "a pipe gets no colour");
    let coloured = |no_color: bool| {
        let mut command = brunt();
        command.args(["check", path_text(&file)]).env("CLICOLOR_FORCE", "1");
        // `script` (Debian package bsdutils, on every system) gives the program a terminal.
        let line =
            format!("{} check {}", path_text(command.get_program().as_ref()), path_text(&file));
        let mut script = std::process::Command::new("script");
        script.args(["-qec", &line, "/dev/null"]).env("TERM", "xterm-256color");
        script.env_remove("NO_COLOR").env_remove("CLICOLOR_FORCE").env_remove("CI");
        if no_color {
            script.env("NO_COLOR", "1");
        }
        script.output().expect("`script` runs").stdout
    };
    assert!(coloured(false).contains(&0x1b), "a terminal gets colour");
    assert!(!coloured(true).contains(&0x1b), "NO_COLOR is honoured");
}

/// Every state and the longest numbers, without an audio file.
#[test]
fn a_page_of_large_numbers_stays_within_its_width() {
    for state in [State::Unknown, State::Clear, State::Watch, State::Leaking] {
        for kind in [CeilingKind::None, CeilingKind::Limiter, CeilingKind::Clipper] {
            let cost = Some(Cost { db: 12.34, low_db: 10.01, high_db: 19.99 });
            let ceiling = Ceiling {
                state,
                cost,
                implied_reduction_db: Some(12.34),
                implied_reduction_p90_db: Some(15.55),
                implied_reduction_max_db: Some(23.45),
                implied_reduction_range_db: Some((10.0, 14.5)),
                ceiling_dbtp: Some(-10.25),
                hits_at_ceiling: Some(123_456),
                kind: Some(kind),
                ..Ceiling::default()
            };
            let mids = Mids { state, cost, mid_deficit_db: Some(12.3), ..Mids::default() };
            let leaks = Leaks { ceiling, mids, ..Leaks::default() };
            let mut readings = Readings { leaks, ..Readings::default() };
            readings.loudness.integrated_lufs = Some(-10.0);
            readings.punch.contrast_db = Some(12.3);
            readings.punch.contrast_p10_db = Some(-10.1);
            readings.punch.contrast_p90_db = Some(30.1);
            readings.punch.hits = 1_234_567;
            readings.input.nan_samples = u64::MAX;
            readings.input.inf_samples = u64::MAX;
            let source = Source { file: "m.wav".into(), channels: 2, ..Source::default() };
            let report = Report::new(source, &readings, &[], Thresholds::default());
            let page = render(&report);
            let plain = without_styles(&page);
            for line in plain.lines() {
                assert!(line.chars().count() <= 80, "{}: {line}", line.chars().count());
            }
            let says = &report.leak(LeakKind::Ceiling).says;
            assert_eq!(says.contains("gain reduction 12.3 dB"), state != State::Unknown, "{says}");
        }
    }
}

/// The text without its escape sequences (ECMA-48: ESC [ ... m).
fn without_styles(text: &str) -> String {
    let mut plain = String::new();
    let mut rest = text;
    while let Some(at) = rest.find('\x1b') {
        plain.push_str(&rest[..at]);
        let end = rest[at..].find('m').expect("a style ends");
        rest = &rest[at + end + 1..];
    }
    plain + rest
}

/// A reader that goes away ends the program quietly, as `head` does.
#[test]
fn a_closed_pipe_is_no_error() {
    let d = directory();
    let file = programme_wav(d.path(), 1.0);
    let mut child = brunt()
        .args(["check", path_text(&file), "--json", "-"])
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .expect("brunt runs");
    drop(child.stdout.take());
    let output = child.wait_with_output().expect("it ends");
    assert_eq!((output.status.code(), text(&output.stderr).as_str()), (Some(0), ""));
}

/// Mids 20 dB down are a leak by any measure; the same file without the option exits with 0.
#[test]
fn fail_on_turns_a_leak_into_a_status() {
    let d = directory();
    let file = d.path().join("hollow.wav");
    // Lows and highs alone: 80 Hz and 11 kHz, loud, in beats.
    let plane: Vec<f32> = (0..48_000 * 40)
        .map(|n| {
            let t = f64::from(n) / 48_000.0;
            let beat = (-(t % 0.5) / 0.1).exp();
            let tones = (t * 80.0 * std::f64::consts::TAU).sin()
                + 0.3 * (t * 11_000.0 * std::f64::consts::TAU).sin();
            (0.4 * (0.1 + beat) * tones) as f32
        })
        .collect();
    write_wav(&file, &[plane], 48_000, 24);
    let report = Report::from_json(&text(&check(&file, &["--json", "-"]).stdout)).expect("form");
    assert_eq!(report.leak(LeakKind::Mids).state, State::Leaking, "{:?}", report.leaks.mids);
    for (limit, status) in [("leaking", 1), ("watch", 1)] {
        let output = check(&file, &["--fail-on", limit, "--quiet"]);
        assert_eq!(output.status.code(), Some(status), "{limit}");
        assert!(output.stdout.is_empty() && output.stderr.is_empty());
    }
    assert_eq!(check(&file, &["--quiet"]).status.code(), Some(0));
    assert_eq!(check(&file, &["--fail-on", "always"]).status.code(), Some(2), "no such state");
}
