//! A measurement of 26, made up where the printing is tried and not the measuring.

use std::path::Path;

use serde_json::{Value, json};

/// What it warns of.
pub const WARNING: &str = "the finish line was seen over 91 % of its length: scan the distal side again";

/// Writes one with these readings into a folder and names the file. It warns of something.
pub fn write(folder: &Path, readings: &Value) -> String {
    let document = json!({
        "schema": "kerfwright-measurement-1",
        "tool": { "name": "kerf", "version": "0" }, "inputs": {},
        "tooth": { "fdi": 26, "taken_for": "", "mesial_because": "" },
        "frame": { "tooth_from_after": [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]],
                   "axis_sigma_deg": 1.5, "axis_evidence": [] },
        "path": { "direction": [0, 0, 1], "choice": "best" },
        "finish_line": { "length_mm": 25, "points": [], "stations": [] },
        "readings": readings, "refused": {}, "warnings": [WARNING], "cautions": []
    });
    let path = folder.join("measurement.json");
    std::fs::write(&path, document.to_string()).unwrap();
    path.to_str().unwrap().to_owned()
}
