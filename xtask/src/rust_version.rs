//! Whether the Rust version that we say is enough for what we depend on.

use crate::json::Value;

/// Each package that asks for a newer Rust than our own packages name, in words; `None` if the text is not what cargo prints.
pub fn too_new(metadata: &Value) -> Option<Vec<String>> {
    let packages = metadata.get("packages")?.items();
    let asked = |package: &Value| package.get("rust_version").and_then(Value::as_str).and_then(version);
    let is_ours = |package: &&Value| package.get("source") == Some(&Value::Null);
    // A package of ours that names none would let everything pass.
    let ours = packages.iter().filter(is_ours).map(asked).collect::<Option<Vec<_>>>()?.into_iter().min()?;
    let faults = packages.iter().filter_map(|package| {
        let theirs = asked(package).filter(|theirs| *theirs > ours)?;
        let name = package.get("name")?.as_str()?;
        let [major, minor, _] = theirs;
        Some(format!(
            "{name} asks for Rust {major}.{minor}: raise rust-version in Cargo.toml, and the README"
        ))
    });
    Some(faults.collect())
}

/// `1.94` or `1.94.0` as numbers.
fn version(text: &str) -> Option<[u32; 3]> {
    let mut parts = text.split('.').map(|part| part.parse().ok());
    Some([parts.next()??, parts.next().unwrap_or(Some(0))?, parts.next().unwrap_or(Some(0))?])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::json;

    fn metadata(ours: &str, theirs: &str) -> Value {
        let package = |name: &str, source: &str, rust: &str| {
            format!(r#"{{"name": "{name}", "source": {source}, "rust_version": {rust}}}"#)
        };
        let (plank, saw) = (package("plank", r#""registry+x""#, theirs), package("saw", "null", ours));
        json::parse(&format!(r#"{{"packages": [{plank}, {saw}]}}"#)).unwrap()
    }

    #[test]
    fn a_newer_one_is_named() {
        assert_eq!(too_new(&metadata(r#""1.88""#, r#""1.88.0""#)), Some(vec![]));
        assert_eq!(too_new(&metadata(r#""1.88""#, "null")), Some(vec![]));
        let faults = too_new(&metadata(r#""1.88""#, r#""1.94.1""#)).unwrap();
        assert!(faults.len() == 1 && faults[0].starts_with("plank asks for Rust 1.94:"), "{faults:?}");
        assert_eq!(too_new(&metadata("null", "null")), None, "ours must name one");
    }
}
