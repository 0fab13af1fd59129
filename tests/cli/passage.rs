//! `--from` and `--to`: the passage measures as if it had been cut out, and its hits keep the
//! file's times.

use crate::support::{RATE, check, directory, measure, programme, text, write_wav};
use brunt_report::report::Report;

#[test]
fn a_passage_measures_as_if_it_were_cut_out() {
    let d = directory();
    let (whole, cut) = (d.path().join("whole.wav"), d.path().join("cut.wav"));
    let planes = programme(9.0);
    write_wav(&whole, &planes, RATE, 24);
    // 2.5004 s is 120019.2 frames: the nearest one counts.
    let (first, last) = (120_019, 7 * RATE as usize);
    write_wav(&cut, &planes.map(|plane| plane[first..last].to_vec()), RATE, 24);
    let output = check(&whole, &["--from", "2.5004", "--to", "7", "--json", "-"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let got = Report::from_json(&text(&output.stdout)).expect("the form");
    let want = measure(&cut);
    assert_eq!(got.loudness, want.loudness);
    assert_eq!(got.balance, want.balance);
    assert_eq!(got.punch, want.punch);
    assert_eq!(got.leaks, want.leaks);
    let from_s = first as f64 / f64::from(RATE);
    assert_eq!((got.mix.from_s, got.mix.duration_s), (from_s, want.mix.duration_s));
    assert!(!got.hits.is_empty());
    for (got, want) in got.hits.iter().zip(&want.hits) {
        assert!((got.time_s - (want.time_s + from_s)).abs() < 1e-9, "{got:?} {want:?}");
    }
}

#[test]
fn one_end_alone_will_do_and_the_exact_end_is_allowed() {
    let d = directory();
    let file = d.path().join("p.wav");
    write_wav(&file, &programme(3.0), RATE, 24);
    for (args, duration_s) in
        [(["--from", "1"], 2.0), (["--to", "1"], 1.0), (["--to", "3"], 3.0), (["--from", "0"], 3.0)]
    {
        let output = check(&file, &[args[0], args[1], "--json", "-"]);
        let report = Report::from_json(&text(&output.stdout)).expect("the form");
        assert_eq!(report.mix.duration_s, duration_s, "{args:?}");
    }
}

/// The meter holds the last contrast through a pause: a section of the pause has none, in the file's time.
#[test]
fn a_pause_at_the_end_has_no_contrast() {
    let d = directory();
    let file = d.path().join("pause.wav");
    let planes = programme(24.0).map(|mut plane| {
        plane.resize(40 * RATE as usize, 0.0);
        plane
    });
    write_wav(&file, &planes, RATE, 24);
    for args in [&[][..], &["--from", "3"]] {
        let output = check(&file, &[args, &["--json", "-"]].concat());
        let sections = Report::from_json(&text(&output.stdout)).expect("the form").sections;
        assert!(sections.len() >= 2, "{sections:?}");
        for section in &sections {
            let pause = section.from_s > 20.0;
            assert_eq!(section.contrast_db.is_none(), pause, "{sections:?}");
        }
        let page = text(&check(&file, args).stdout);
        assert!(page.contains("1 more section without hits"), "{page}");
    }
}
