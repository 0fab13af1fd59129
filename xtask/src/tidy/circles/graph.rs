//! Circles in a graph of names.

use std::collections::{BTreeMap, BTreeSet};

/// Who needs whom.
pub type Needs = BTreeMap<String, BTreeSet<String>>;

/// The sets of two and more that all reach each other, each in order.
pub fn circles(needs: &Needs) -> Vec<Vec<String>> {
    let reached: BTreeMap<&str, BTreeSet<&str>> =
        needs.keys().map(|from| (from.as_str(), reach(needs, from))).collect();
    let mut circles = BTreeSet::new();
    for (from, reached_from) in &reached {
        let both = |to: &&&str| reached.get(**to).is_some_and(|back| back.contains(from));
        let mut circle: BTreeSet<&str> = reached_from.iter().filter(both).copied().collect();
        circle.insert(from);
        if circle.len() > 1 {
            circles.insert(circle.into_iter().map(str::to_owned).collect());
        }
    }
    circles.into_iter().collect()
}

/// All that a name needs, by however many steps.
fn reach<'a>(needs: &'a Needs, from: &str) -> BTreeSet<&'a str> {
    let mut reached = BTreeSet::new();
    let mut open = vec![from];
    while let Some(name) = open.pop() {
        for next in needs.get(name).into_iter().flatten() {
            if reached.insert(next.as_str()) {
                open.push(next);
            }
        }
    }
    reached
}
