//! What the caller may say about the scans.

/// Knowledge about the scans that registration cannot read from them. The default knows nothing.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Options {
    /// One factor ≥ 0 for each vertex of the fixed scan, on top of the weight found from its shape;
    /// 0 leaves a vertex out, as known soft or cut surface should be.
    pub fixed_weights: Option<Vec<f64>>,
    /// The same for the moving scan.
    pub moving_weights: Option<Vec<f64>>,
    /// Tries poses all over without looking at features first, as is done by itself where features lead nowhere. Slower.
    pub ignore_features: bool,
}
