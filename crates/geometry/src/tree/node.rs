//! An inner node: eight boxes side by side.

use nalgebra::{Point3, Vector3};
use wide::f32x4;

/// Children of a node, triangles of a packet.
pub(super) const WIDTH: usize = 8;

/// One number for each child or triangle.
pub(super) type Lanes = [f32; WIDTH];

/// Eight children with their boxes, axis by axis so that one instruction handles all of them.
#[derive(Debug, Clone)]
#[repr(C, align(32))]
pub(super) struct Node {
    pub low: [Lanes; 3],
    pub high: [Lanes; 3],
    pub children: [Child; WIDTH],
}

/// What a lane of a node leads to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Child(u32);

impl Child {
    /// Nothing: the lane is not used, and its box is empty.
    pub const NONE: Self = Self(u32::MAX);
    const PACKET: u32 = 1 << 31;

    pub fn node(index: usize) -> Self {
        Self(index as u32)
    }

    pub fn packet(index: usize) -> Self {
        Self(index as u32 | Self::PACKET)
    }

    /// The index of the packet, or of the node.
    #[inline(always)]
    pub fn target(self) -> Result<usize, usize> {
        if self.0 & Self::PACKET != 0 { Ok((self.0 & !Self::PACKET) as usize) } else { Err(self.0 as usize) }
    }

    /// The same child after `nodes` nodes and `packets` packets were put before its own.
    pub fn shifted(self, nodes: usize, packets: usize) -> Self {
        match self.target() {
            _ if self == Self::NONE => self,
            Ok(packet) => Self::packet(packet + packets),
            Err(node) => Self::node(node + nodes),
        }
    }
}

impl Node {
    pub const EMPTY: Self = Self {
        low: [[f32::INFINITY; WIDTH]; 3],
        high: [[f32::NEG_INFINITY; WIDTH]; 3],
        children: [Child::NONE; WIDTH],
    };

    /// Puts the children of `other` that lie within the squared distance `limit` of `around` into the lanes
    /// from `first` on, and returns the lane after them.
    #[inline(always)]
    pub fn take(&mut self, other: &Self, around: &Interval, limit: f32, first: usize) -> usize {
        let within = lanes_within(&other.squared_bounds(around), limit);
        let mut to = first;
        for lane in 0..WIDTH {
            if within >> lane & 1 != 0 && other.children[lane] != Child::NONE {
                for axis in 0..3 {
                    self.low[axis][to] = other.low[axis][lane];
                    self.high[axis][to] = other.high[axis][lane];
                }
                self.children[to] = other.children[lane];
                to += 1;
            }
        }
        to
    }

    /// Moves a lane to another one, and leaves it empty.
    #[inline(always)]
    pub fn move_lane(&mut self, from: usize, to: usize) {
        for axis in 0..3 {
            self.low[axis][to] = self.low[axis][from];
            self.high[axis][to] = self.high[axis][from];
            self.low[axis][from] = f32::INFINITY;
            self.high[axis][from] = f32::NEG_INFINITY;
        }
        self.children[to] = self.children[from];
        self.children[from] = Child::NONE;
    }

    /// Squared distance of a point from each box, at most the true one but for the rounding that
    /// [`limit`] allows for.
    #[inline(always)]
    pub fn squared_bounds(&self, point: &Interval) -> Lanes {
        let mut squared = [0.0; WIDTH];
        for axis in 0..3 {
            let (low, high) = (point.low[axis], point.high[axis]);
            for (lane, sum) in squared.iter_mut().enumerate() {
                let below = self.low[axis][lane] - high;
                let above = low - self.high[axis][lane];
                let gap = larger(larger(below, above), 0.0);
                *sum += gap * gap;
            }
        }
        squared
    }
}

/// A box of `f32` that holds a point of `f64`, or several.
#[derive(Debug, Clone, Copy)]
pub(super) struct Interval {
    pub low: [f32; 3],
    pub high: [f32; 3],
}

impl Interval {
    #[inline(always)]
    pub fn around(point: &Point3<f64>) -> Self {
        let nearest = [point.x as f32, point.y as f32, point.z as f32];
        // More than half a unit in the last place: cheaper than the next number, which has to ask for exceptions.
        let margin = |x: f32| x.abs() * f32::EPSILON + f32::MIN_POSITIVE;
        let [x, y, z] = nearest;
        let (dx, dy, dz) = (margin(x), margin(y), margin(z));
        Self { low: [x - dx, y - dy, z - dz], high: [x + dx, y + dy, z + dz] }
    }

    /// A box that holds all points that have three numbers.
    #[inline(always)]
    pub fn of(points: &[Point3<f64>]) -> Self {
        let mut all = Self { low: [f32::INFINITY; 3], high: [f32::NEG_INFINITY; 3] };
        for point in points {
            let one = Self::around(point);
            for axis in 0..3 {
                all.low[axis] = smaller(one.low[axis], all.low[axis]);
                all.high[axis] = larger(one.high[axis], all.high[axis]);
            }
        }
        all
    }
}

/// The squared distance up to which a bound in `f32` must still be looked into, for a best squared distance
/// in `f64`: sums of three squares in `f32` are off by less than one part in a million.
#[inline(always)]
pub(super) fn limit(best_squared: f64) -> f32 {
    above(best_squared * (1.0 + 2e-6))
}

/// A number in `f32` that is not below `x`, for positive numbers.
#[inline(always)]
pub(super) fn above(x: f64) -> f32 {
    x as f32 * (1.0 + f32::EPSILON) + f32::MIN_POSITIVE
}

/// One bit for each lane that is not above `limit`.
#[inline(always)]
pub(super) fn lanes_within(lanes: &Lanes, limit: f32) -> u32 {
    // By name, since the compiler does not find the two instructions in a loop over booleans.
    let [a, b, c, d, e, f, g, h] = *lanes;
    let limit = f32x4::splat(limit);
    let low = f32x4::new([a, b, c, d]).simd_le(limit).to_bitmask();
    let high = f32x4::new([e, f, g, h]).simd_le(limit).to_bitmask();
    low | high << 4
}

/// The smallest number.
#[inline(always)]
pub(super) fn smallest(lanes: &Lanes) -> f32 {
    let half = |k: usize| smaller(lanes[k], lanes[k + 4]);
    smaller(smaller(half(0), half(2)), smaller(half(1), half(3)))
}

/// The larger number, `b` where they cannot be compared: a single instruction, unlike `f32::max`.
#[inline(always)]
pub(super) fn larger(a: f32, b: f32) -> f32 {
    if a > b { a } else { b }
}

/// The smaller number, `b` where they cannot be compared.
#[inline(always)]
pub(super) fn smaller(a: f32, b: f32) -> f32 {
    if a < b { a } else { b }
}

/// Boxes and points that are a little larger than their triangles, by more than any rounding in `f64`.
pub(super) fn padding(corners: impl Iterator<Item = Vector3<f64>>) -> f64 {
    corners.fold(0.0, |largest: f64, corner| largest.max(corner.amax())) * f64::from(f32::EPSILON)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_interval_holds_its_point() {
        for x in [0.0, 0.1, -0.1, 1e-300, 33.333_333_333, -2.0, 1e30] {
            let interval = Interval::around(&Point3::new(x, 0.0, 0.0));
            assert!(f64::from(interval.low[0]) < x && x < f64::from(interval.high[0]), "{x}");
        }
    }

    #[test]
    fn children_remember_their_kind() {
        assert_eq!(Child::node(5).shifted(10, 100).target(), Err(15));
        assert_eq!(Child::packet(5).shifted(10, 100).target(), Ok(105));
        assert_eq!(Child::NONE.shifted(10, 100), Child::NONE);
    }

    #[test]
    fn the_smallest_number_is_found_in_every_lane() {
        for lane in 0..WIDTH {
            let mut lanes = [5.0, 1.0, 3.0, f32::INFINITY, 3.0, 0.5, 4.0, 2.0];
            lanes[lane] = 0.25;
            assert_eq!(smallest(&lanes), 0.25);
        }
    }

    #[test]
    fn lanes_at_the_limit_are_within() {
        assert_eq!(lanes_within(&[0.0, 1.0, 2.0, 3.0, f32::INFINITY, 2.0, 9.0, 0.5], 2.0), 0b1010_0111);
        for best in [0.0, 1e-40, 1e-9, 0.3, 1e30, f64::INFINITY] {
            assert!(f64::from(limit(best)) >= best, "{best}");
        }
    }
}
