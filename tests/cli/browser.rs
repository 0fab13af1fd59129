//! The HTML report in Chromium (Debian package `chromium`), without a window: nothing on its
//! console, nothing asked of the network, and paper of the right size.

use std::fs;
use std::io::{Read, Write};
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{Arc, Mutex};

use crate::support::{check, directory, path_text, programme_wav, text};

/// Hosts that Chromium asks on its own behalf, whatever page it shows: the time, its updates, its
/// accounts, and its search once it has run for a while. A page under test must not name them.
const ERRANDS: [&str; 4] =
    ["clients2.google.com", "update.googleapis.com", "accounts.google.com", "www.google.com"];

/// What a browser did with a page.
pub struct Visit {
    /// Lines of its console.
    pub console: Vec<String>,
    /// Requests that left the machine, or would have.
    pub requests: Vec<String>,
}

/// A proxy that answers nothing and keeps what it was asked for.
fn proxy() -> (u16, Arc<Mutex<Vec<String>>>) {
    let listener = TcpListener::bind(("127.0.0.1", 0)).expect("a port");
    let port = listener.local_addr().expect("an address").port();
    let asked = Arc::new(Mutex::new(Vec::new()));
    let kept = Arc::clone(&asked);
    std::thread::spawn(move || {
        for stream in listener.incoming() {
            let Ok(mut stream) = stream else { return };
            let mut bytes = [0; 2048];
            let read = stream.read(&mut bytes).unwrap_or(0);
            let request = String::from_utf8_lossy(&bytes[..read]).into_owned();
            let line = request.lines().next().unwrap_or_default().to_owned();
            kept.lock().expect("no panic").push(line);
            // The browser may have gone: what it asked for is what counts.
            let _ = stream.write_all(b"HTTP/1.1 502 No network\r\nContent-Length: 0\r\n\r\n");
        }
    });
    (port, asked)
}

/// Opens `page` in Chromium and prints it to `pdf`.
pub fn visit(page: &Path, pdf: &Path) -> Visit {
    let (port, asked) = proxy();
    let profile = directory();
    let output = Command::new("chromium")
        .args(["--headless", "--disable-gpu", "--enable-logging=stderr", "--no-first-run"])
        // The sandbox needs rights that containers do not give; the page runs nothing.
        .args(["--no-sandbox", "--disable-dev-shm-usage"])
        // The browser's own errands, which are none of the page's.
        .args(["--disable-background-networking", "--disable-component-update"])
        .args(["--disable-sync", "--disable-default-apps", "--disable-extensions"])
        .args(["--disable-features=OptimizationHints,MediaRouter,Translate"])
        .arg(format!("--proxy-server=127.0.0.1:{port}"))
        .arg(format!("--user-data-dir={}", path_text(profile.path())))
        .args(["--no-pdf-header-footer", "--virtual-time-budget=2000"])
        .arg(format!("--print-to-pdf={}", path_text(pdf)))
        .arg(format!("file://{}", path_text(page)))
        .output()
        .expect("chromium is needed: run `cargo xtask test`, which installs it");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success() && pdf.exists(), "{said}");
    let console = said.lines().filter(|l| l.contains("CONSOLE")).map(ToOwned::to_owned).collect();
    let mut requests = asked.lock().expect("no panic").clone();
    requests.retain(|line| {
        // `GET http://HOST/... HTTP/1.1` or `CONNECT HOST:443 HTTP/1.1` (RFC 9112, 3.2).
        let target = line.split(' ').nth(1).unwrap_or_default();
        let host = target.split("://").last().unwrap_or_default();
        let host = host.split(['/', ':']).next().unwrap_or_default();
        !ERRANDS.contains(&host)
    });
    Visit { console, requests }
}

/// Pages of a PDF and their size in points, by `pdfinfo` (Debian package `poppler-utils`).
fn pages(pdf: &Path) -> (u32, f64, f64) {
    let output = Command::new("pdfinfo")
        .arg(pdf)
        .output()
        .expect("pdfinfo is needed: run `cargo xtask test`, which installs it");
    let said = text(&output.stdout);
    let field = |name: &str| {
        let line = said.lines().find(|l| l.starts_with(name)).expect(name);
        line[name.len()..].trim().to_owned()
    };
    let size: Vec<f64> =
        field("Page size:").split_whitespace().filter_map(|word| word.parse().ok()).collect();
    (field("Pages:").parse().expect("a count"), size[0], size[1])
}

fn report(folder: &Path) -> PathBuf {
    let page = folder.join("report.html");
    let output = check(&programme_wav(folder, 60.0), &["-q", "--html", path_text(&page)]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    page
}

#[test]
fn the_console_and_the_network_stay_silent_and_paper_is_a4() {
    let d = directory();
    let pdf = d.path().join("report.pdf");
    let page = report(d.path());
    let words = std::fs::read_to_string(&page).expect("the page");
    assert!(ERRANDS.iter().all(|host| !words.contains(host)), "it names a host of Chromium's own");
    let visit = visit(&page, &pdf);
    assert!(visit.console.is_empty(), "{:?}", visit.console);
    assert!(visit.requests.is_empty(), "{:?}", visit.requests);
    let (count, width, height) = pages(&pdf);
    // ISO 216: A4 is 210 mm by 297 mm, a point is 1/72 inch.
    let points = |mm: f64| mm / 25.4 * 72.0;
    assert!((width - points(210.0)).abs() < 1.0 && (height - points(297.0)).abs() < 1.0);
    assert!((3..=5).contains(&count), "{count} pages");
    let output = Command::new("pdftotext").arg("-layout").arg(&pdf).arg("-").output();
    let said = text(&output.expect("pdftotext comes with pdfinfo").stdout).to_lowercase();
    for word in ["what eats the punch", "every hit", "over the song", "all readings", "bs.1770"] {
        assert!(said.contains(word), "{word:?} is not on paper");
    }
}

/// The same watch on a page that does what ours must not: it has to be caught.
#[test]
fn a_page_that_errs_and_asks_is_caught() {
    let d = directory();
    let page = d.path().join("bad.html");
    fs::write(
        &page,
        "<!doctype html><title>x</title><img src=\"http://brunt.invalid/x.png\">\
         <script>console.error('wrong'); undefinedName();</script>",
    )
    .expect("written");
    let visit = visit(&page, &d.path().join("bad.pdf"));
    assert!(visit.console.iter().any(|line| line.contains("wrong")), "{:?}", visit.console);
    assert!(visit.requests.iter().any(|r| r.contains("brunt.invalid")), "{:?}", visit.requests);
}
