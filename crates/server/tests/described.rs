//! The committed descriptions of the interface are those of the code.

use std::fs;
use std::path::Path;

/// With `KERF_WRITE` set in the environment the files are written instead.
fn check(path: &str, text: &str) {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").join(path);
    if std::env::var_os("KERF_WRITE").is_some() {
        fs::create_dir_all(file.parent().unwrap()).unwrap();
        fs::write(&file, text).unwrap();
    }
    let kept = fs::read_to_string(&file).unwrap_or_default();
    assert!(
        kept.replace("\r\n", "\n") == text,
        "{path} is stale: KERF_WRITE=1 cargo test -p kerfwright-server --test described"
    );
}

#[test]
fn the_browser_s_types_are_up_to_date() {
    check("web/src/lib/api.ts", &kerfwright_server::typescript());
}

#[test]
fn the_public_description_is_up_to_date() {
    check("docs/openapi.json", &kerfwright_server::openapi());
}
