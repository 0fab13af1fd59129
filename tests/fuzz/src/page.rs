//! Target `page`: a report from another program, or from a damaged disk, shown.

use arbitrary::{Result, Unstructured};
use brunt_report::history::{Change, History, Revision};
use brunt_report::report::Report;
use brunt_report::{hit_list, html};

use crate::{json, sample};

pub fn run(bytes: &[u8]) {
    let _ = show(&mut Unstructured::new(bytes));
}

fn show(u: &mut Unstructured) -> Result<()> {
    let mut value = sample::REPORT.clone();
    json::edit(&mut value, u)?;
    let Ok(report) = Report::from_json(&value.to_string()) else { return Ok(()) };
    let page = html::page(&report);
    assert!(page.ends_with("</html>"), "the page is whole");
    hit_list::to_csv(&report.hits).expect("a list of hits");
    // What was read is written, and read as the same.
    let text = report.to_json().expect("writes");
    assert_eq!(Report::from_json(&text).expect("reads its own"), report);
    if u.arbitrary()? {
        let revision = |name: &str| Revision {
            name: name.to_owned(),
            file: report.mix.file.clone(),
            aligned: true,
            offset_s: Some(report.mix.from_s),
            correlation: None,
            report: report.clone(),
        };
        let change =
            Change { from: "a".into(), to: "b".into(), says: vec![report.verdict.clone()] };
        let history = History::new(
            Some(report.mix.duration_s),
            vec![revision("a"), revision("b")],
            vec![change],
        );
        history.to_json().expect("writes");
    }
    Ok(())
}
