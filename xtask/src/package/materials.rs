//! The bill of materials: every crate that is linked, in CycloneDX 1.5 (ECMA-424's first form), JSON.

use std::collections::BTreeMap;

use anyhow::{Context, Result};
use serde_json::{Value, json};
use spdx::Expression;

use super::version::VERSION;
use crate::licences::crates::{self, Crate};

/// The bill of what is built for these systems, by rustc's names. It carries neither date nor number of its
/// own, so that a build packaged twice has the same one.
pub fn bill(systems: &[&str]) -> Result<Vec<u8>> {
    let mut linked = BTreeMap::new();
    for system in systems {
        for found in crates::linked(system)? {
            linked.insert((found.name.clone(), found.version.clone()), found);
        }
    }
    let components = linked.values().map(component).collect::<Result<Vec<_>>>()?;
    let bill = json!({
        "bomFormat": "CycloneDX",
        "specVersion": "1.5",
        "version": 1,
        "metadata": {
            "component": {
                "type": "application",
                "bom-ref": "brunt",
                "name": "brunt",
                "version": VERSION,
                "licenses": [{ "expression": "MIT OR Apache-2.0" }],
            },
        },
        "components": components,
    });
    serde_json::to_vec_pretty(&bill).context("the bill of materials cannot be written")
}

fn component(found: &Crate) -> Result<Value> {
    // A crate's name and version have no sign that such an address would have to escape, but the plus.
    let version = found.version.replace('+', "%2B");
    let purl = format!("pkg:cargo/{}@{version}", found.name);
    let mut component = json!({
        "type": "library",
        "bom-ref": purl,
        "name": found.name,
        "version": found.version,
        "purl": purl,
    });
    if let Some(licence) = &found.licence {
        component["licenses"] = json!([{ "expression": expression(licence)? }]);
    }
    Ok(component)
}

/// The licence in today's form: old crates write `MIT/Apache-2.0`.
fn expression(licence: &str) -> Result<String> {
    let canonical =
        Expression::canonicalize(licence).with_context(|| format!("licence {licence:?}"))?;
    Ok(canonical.unwrap_or_else(|| licence.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_crate_has_its_address_and_its_licence_in_todays_form() {
        let found = Crate {
            name: "some".to_owned(),
            version: "1.0.0+2.spec".to_owned(),
            licence: Some("MIT/Apache-2.0".to_owned()),
            from_registry: true,
            folder: std::path::PathBuf::new(),
            authors: Vec::new(),
        };
        let component = component(&found).expect("a sound licence");
        // After the package-url specification's examples, from memory.
        assert_eq!(component["purl"], "pkg:cargo/some@1.0.0%2B2.spec");
        assert_eq!(component["licenses"][0]["expression"], "MIT OR Apache-2.0");
        assert!(expression("no licence at all").is_err());
    }
}
