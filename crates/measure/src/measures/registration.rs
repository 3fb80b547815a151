//! `registration.*`: how well the before scan was aligned.

use super::NO_BEFORE;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, number};

/// Residual on held-out unchanged surface and the pose's standard uncertainty at the prepared tooth.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let Some(pose) = &preparation.pose else {
        sheet.refuse("registration.residual_um", NO_BEFORE);
        sheet.refuse("registration.error", NO_BEFORE);
        return;
    };
    let residual = number(pose.residual_um, "um", 0.1 * pose.residual_um)
        .with("explained_pct", pose.explained_pct)
        .noted("robust RMS on held-out unchanged surface");
    sheet.write("registration.residual_um", residual);
    let error = number(1000.0 * pose.sigma_mm, "um", f64::NAN)
        .with("deg", pose.sigma_deg)
        .noted("standard uncertainty (k = 1) of the pose at the prepared tooth; deg is that of its rotation");
    sheet.write("registration.error", error);
}
