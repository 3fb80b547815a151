//! Where to split a group of triangles in two.

use super::{Bounds, Item};
use crate::tree::node::WIDTH;

/// Groups up to this size are sorted, larger ones are counted into bins.
const SORTED: usize = 128;
const BINS: usize = 16;

/// Rearranges `items` and returns where its second part begins; both parts hold at least one.
///
/// Source of the bins: I. Wald, On fast construction of SAH-based bounding volume hierarchies,
/// IEEE Symposium on Interactive Ray Tracing, 2007.
pub(super) fn split(items: &mut [Item]) -> usize {
    let (axis, low, high) = widest(items);
    if items.len() <= SORTED {
        return split_sorted(items, axis);
    }
    let per_length = BINS as f32 * 0.9999 / (high - low);
    let bin = |item: &Item| (((item.centre(axis) - low) * per_length) as usize).min(BINS - 1);
    if let Some(first_right) = best_bin(items, bin) {
        return partition(items, |item| bin(item) < first_right);
    }
    let middle = items.len() / 2;
    items.select_nth_unstable_by_key(middle, |item| item.triangle); // All in one place: any half will do.
    middle
}

fn widest(items: &[Item]) -> (usize, f32, f32) {
    let (mut low, mut high) = ([f32::INFINITY; 3], [f32::NEG_INFINITY; 3]);
    for item in items {
        for axis in 0..3 {
            low[axis] = low[axis].min(item.centre(axis));
            high[axis] = high[axis].max(item.centre(axis));
        }
    }
    let extent = |axis: &usize| high[*axis] - low[*axis];
    let axis = (0..3).max_by(|a, b| extent(a).total_cmp(&extent(b))).unwrap_or(0);
    (axis, low[axis], high[axis])
}

/// Whole packets on the left, as few packets as possible in all, and of these the least cost.
fn split_sorted(items: &mut [Item], axis: usize) -> usize {
    items
        .sort_unstable_by(|a, b| a.centre(axis).total_cmp(&b.centre(axis)).then(a.triangle.cmp(&b.triangle)));
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

/// The bin that begins the right part at the least cost, `None` if all items fall in one bin.
fn best_bin(items: &[Item], bin: impl Fn(&Item) -> usize) -> Option<usize> {
    let mut counts = [0usize; BINS];
    let mut bounds = [Bounds::EMPTY; BINS];
    for item in items {
        let bin = bin(item);
        counts[bin] += 1;
        bounds[bin] = bounds[bin].with(&item.bounds);
    }
    let mut right_costs = [f32::INFINITY; BINS];
    let (mut n_right, mut right) = (0, Bounds::EMPTY);
    for at in (1..BINS).rev() {
        n_right += counts[at];
        right = right.with(&bounds[at]);
        right_costs[at] = if n_right > 0 { right.half_area() * n_right as f32 } else { f32::INFINITY };
    }
    let (mut n_left, mut left) = (0, Bounds::EMPTY);
    let mut best = (f32::INFINITY, None);
    for at in 1..BINS {
        n_left += counts[at - 1];
        left = left.with(&bounds[at - 1]);
        if n_left > 0 && right_costs[at] < f32::INFINITY {
            let cost = left.half_area() * n_left as f32 + right_costs[at];
            if cost < best.0 || best.1.is_none() {
                best = (cost, Some(at));
            }
        }
    }
    best.1
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
