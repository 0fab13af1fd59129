//! The page to listen on: the versions of a passage, their audio in the page, and a script that plays
//! them. It loads nothing.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use brunt_engine::LeakKind;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::number::{minus, number};
use super::piece::section;
use super::plot::xy;
use super::{care, data, head_of, sign};
use crate::listen::{ListenReport, VersionReport};
use crate::words::{self, leak_code, listen as say};

/// The looks of this page, on top of the report's.
const LISTEN_STYLE: &str = include_str!("listen.css");
/// The script in the page runs; nothing is loaded, whatever a name may hold.
const ALLOWED: &str = "style-src 'unsafe-inline'; script-src 'unsafe-inline'";
/// What plays.
const SCRIPT: &str = include_str!("listen.js");
/// Numbers of trials to choose from; 12 first. Ours: 9 of 10, 10 of 12, 12 of 16, 15 of 20 and 18 of 25
/// are under 5 %.
const TRIALS: [u32; 5] = [10, 12, 16, 20, 25];

/// The page of a session. `audio`: a FLAC file for each version, in their order.
#[must_use]
pub fn page(report: &ListenReport, audio: &[&[u8]]) -> String {
    let name = super::head::file_name(&report.mix.file);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            (head_of(&name, say::TITLE, ALLOWED, LISTEN_STYLE))
            body.listen {
                header { (head(report, &name)) }
                main {
                    (section("player", say::PLAYER, player(report)))
                    (section("versions", say::VERSIONS, versions(report)))
                    (section("blind", say::BLIND, blind(report)))
                    (section("keys", say::KEYS, keys()))
                }
                (care())
                (data("brunt-listen", &serde_json::to_string(report).unwrap_or_default()))
                (data("brunt-words", &script_words()))
                @for (version, flac) in report.versions.iter().zip(audio) {
                    // A block of data, which no browser runs.
                    script type="text/plain" data-audio=(version.id) { (PreEscaped(STANDARD.encode(flac))) }
                }
                script { (PreEscaped(SCRIPT)) }
            }
        }
    };
    page.into_string()
}

fn script_words() -> String {
    let words: serde_json::Map<String, serde_json::Value> = say::SCRIPT
        .iter()
        .map(|(name, text)| ((*name).to_owned(), serde_json::Value::from(*text)))
        .collect();
    serde_json::Value::Object(words).to_string()
}

fn head(report: &ListenReport, name: &str) -> Markup {
    html! {
        p.brand { (sign::mark()) strong { (words::NAME) } " " (say::TITLE) }
        h1 { (name) }
        p.facts { (minus(&say::passage_says(report))) }
    }
}

/// A key, as it is written on a keyboard.
fn key(name: &str) -> Markup {
    html! { kbd { (name) } }
}

fn player(report: &ListenReport) -> Markup {
    let length_s = report.passage.to_s - report.passage.from_s;
    html! {
        noscript {
            p { (say::NO_SCRIPT) }
            ul { @for version in &report.versions { li { a href=(version.file) { (version.name) } } } }
        }
        p.now { span #now aria-live="polite" {} span.time #time {} }
        div.wave {
            svg.plot viewBox="0 0 480 100" preserveAspectRatio="none" aria-hidden="true" {
                path.envelope #peaks d="" {}
                path.inside #body d="" {}
            }
            div.region #region hidden {}
            div.head #head {}
            input #seek type="range" min="0" max=(format!("{length_s:.2}")) step="0.01" value="0"
                aria-label=(say::PLACE);
        }
        div.transport {
            button.play #play disabled aria-pressed="false" {
                svg viewBox="0 0 20 20" aria-hidden="true" {
                    path.go d="M4 2.5v15l13-7.5z" {} path.halt d="M4 4h12v12H4z" {}
                }
                span.word {}
            }
            button #loop aria-pressed="true" { (say::LOOP) }
            button #mark-from { (say::LOOP_FROM) }
            button #mark-to { (say::LOOP_TO) }
            button #whole disabled { (say::LOOP_ALL) }
            label.volume {
                span { (say::VOLUME) }
                input #volume type="range" min="-48" max="0" step="1" value="-12";
                output #level for="volume" {}
            }
        }
        p.caption.care { (say::CARE) }
        p.caption #state aria-live="polite" {}
    }
}

fn versions(report: &ListenReport) -> Markup {
    let height = |version: &VersionReport| {
        Some(version.contrast_db? + version.remeasured_db.unwrap_or(0.0).max(0.0))
    };
    let most = report.versions.iter().filter_map(height).fold(1.0f64, f64::max);
    html! {
        fieldset.list {
            legend.unseen { (say::VERSIONS) }
            @for (n, version) in report.versions.iter().enumerate() { (row(report, n, version, most)) }
        }
        p.caption { (minus(&say::numbers_say(report))) }
        @if !report.left_out.is_empty() {
            dl.left {
                @for left in &report.left_out {
                    div {
                        dt { (say::WITHOUT) " " (leak_word(&left.leak)) }
                        dd { (left.why) }
                    }
                }
            }
        }
    }
}

/// Name of a leak by its code, in a sentence.
fn leak_word(code: &str) -> String {
    let kind = LeakKind::ALL.into_iter().find(|kind| leak_code(*kind) == code);
    kind.map_or_else(|| code.to_owned(), |kind| words::leak_name(kind).to_lowercase())
}

fn row(report: &ListenReport, n: usize, version: &VersionReport, most: f64) -> Markup {
    let place = |field: &str| format!("/versions/{n}/{field}");
    let compared = version.against.is_some();
    html! {
        label.version {
            input type="radio" name="version" value=(n);
            span.number aria-hidden="true" { (n + 1) }
            span.named { span.name { (version.name) } span.what { (minus(&version.what)) } }
            (bar(report, version, most))
            span.figures {
                @if compared {
                    span.gain { (super::number::difference(&place("remeasured_db"), version.remeasured_db, "dB")) }
                    span.under { (say::MEASURED) }
                    @if version.predicted_db.is_some() {
                        span.under {
                            (say::PREDICTED) " "
                            (super::number::difference(&place("predicted_db"), version.predicted_db, "dB"))
                        }
                    }
                } @else {
                    span.gain { (number(&place("contrast_db"), version.contrast_db, "dB")) }
                    span.under { (say::CONTRAST) }
                }
            }
        }
    }
}

/// The hit contrast that is there, and what comes back on top of it.
fn bar(report: &ListenReport, version: &VersionReport, most: f64) -> Markup {
    // What mids gain is no hit contrast: their bar has none of it.
    let contrast = version.leak.as_deref() != Some(leak_code(LeakKind::Mids));
    let against = version.against.as_ref().filter(|_| contrast);
    let other = against.and_then(|id| report.versions.iter().find(|v| v.id == *id));
    let has = other.map_or(version.contrast_db, |other| other.contrast_db).unwrap_or(0.0);
    let cap = version.remeasured_db.filter(|_| other.is_some()).unwrap_or(0.0);
    let x = |db: f64| xy(100.0 * (db / most).clamp(0.0, 1.0));
    let stem = if cap < 0.0 { has + cap } else { has };
    html! {
        svg.plot.contrast viewBox="0 0 100 12" preserveAspectRatio="none" aria-hidden="true" {
            path.stem d=(format!("M0 2H{}V10H0Z", x(stem))) {}
            @if cap.abs() > 0.05 {
                path.(if cap > 0.0 { "cap" } else { "gone" })
                    d=(format!("M{} 2H{}V10H{}Z", x(stem), x(stem + cap.abs()), x(stem))) {}
            }
            path.axis d="M0 0V12" {}
        }
    }
}

fn blind(report: &ListenReport) -> Markup {
    let pick = |id: &str, label: &str, chosen: usize| {
        html! {
            label { span { (label) }
                select id=(id) {
                    @for (n, version) in report.versions.iter().enumerate() {
                        option value=(n) selected[n == chosen] { (version.name) }
                    }
                }
            }
        }
    };
    let hear = |id: &str, letter: &str| {
        html! { button.hear id=(id) aria-pressed="false" { span.word { (say::HEAR) } " " strong { (letter) } } }
    };
    html! {
        p { (say::BLIND_SAYS) }
        div #setup {
            div.choices {
                (pick("pick-a", say::PICK_A, 0))
                (pick("pick-b", say::PICK_B, strongest(report)))
                label { span { (say::TRIALS) }
                    select #trials {
                        @for n in TRIALS { option value=(n) selected[n == 12] { (n) } }
                    }
                }
                button #begin { (say::BEGIN) }
            }
            p #same hidden role="alert" { (say::SAME) }
        }
        div #trial hidden {
            p.count #count aria-live="polite" {}
            div.choices { (hear("hear-a", "A")) (hear("hear-b", "B")) (hear("hear-x", "X")) }
            p.caption #first aria-live="polite" {}
            div.choices {
                button.answer #is-a { (say::IS_A) }
                button.answer #is-b { (say::IS_B) }
                button.quiet #give-up { (say::GIVE_UP) }
            }
        }
        div #result hidden aria-live="polite" {
            p.score #score {}
            p #odds {}
            p.caption { (say::BLIND_MEANS) }
            div.choices {
                label.line { span { (say::LINE) } input #line type="text" readonly; }
                button #copy { (say::COPY) }
                span #copied role="status" {}
            }
        }
    }
}

/// The version whose hits gain most, to be compared first.
fn strongest(report: &ListenReport) -> usize {
    let gains = report.versions.iter().map(|version| version.remeasured_db.unwrap_or(f64::MIN));
    let best = gains.enumerate().max_by(|a, b| a.1.total_cmp(&b.1)).map_or(0, |(n, _)| n);
    if best == 0 { report.versions.len().saturating_sub(1).min(1) } else { best }
}

fn keys() -> Markup {
    html! {
        dl.keys {
            @for (keys, act) in say::KEY_LIST { div { dt { (key(keys)) } dd { (act) } } }
        }
    }
}
