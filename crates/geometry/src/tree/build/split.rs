//! Where to split a group of triangles in two.

use super::{Bounds, Extent, Item};
use crate::tree::node::WIDTH;

/// Groups up to this size are sorted, larger ones are counted into bins.
const SORTED: usize = 128;
const BINS: usize = 16;

/// Rearranges `items`, which take up `extent`, and returns where their second part begins and what both parts take up;
/// both hold at least one.
///
/// Source of the bins: I. Wald, On fast construction of SAH-based bounding volume hierarchies,
/// IEEE Symposium on Interactive Ray Tracing, 2007.
pub(super) fn split(items: &mut [Item], extent: &Extent) -> (usize, [Extent; 2]) {
    let Bounds { low, high } = extent.centres;
    let axis = widest(&extent.centres);
    if items.len() <= SORTED {
        let middle = split_sorted(items, axis);
        return (middle, extents(items, middle));
    }
    let per_length = BINS as f32 * 0.9999 / (high[axis] - low[axis]);
    let bin = |item: &Item| (((item.centre(axis) - low[axis]) * per_length) as usize).min(BINS - 1);
    if let Some((first_right, extents)) = best_bin(items, bin) {
        return (partition(items, |item| bin(item) < first_right), extents);
    }
    let middle = items.len() / 2;
    items.select_nth_unstable_by_key(middle, |item| item.triangle); // All in one place: any half will do.
    (middle, extents(items, middle))
}

fn extents(items: &[Item], middle: usize) -> [Extent; 2] {
    let (left, right) = items.split_at(middle);
    [Extent::of(left), Extent::of(right)]
}

fn widest(centres: &Bounds) -> usize {
    let extent = |axis: &usize| centres.high[*axis] - centres.low[*axis];
    (0..3).max_by(|a, b| extent(a).total_cmp(&extent(b))).unwrap_or(0)
}

/// Sorts up to [`SORTED`] items by their centres, then by their numbers: as whole numbers, which is quicker than item by
/// item.
fn sort(items: &mut [Item], axis: usize) {
    let mut keys = [0u128; SORTED];
    let mut sorted = [items[0]; SORTED];
    let keys = &mut keys[..items.len()];
    for (place, (key, item)) in keys.iter_mut().zip(items.iter()).enumerate() {
        let bits = item.centre(axis).to_bits();
        // Floats in their total order, as `total_cmp` has it.
        let rising = bits ^ (((bits as i32) >> 31) as u32 | 1 << 31);
        *key = u128::from(rising) << 64 | u128::from(item.triangle) << 32 | place as u128;
    }
    keys.sort_unstable();
    for (to, &key) in sorted.iter_mut().zip(keys.iter()) {
        *to = items[key as u32 as usize];
    }
    items.copy_from_slice(&sorted[..items.len()]);
}

/// Whole packets on the left, as few packets as possible in all, and of these the least cost.
fn split_sorted(items: &mut [Item], axis: usize) -> usize {
    sort(items, axis);
    let mut right_areas = [0.0; SORTED + 1];
    let mut bounds = Bounds::EMPTY;
    for at in (0..items.len()).rev() {
        bounds = bounds.with(&items[at].bounds);
        right_areas[at] = bounds.half_area();
    }
    let (mut best, mut middle) = (f32::INFINITY, WIDTH);
    let mut bounds = Bounds::EMPTY;
    for at in 1..items.len() {
        bounds = bounds.with(&items[at - 1].bounds);
        if at % WIDTH == 0 {
            let packets = |n: usize| n.div_ceil(WIDTH) as f32;
            let cost = bounds.half_area() * packets(at) + right_areas[at] * packets(items.len() - at);
            if cost < best {
                (best, middle) = (cost, at);
            }
        }
    }
    middle
}

/// The bin that begins the right part at the least cost, and what both parts take up; `None` if all items fall in one bin.
fn best_bin(items: &[Item], bin: impl Fn(&Item) -> usize) -> Option<(usize, [Extent; 2])> {
    let mut counts = [0usize; BINS];
    let mut extents = [Extent::EMPTY; BINS];
    for item in items {
        let bin = bin(item);
        counts[bin] += 1;
        extents[bin] = extents[bin].with(&item.extent());
    }
    let mut right_costs = [f32::INFINITY; BINS];
    let (mut n_right, mut right) = (0, Bounds::EMPTY);
    for at in (1..BINS).rev() {
        n_right += counts[at];
        right = right.with(&extents[at].bounds);
        right_costs[at] = if n_right > 0 { right.half_area() * n_right as f32 } else { f32::INFINITY };
    }
    let (mut n_left, mut left) = (0, Bounds::EMPTY);
    let mut best = (f32::INFINITY, None);
    for at in 1..BINS {
        n_left += counts[at - 1];
        left = left.with(&extents[at - 1].bounds);
        if n_left > 0 && right_costs[at] < f32::INFINITY {
            let cost = left.half_area() * n_left as f32 + right_costs[at];
            if cost < best.0 || best.1.is_none() {
                best = (cost, Some(at));
            }
        }
    }
    let all = |extents: &[Extent]| extents.iter().fold(Extent::EMPTY, |all, extent| all.with(extent));
    best.1.map(|at| (at, [all(&extents[..at]), all(&extents[at..])]))
}

/// Moves the items that go left to the front, and counts them.
fn partition(items: &mut [Item], goes_left: impl Fn(&Item) -> bool) -> usize {
    let (mut left, mut right) = (0, items.len());
    while left < right {
        if goes_left(&items[left]) {
            left += 1;
        } else {
            right -= 1;
            items.swap(left, right);
        }
    }
    left
}
