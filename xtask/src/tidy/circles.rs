//! No circle of imports between the files of a crate: what a file needs stands below it.
//!
//! A file needs another one where it names something that is defined there: in a `use` or by a path.
//! Names are followed through re-exports to the file of their definition, so that a parent that hands
//! on what its children define needs none of them, and a child that takes a sibling's type from the
//! crate's root needs the sibling. Unit tests do not count; what stands in macros is read word by
//! word.

mod graph;
mod modules;

use std::path::PathBuf;

use anyhow::Result;

use super::finding::Finding;
use modules::Crate;

/// Looks for circles in every crate of ours.
pub fn check(files: &[PathBuf]) -> Result<Vec<Finding>> {
    let mut circles = Vec::new();
    for root in files.iter().filter(|path| is_root(path)) {
        circles.extend(graph::circles(&Crate::read(root)?.needs()));
    }
    Ok(circles.iter().map(|circle| finding(circle)).collect())
}

fn is_root(path: &std::path::Path) -> bool {
    let name = path.to_string_lossy().replace('\\', "/");
    name.ends_with("src/lib.rs") || name.ends_with("src/main.rs")
}

fn finding(circle: &[String]) -> Finding {
    format!(
        "{}: its imports and those of {} form a circle: expected that what several need stands in a \
         file below them",
        circle[0],
        circle[1..].join(", ")
    )
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    /// A crate of these files, and what is found in it.
    fn found(files: &[(&str, &str)]) -> Vec<Vec<String>> {
        let folder = tempfile::tempdir().expect("a folder");
        for (name, text) in files {
            let path = folder.path().join(name);
            fs::create_dir_all(path.parent().expect("a folder")).expect("made");
            fs::write(path, text).expect("written");
        }
        let read = Crate::read(&folder.path().join("lib.rs")).expect("read");
        let circles = graph::circles(&read.needs());
        let short = |name: &String| name.rsplit('/').next().unwrap_or_default().to_owned();
        circles.iter().map(|circle| circle.iter().map(short).collect()).collect()
    }

    #[test]
    fn a_planted_circle_is_found() {
        let planted = found(&[
            ("lib.rs", "mod a;\nmod b;\nmod c;"),
            ("a.rs", "use crate::b::B;\npub struct A(B);"),
            ("b.rs", "pub struct B;\nfn f() { super::c::go(); }"),
            ("c.rs", "pub fn go() { let _: Option<crate::a::A> = None; }"),
        ]);
        assert_eq!(planted, [["a.rs", "b.rs", "c.rs"]]);
    }

    #[test]
    fn a_circle_through_the_root_a_macro_or_a_parent_is_found() {
        let through_root = found(&[
            ("lib.rs", "mod a;\nmod b;\npub use a::A;"),
            ("a.rs", "pub struct A(crate::b::B);"),
            ("b.rs", "use crate::A;\npub struct B(Option<Box<A>>);"),
        ]);
        assert_eq!(through_root, [["a.rs", "b.rs"]]);
        let in_macro = found(&[
            ("lib.rs", "mod a;\nmod b;"),
            ("a.rs", "pub fn a() { println!(\"{}\", crate::b::b()); }"),
            ("b.rs", "pub fn b() -> u8 { crate::a::a(); 1 }"),
        ]);
        assert_eq!(in_macro, [["a.rs", "b.rs"]]);
        let with_parent = found(&[
            ("lib.rs", "mod a;"),
            ("a.rs", "mod child;\nuse child::Child;\npub struct A(Child);"),
            ("a/child.rs", "pub struct Child;\nfn f(_: super::A) {}"),
        ]);
        assert_eq!(with_parent, [["a.rs", "child.rs"]]);
    }

    #[test]
    fn what_points_one_way_is_no_circle() {
        let clean = found(&[
            ("lib.rs", "mod a;\nmod b;\npub use a::A;\npub use b::{B, child::Child};"),
            ("a.rs", "pub struct A;\n#[cfg(test)]\nmod tests { use crate::B; }"),
            (
                "b.rs",
                "pub mod child;\npub use child::Child as Other;\nuse crate::A;\npub struct B(A);",
            ),
            ("b/child.rs", "use crate::A;\npub struct Child(A);"),
        ]);
        assert_eq!(clean, Vec::<Vec<String>>::new());
    }
}
