//! The HTML report: the same numbers as the JSON, well-formed for an independent parser
//! (`html5ever`, through `scraper`), and safe with any name.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use scraper::{Html, Selector};
use serde_json::Value;

use crate::support::{check, directory, path_text, programme, programme_wav, text, write_wav};

/// Numbers of the JSON that stand on the page in words or in a picture, not one by one.
const NOT_ONE_BY_ONE: &[&str] = &[
    "/balance/thirds/",
    "/schema",
    "/mix/",
    "/made/",
    "/hits/",
    "/history/",
    "/sections/",
    "/leaks/",
    "/listener/",
    "/punch/shape/times_ms/",
    "/punch/shape/level_db/",
    "/punch/shape/low_db/",
    "/punch/shape/high_db/",
    "/punch/shape/peak",
    "/punch/shape_by_drum/",
    "/punch/spectrum/bands/",
    "/compare/thirds/",
    "/compare/shape/times_ms/",
    "/compare/shape/level_db/",
    "/compare/shape/low_db/",
    "/compare/shape/high_db/",
    "/compare/shape/peak",
    "/timing/edits/",
];

/// Runs `brunt check FILE --html`, gives the page.
fn page(file: &Path, args: &[&str]) -> String {
    let d = directory();
    let html = d.path().join("report.html");
    let mut all = vec!["--quiet", "--html", path_text(&html)];
    all.extend(args);
    let output = check(file, &all);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    fs::read_to_string(&html).expect("the page")
}

fn json(file: &Path) -> Value {
    serde_json::from_slice(&check(file, &["--json", "-"]).stdout).expect("JSON")
}

/// Every `data-json` place with its `value` and its text.
fn shown(page: &Html) -> BTreeMap<String, (Option<f64>, String)> {
    let places = Selector::parse("[data-json]:not(g)").expect("a selector");
    page.select(&places)
        .map(|element| {
            let value = element.value();
            let place = value.attr("data-json").expect("selected by it").to_owned();
            let number = value.attr("value").map(|v| v.parse().expect("a number"));
            (place, (number, element.text().collect()))
        })
        .collect()
}

fn walk<'a>(place: &str, value: &'a Value, leaves: &mut Vec<(String, &'a Value)>) {
    match value {
        Value::Object(fields) => {
            for (name, value) in fields {
                walk(&format!("{place}/{name}"), value, leaves);
            }
        }
        Value::Array(items) => {
            for (index, value) in items.iter().enumerate() {
                walk(&format!("{place}/{index}"), value, leaves);
            }
        }
        leaf => leaves.push((place.to_owned(), leaf)),
    }
}

#[test]
fn every_number_on_the_page_is_that_of_the_json() {
    let d = directory();
    let file = programme_wav(d.path(), 24.0);
    let (page, json) = (page(&file, &[]), json(&file));
    let shown = shown(&Html::parse_document(&page));
    assert!(shown.len() > 25, "{} numbers", shown.len());
    for (place, (number, said)) in &shown {
        let want = json.pointer(place).unwrap_or_else(|| panic!("{place} is not in the JSON"));
        assert_eq!(*number, want.as_f64(), "{place}");
        match number {
            // What a person reads is the number to one decimal, with a true minus sign.
            Some(number) => {
                let read: String = said
                    .replace('\u{2212}', "-")
                    .chars()
                    .take_while(|c| c.is_ascii_digit() || "+-.".contains(*c))
                    .collect();
                let read: f64 = read.parse().unwrap_or_else(|_| panic!("{place}: {said}"));
                assert!((read - number).abs() <= 0.05 + 1e-9, "{place}: {said} for {number}");
            }
            None => assert_eq!(said, "unknown", "{place}"),
        }
    }
    let mut leaves = Vec::new();
    walk("", &json, &mut leaves);
    let missing: Vec<&String> = leaves
        .iter()
        .filter(|(place, value)| value.is_number() && !shown.contains_key(place))
        .map(|(place, _)| place)
        .filter(|place| !NOT_ONE_BY_ONE.iter().any(|start| place.starts_with(start)))
        .filter(|place| !place.starts_with("/input/"))
        .collect();
    assert!(missing.is_empty(), "not on the page: {missing:?}");
    for leak in ["ceiling", "mids"] {
        for field in ["cost_db", "cost_low_db", "cost_high_db"] {
            let place = format!("/leaks/{leak}/{field}");
            let known = json.pointer(&place).is_some_and(Value::is_number);
            assert_eq!(known, shown.contains_key(&place), "{place}");
        }
    }
}

#[test]
fn the_page_carries_the_whole_json() {
    let d = directory();
    let file = programme_wav(d.path(), 12.0);
    let html = Html::parse_document(&page(&file, &[]));
    let block = Selector::parse("script#brunt-check[type='application/json']").expect("a selector");
    let block: String = html.select(&block).next().expect("the block").text().collect();
    let carried: Value = serde_json::from_str(&block).expect("JSON");
    assert_eq!(carried, json(&file));
}

#[test]
fn every_third_octave_is_a_stem() {
    let d = directory();
    let file = programme_wav(d.path(), 24.0);
    let (page, json) = (Html::parse_document(&page(&file, &[])), json(&file));
    let thirds = json["balance"]["thirds"].as_array().expect("thirds");
    let stems = Selector::parse("#balance g[data-json] rect").expect("a selector");
    let heights: Vec<f64> = page
        .select(&stems)
        .map(|stem| stem.value().attr("height").expect("height").parse().expect("a number"))
        .collect();
    assert_eq!((heights.len(), thirds.len()), (30, 30));
    for (third, height) in thirds.iter().zip(heights) {
        let over = third["over_curve_db"].as_f64().unwrap_or(0.0).abs();
        // 90 units for 24 dB; a stem that would leave the picture ends at its edge.
        let want = over.min(12.0) * 90.0 / 24.0;
        assert!((height - want).abs() < 0.02, "{third}: {height}, expected {want}");
    }
}

/// The strokes against the hits: their number, their places, and their heights, which are in
/// proportion to the contrast.
#[test]
fn every_hit_is_a_stroke_of_its_height() {
    let d = directory();
    let file = programme_wav(d.path(), 24.0);
    let (page, json) = (Html::parse_document(&page(&file, &[])), json(&file));
    let hits = json["hits"].as_array().expect("hits");
    assert!(hits.len() > 40, "{}", hits.len());
    let strokes = Selector::parse("#hits g[data-json]").expect("a selector");
    let (stem, cap) =
        (Selector::parse("rect.stem").expect("s"), Selector::parse("rect.cap").expect("s"));
    let number = |e: scraper::ElementRef<'_>, name: &str| -> f64 {
        e.value().attr(name).expect(name).parse().expect("a number")
    };
    let mut scales = Vec::new();
    for (index, stroke) in page.select(&strokes).enumerate() {
        assert_eq!(stroke.value().attr("data-json"), Some(format!("/hits/{index}").as_str()));
        let contrast = hits[index]["contrast_db"].as_f64().expect("contrast");
        let stem = stroke.select(&stem).next().expect("a stem");
        let (top, height) = (number(stem, "y"), number(stem, "height"));
        if top > 0.0 {
            scales.push(height / contrast);
        }
        let lost = hits[index]["lost_db"].as_f64().unwrap_or(0.0);
        let caps: Vec<_> = stroke.select(&cap).collect();
        assert_eq!(caps.len(), usize::from(lost >= 0.1), "hit {index} lost {lost} dB");
        for cap in caps {
            assert!(number(cap, "y") + number(cap, "height") <= top, "the cap is over the stem");
        }
    }
    assert_eq!(page.select(&strokes).count(), hits.len());
    assert!(scales.len() > 30);
    let (low, high) = scales.iter().fold((f64::MAX, 0.0f64), |(l, h), s| (l.min(*s), h.max(*s)));
    assert!(high / low < 1.01, "{low} to {high} units a dB");
}

/// The history's line has a vertex for every stretch in which something was known.
#[test]
fn the_history_is_drawn_whole() {
    let d = directory();
    let file = programme_wav(d.path(), 24.0);
    let (page, json) = (Html::parse_document(&page(&file, &[])), json(&file));
    let lines = Selector::parse("#history path.line").expect("a selector");
    let known = |column: &str| {
        let column = json["history"][column].as_array().expect("a column");
        column.iter().filter(|x| x.is_number()).count()
    };
    let drawn: Vec<usize> = page
        .select(&lines)
        .map(|path| path.value().attr("d").expect("d").matches(['M', 'L']).count())
        .collect();
    assert_eq!(drawn, [known("short_term_lufs"), known("contrast_db")]);
    // 24 s at 10 Hz fit without thinning.
    assert_eq!(json["history"]["short_term_lufs"].as_array().map(Vec::len), Some(240));
    assert_eq!(json["history"]["step_s"], 0.1);
}

#[test]
fn an_independent_parser_finds_no_error_and_nothing_to_load() {
    let d = directory();
    let page = page(&programme_wav(d.path(), 12.0), &[]);
    let html = Html::parse_document(&page);
    assert!(html.errors.is_empty(), "{:?}", html.errors);
    for (element, attribute) in [
        ("script[src]", "src"),
        ("link[href]", "href"),
        ("img", "src"),
        ("a[href]", "href"),
        ("iframe", "src"),
        ("use", "href"),
    ] {
        for found in html.select(&Selector::parse(element).expect("a selector")) {
            let target = found.value().attr(attribute).unwrap_or_default();
            assert_eq!(target, "data:,", "{element} would load {target}");
        }
    }
    let style: String =
        html.select(&Selector::parse("style").expect("s")).flat_map(|s| s.text()).collect();
    assert!(!style.contains("url(") && !style.contains("@import"));
}

/// HTML, SVG and JSON in a name stay letters of the name.
#[test]
fn a_name_cannot_become_markup() {
    let d = directory();
    let file = d.path().join("<script>alert(1)<&\"' end of all ]]> --> .wav");
    write_wav(&file, &programme(2.0), 48_000, 24);
    let page = page(&file, &[]);
    let html = Html::parse_document(&page);
    assert!(html.errors.is_empty(), "{:?}", html.errors);
    let scripts = Selector::parse("script").expect("a selector");
    assert_eq!(html.select(&scripts).count(), 1, "the block of data alone");
    let title: String =
        html.select(&Selector::parse("h1").expect("s")).flat_map(|t| t.text()).collect();
    assert_eq!(title, file.file_name().expect("a name").to_str().expect("UTF-8"));
}

#[test]
fn unicode_names_of_mix_and_report() {
    let d = directory();
    let folder = d.path().join("Übung 7 \u{2013} démo");
    fs::create_dir(&folder).expect("a directory");
    let file = folder.join("夜の歌 \u{1f941} (naïve).wav");
    write_wav(&file, &programme(2.0), 48_000, 24);
    let report = folder.join("Bericht \u{1f941} größer.html");
    let output = check(&file, &["--quiet", "--html", path_text(&report)]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let page = fs::read_to_string(&report).expect("the page");
    assert!(page.contains("<h1>夜の歌 \u{1f941} (naïve).wav</h1>"));
    assert_eq!(fs::read_dir(&folder).expect("a directory").count(), 2, "mix and report alone");
}

/// What most files do not have is left out, not left empty: a passage without hits, mono.
#[test]
fn a_passage_without_hits_says_so() {
    let d = directory();
    let file = d.path().join("tone.wav");
    let tone = (0..48_000 * 3).map(|n| 0.3 * (n as f32 * 0.05).sin()).collect();
    write_wav(&file, &[tone], 48_000, 16);
    let page = page(&file, &["--from", "1"]);
    let html = Html::parse_document(&page);
    assert!(html.errors.is_empty(), "{:?}", html.errors);
    assert!(page.contains("No hits were found"), "no empty picture");
    assert!(page.contains("mono, 48 kHz, 2.000 s from 1.000 s"));
}
