//! Writes the figures of `docs/measures.md` into a folder:
//!
//!     cargo xtask figures

mod bodies;

use std::path::Path;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args().nth(1).ok_or("give the FOLDER to write to")?;
    std::fs::create_dir_all(&folder)?;
    for figure in bodies::figures() {
        std::fs::write(Path::new(&folder).join(format!("{}.svg", figure.name)), figure.svg)?;
    }
    Ok(())
}
