//! The page to listen on, in Chromium without a window: nothing asked of the network, changes without
//! a gap or a click by the samples of an offline audio context, the files' own samples, the binomial
//! against scipy, and a blind comparison by the keyboard alone.

use std::fs;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};

use brunt_files::whole::Whole;
use serde_json::Value;

use crate::browser::visit;
use crate::listen::written;
use crate::support::{directory, path_text};

/// Runs the page with the probe behind its own script, in a window of `width`, and gives what that
/// found.
fn probe(page: &Path, width: u32) -> Value {
    let d = directory();
    let probed = d.path().join("probed.html");
    let text = fs::read_to_string(page).expect("the page");
    let end = text.rfind("</body>").expect("a body");
    let script = include_str!("listen_page.js");
    fs::write(&probed, format!("{}<script>{script}</script>{}", &text[..end], &text[end..]))
        .expect("written");
    let mut chromium = Command::new("chromium")
        .args(["--headless", "--disable-gpu", "--enable-logging=stderr", "--no-first-run"])
        .args(["--no-sandbox", "--disable-dev-shm-usage", "--disable-background-networking"])
        // Sound goes nowhere, and nobody is there to press a key first.
        .args(["--mute-audio", "--autoplay-policy=no-user-gesture-required"])
        .arg(format!("--window-size={width},900"))
        .arg(format!("--user-data-dir={}", path_text(&d.path().join("profile"))))
        // Keeps the page open: it is done when it says so.
        .arg("--remote-debugging-port=0")
        .arg(format!("file://{}", path_text(&probed)))
        .stderr(Stdio::piped())
        .spawn()
        .expect("chromium is needed: run `cargo xtask test`, which installs it");
    let mut said = String::new();
    let mut found = None;
    for line in BufReader::new(chromium.stderr.take().expect("a pipe")).lines() {
        let line = line.expect("text");
        if let Some(at) = line.find("FOUND {") {
            let json = &line[at + 6..line.rfind('}').expect("whole") + 1];
            found = Some(serde_json::from_str(json).expect("JSON"));
            break;
        }
        said.push_str(&line);
        said.push('\n');
    }
    // It may have ended by itself.
    let _ = chromium.kill();
    let _ = chromium.wait();
    found.unwrap_or_else(|| panic!("the page has found nothing: {said}"))
}

fn number(found: &Value, name: &str) -> f64 {
    found[name].as_f64().unwrap_or_else(|| panic!("{name}: {found}"))
}

/// One visit: a browser takes seconds to start.
#[test]
fn the_page_plays_without_gap_or_click_and_counts_right() {
    let (folder, json) = written();
    let found = probe(&folder.path().join("out/index.html"), 1000);
    assert_eq!(found["fault"], Value::Null);

    // A tone that goes on through changes and through the seam of the loop is that tone: to a
    // rounding of single precision.
    assert!(number(&found, "same") < 1e-5, "{found}");
    let bound = number(&found, "other_bound");
    for step in ["other_step", "quick_step"] {
        assert!(number(&found, step) < bound, "{step}: {found}");
    }
    // Closed form: a straight change between two tones of 0.354 RMS has 0.25 in its middle.
    assert!(number(&found, "other_quietest") > 0.2, "{found}");
    assert!(number(&found, "rough_quietest") < 0.01, "a gap is seen: {found}");
    for name in ["dip_same", "dip_other"] {
        assert!(number(&found, &format!("{name}_step")) < bound, "{found}");
        assert!(number(&found, &format!("{name}_quietest")) < 0.12, "it dips: {found}");
        let end = number(&found, &format!("{name}_end"));
        assert!((end - 0.5 / 2f64.sqrt()).abs() < 0.02, "and comes back: {found}");
    }
    assert!(number(&found, "stop_step") < bound && number(&found, "stop_end") == 0.0, "{found}");

    // What the page holds is what the files hold, which ffmpeg has measured.
    let audio = found["audio"].as_array().expect("versions");
    let versions = json["versions"].as_array().expect("versions");
    assert_eq!(audio.len(), versions.len());
    for (audio, version) in audio.iter().zip(versions) {
        let file = folder.path().join("out").join(version["file"].as_str().expect("a name"));
        let file = Whole::read(&file).expect("a file");
        let plane = &file.planes[0];
        let squares: f64 = plane.iter().map(|x| f64::from(*x) * f64::from(*x)).sum();
        let most = plane.iter().fold(0.0f32, |most, x| most.max(x.abs()));
        assert_eq!(audio["frames"].as_u64(), Some(plane.len() as u64), "{version}");
        assert_eq!(audio["rate"].as_f64(), Some(f64::from(file.sample_rate_hz)));
        assert!((number(audio, "squares") / squares - 1.0).abs() < 1e-5, "{version}: {audio}");
        assert!((number(audio, "most") - f64::from(most)).abs() < 1e-6, "{version}: {audio}");
    }

    // scipy 1.17.1, `scipy.stats.binomtest(right, trials, 0.5, alternative="greater").pvalue`.
    let by_scipy = [
        0.0107421875,
        0.019287109375,
        0.0384063720703125,
        0.020694732666015625,
        0.021642625331878662,
        1.0,
        0.61279296875,
        0.000244140625,
        0.4438624136703915,
        8.881784197001252e-16,
        0.5,
    ];
    for (got, want) in found["chances"].as_array().expect("chances").iter().zip(by_scipy) {
        let got = got.as_f64().expect("a chance");
        assert!((got / want - 1.0).abs() < 1e-12, "{got}: scipy has {want}");
    }
    assert!(found["no_chance"].as_array().expect("none").iter().all(Value::is_null), "{found}");

    // The volume starts moderate and is bounded.
    assert!(number(&found, "first_gain") <= 0.26 && number(&found, "most_gain") == 1.0, "{found}");
    assert!(number(&found, "least_gain") == 0.0 && number(&found, "loudest_db") == 0.0, "{found}");

    let blind = &found["blind"];
    assert_eq!(found["unheard"], 0, "an answer before X was heard counts for nothing");
    assert_eq!((&blind["done"], &blind["right"]), (&10.into(), &9.into()), "{blind}");
    assert_eq!((&blind["running"], &blind["shown"]), (&false.into(), &true.into()), "{blind}");
    assert_eq!(blind["hidden"], "none", "names and pictures are hidden while it runs");
    let line = blind["line"].as_str().expect("a line");
    for word in ["9 of 10 right", "0.0107", "A: As it is", "mix.wav", "exact binomial"] {
        assert!(line.contains(word), "{word}: {line}");
    }
    assert!(blind["odds"].as_str().expect("odds").contains("1.1 %"), "{blind}");

    assert_eq!(found["second"], 1, "a number hears its version");
    assert_eq!((&found["loop"], &found["playing"]), (&false.into(), &false.into()), "{found}");
    assert_eq!(found["said"], "", "nothing is amiss while it plays");
    assert!(found["no_sound"].as_str().expect("words").contains("Check the output device"));
    assert_eq!(found["unlabelled"], Value::Array(vec![]), "every control has a name");
    assert!(number(&found, "wide") <= 0.0, "nothing sticks out: {found}");
}

#[test]
fn the_page_asks_for_nothing_and_carries_its_cautions() {
    let (folder, json) = written();
    let page = folder.path().join("out/index.html");
    let d = directory();
    let visit = visit(&page, &d.path().join("page.pdf"));
    assert!(visit.console.is_empty(), "{:?}", visit.console);
    assert!(visit.requests.is_empty(), "{:?}", visit.requests);
    let text = fs::read_to_string(&page).expect("the page");
    assert!(text.contains("default-src 'none'"));
    for line in brunt_report::words::caution() {
        assert!(text.contains(line), "{line}");
    }
    for version in json["versions"].as_array().expect("versions") {
        assert!(text.contains(version["name"].as_str().expect("a name")), "{version}");
    }
}
