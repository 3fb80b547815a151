//! A measurement as one HTML page that opens offline.
//!
//! Values in, a text out: the same preparation and document give the same bytes, whatever the number of threads.
//! The page loads nothing, runs nothing, and carries its pictures in itself.
//!
//! From numbers to pictures: `layer` (what is painted) and `raster` (what is seen) meet in `picture`;
//! `profile` cuts the sections that `area` and `section_plot` draw; `page` puts everything in its place.
//! [`figures`] draws the definitions of the readings for `docs/measures.md`.

mod adjacent;
mod area;
mod camera;
mod encode;
pub mod figures;
mod gallery;
mod glance;
mod heading;
mod joint;
mod layer;
mod marks;
mod page;
mod picture;
mod profile;
mod raster;
mod section_plot;
mod sections;
mod svg;
mod table;
mod text;
pub mod titles;
mod unrolled;

use kerfwright_measure::{Document, JointDocument, Preparation};
use kerfwright_view::colour;

/// The page for one measured preparation.
///
/// `document` must be the one made from `preparation`: its readings are printed and drawn into pictures of it.
/// Text that comes from the user, such as file names, is escaped.
pub fn html(preparation: &Preparation<'_>, document: &Document) -> String {
    page::page(preparation, document)
}

/// The page for several prepared teeth of one scan: what they have in common, then one section a tooth.
///
/// `joint` must be the document made from `preparations`, in the same order.
pub fn joint_html(preparations: &[Preparation<'_>], joint: &JointDocument) -> String {
    joint::page(preparations, joint)
}
