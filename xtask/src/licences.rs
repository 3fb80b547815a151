//! Whether every dependency may be shipped under our own licence, and be built with the Rust that we ask for.

use std::collections::{BTreeMap, BTreeSet};

use crate::command::{Command, Failure, expect_no_arguments};
use crate::json::{self, Value};
use crate::process;
use crate::rust_version;
use crate::spdx::Expression;

/// `cargo xtask licences`.
pub const COMMAND: Command = Command {
    name: "licences",
    summary: "Check that every dependency may be shipped under MIT OR Apache-2.0, and built with our Rust version",
    help: "\
Usage: cargo xtask licences

Reads what cargo itself knows of every package in Cargo.lock, for all platforms and all features, and
evaluates each licence expression, and compares the Rust version that each asks for. Needs no other tool and no source that a build does not need.
What is used to build or test only may also be under the MPL-2.0. A package without an expression fails.
",
    run: |arguments| {
        expect_no_arguments("licences", arguments)?;
        check()
    },
};

/// Our own licence.
const OWN: &str = "MIT OR Apache-2.0";

/// Licences that ask no more of a program under MIT OR Apache-2.0 than to carry their notice.
const SHIPPED: &[&str] = &[
    "0BSD",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    // For lists of certificates; asks for its text to go along.
    "CDLA-Permissive-2.0",
    "ISC",
    "MIT",
    "MIT-0",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

/// Licences that are fine besides for what is never part of the shipped program.
const BUILD_OR_TEST: &[&str] = &["MPL-2.0"];

/// Checks every package and prints how many stand under which licence.
pub fn check() -> Result<(), Failure> {
    let arguments = ["metadata", "--format-version", "1", "--locked", "--all-features"];
    let text = process::capture(&mut process::cargo(&arguments))?;
    let metadata = json::parse(&text).map_err(|error| Failure::Work(format!("cargo metadata: {error}")))?;
    let packages =
        packages(&metadata).ok_or_else(|| Failure::work("cargo metadata has no packages and graph"))?;
    let too_new = rust_version::too_new(&metadata)
        .ok_or_else(|| Failure::work("a package of ours names no rust-version"))?;
    let faults: Vec<String> = packages.iter().filter_map(fault).chain(too_new).collect();
    for fault in &faults {
        eprintln!("{fault}");
    }
    if !faults.is_empty() {
        return Err(Failure::Work(format!(
            "{} of {} packages may not be used so",
            faults.len(),
            packages.len()
        )));
    }
    print!("{}", summary(&packages));
    Ok(())
}

/// Whether a package under this licence expression may be shipped, or only used to build and test.
pub fn is_allowed(licence: &str, is_shipped: bool) -> bool {
    Expression::parse(licence).is_ok_and(|expression| is_met(&expression, is_shipped))
}

fn is_met(expression: &Expression, is_shipped: bool) -> bool {
    expression
        .is_met_by(&|name: &str| SHIPPED.contains(&name) || (!is_shipped && BUILD_OR_TEST.contains(&name)))
}

/// What the check needs to know of one package.
#[derive(Debug, PartialEq)]
struct Package {
    name: String,
    version: String,
    licence: Option<String>,
    source: Option<String>,
    is_shipped: bool,
}

/// All packages of the graph; `None` if the text is not what cargo prints.
fn packages(metadata: &Value) -> Option<Vec<Package>> {
    let shipped = shipped_ids(metadata)?;
    let mut packages = Vec::new();
    for package in metadata.get("packages")?.items() {
        let text = |name| package.get(name).and_then(Value::as_str).map(str::to_owned);
        packages.push(Package {
            name: text("name")?,
            version: text("version")?,
            licence: text("license"),
            source: text("source"),
            is_shipped: shipped.contains(package.get("id")?.as_str()?),
        });
    }
    (!packages.is_empty()).then_some(packages)
}

/// The packages that are reached from ours by normal dependencies, not only to build or to test.
fn shipped_ids(metadata: &Value) -> Option<BTreeSet<&str>> {
    let nodes = metadata.get("resolve")?.get("nodes")?.items();
    let node_of: BTreeMap<&str, &Value> =
        nodes.iter().filter_map(|node| Some((node.get("id")?.as_str()?, node))).collect();
    let members = metadata.get("workspace_members")?.items();
    let mut open: Vec<&str> = members.iter().filter_map(Value::as_str).collect();
    let mut shipped = BTreeSet::new();
    while let Some(id) = open.pop() {
        if shipped.insert(id) {
            let dependencies = node_of.get(id)?.get("deps")?.items().iter();
            open.extend(dependencies.filter(|dep| is_normal(dep)).filter_map(|dep| dep.get("pkg")?.as_str()));
        }
    }
    Some(shipped)
}

/// A normal dependency has a kind `null`; building and testing have names.
fn is_normal(dependency: &Value) -> bool {
    let kinds = dependency.get("dep_kinds").map_or(&[][..], Value::items);
    kinds.is_empty() || kinds.iter().any(|kind| kind.get("kind") == Some(&Value::Null))
}

fn fault(package: &Package) -> Option<String> {
    let label = format!("{} {}", package.name, package.version);
    let Some(licence) = &package.licence else {
        return Some(format!("{label} names no licence: replace it, or ask its authors to name one"));
    };
    let is_ours = package.source.is_none();
    if is_ours && licence != OWN {
        return Some(format!("{label} is ours but says {licence}: write license.workspace = true"));
    }
    let is_registry = |source: &String| source.starts_with("registry+") || source.starts_with("sparse+");
    if package.source.as_ref().is_some_and(|source| !is_registry(source)) {
        return Some(format!("{label} comes from outside the package registry: take a published version"));
    }
    let expression = match Expression::parse(licence) {
        Ok(expression) => expression,
        Err(error) => return Some(format!("{label}: {licence} is {error}")),
    };
    if is_met(&expression, package.is_shipped) {
        return None;
    }
    let place = if package.is_shipped { "in the shipped program" } else { "even for building and testing" };
    Some(format!("{label} is under {licence}, which cannot be used {place}: replace it"))
}

fn summary(packages: &[Package]) -> String {
    let mut count_by_licence = BTreeMap::new();
    for package in packages.iter().filter(|package| package.source.is_some()) {
        *count_by_licence.entry(package.licence.as_deref().unwrap_or_default()).or_insert(0) += 1;
    }
    let lines: Vec<String> =
        count_by_licence.iter().map(|(licence, count)| format!("{count:>5}  {licence}\n")).collect();
    lines.concat()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn package(licence: Option<&str>, is_shipped: bool) -> Package {
        Package {
            name: "plank".to_owned(),
            version: "1.2.3".to_owned(),
            licence: licence.map(str::to_owned),
            source: Some("registry+https://example.org/index".to_owned()),
            is_shipped,
        }
    }

    #[test]
    fn permissive_licences_pass_and_others_name_the_package() {
        assert_eq!(fault(&package(Some("MIT OR Apache-2.0"), true)), None);
        assert_eq!(fault(&package(Some("(MIT OR Apache-2.0) AND Unicode-3.0"), true)), None);
        let line = fault(&package(Some("AGPL-3.0-only"), true)).unwrap();
        assert_eq!(
            line,
            "plank 1.2.3 is under AGPL-3.0-only, which cannot be used in the shipped program: replace it"
        );
    }

    #[test]
    fn weak_copyleft_passes_only_outside_the_shipped_program() {
        assert!(fault(&package(Some("MPL-2.0"), true)).is_some());
        assert_eq!(fault(&package(Some("MPL-2.0"), false)), None);
        assert!(fault(&package(Some("GPL-3.0-only"), false)).is_some());
    }

    #[test]
    fn a_missing_or_broken_licence_fails() {
        assert!(fault(&package(None, false)).unwrap().contains("names no licence"));
        assert!(fault(&package(Some("see file"), true)).unwrap().contains("no licence expression"));
    }

    #[test]
    fn our_own_packages_carry_our_licence() {
        let ours = Package { source: None, ..package(Some("MIT"), true) };
        assert!(fault(&ours).unwrap().contains("license.workspace"));
        assert_eq!(fault(&Package { licence: Some(OWN.to_owned()), ..ours }), None);
    }

    #[test]
    fn only_registries_are_sources() {
        let other = Package {
            source: Some("git+https://example.org/plank".to_owned()),
            ..package(Some("MIT"), true)
        };
        assert!(fault(&other).unwrap().contains("outside the package registry"));
    }

    /// ours → normal → build → normal, and ours → dev: only the first is shipped.
    #[test]
    fn building_and_testing_do_not_ship() {
        let metadata = json::parse(
            r#"{
            "packages": [
                {"id": "ours", "name": "ours", "version": "0", "license": "MIT OR Apache-2.0", "source": null},
                {"id": "a", "name": "a", "version": "1", "license": "MIT", "source": "registry+x"},
                {"id": "b", "name": "b", "version": "1", "license": "MIT", "source": "registry+x"},
                {"id": "c", "name": "c", "version": "1", "license": "MIT", "source": "registry+x"},
                {"id": "d", "name": "d", "version": "1", "license": null, "source": "registry+x"}],
            "workspace_members": ["ours"],
            "resolve": {"nodes": [
                {"id": "ours", "deps": [{"pkg": "a", "dep_kinds": [{"kind": "dev"}, {"kind": null}]},
                                        {"pkg": "d", "dep_kinds": [{"kind": "dev"}]}]},
                {"id": "a", "deps": [{"pkg": "b", "dep_kinds": [{"kind": "build"}]}]},
                {"id": "b", "deps": [{"pkg": "c", "dep_kinds": [{"kind": null}]}]},
                {"id": "c", "deps": []}, {"id": "d", "deps": []}]}}"#,
        );
        let packages = packages(&metadata.unwrap()).unwrap();
        let shipped: Vec<&str> = packages
            .iter()
            .filter(|package| package.is_shipped)
            .map(|package| package.name.as_str())
            .collect();
        assert_eq!(shipped, ["ours", "a"]);
        assert_eq!(packages[4].licence, None);
    }
}
