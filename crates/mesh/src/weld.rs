//! Joining corners that lie on exactly the same point.

use nalgebra::Point3;

/// Which vertex each input point became.
pub(crate) struct Weld {
    /// The vertex of each input point.
    pub vertex_of: Vec<u32>,
    /// The first input point of each vertex, rising: vertices keep the order of their first appearance.
    pub first: Vec<u32>,
}

/// The bits of a point's three coordinates; points with equal keys are welded.
pub(crate) trait WeldKey: Copy + Eq + Sync {
    fn hash(self) -> u64;
}

impl WeldKey for [u32; 3] {
    fn hash(self) -> u64 {
        let [x, y, z] = self;
        let (x, y, z) = (u64::from(x), u64::from(y), u64::from(z));
        mix(mix(x | (y << 32), 0x9E37_79B9_7F4A_7C15) ^ z, 0xD1B5_4A32_D192_ED03)
    }
}

impl WeldKey for [u64; 3] {
    fn hash(self) -> u64 {
        let [x, y, z] = self;
        let xy = mix(mix(x, 0x9E37_79B9_7F4A_7C15) ^ y, 0xD1B5_4A32_D192_ED03);
        mix(xy ^ z, 0xA24B_AED4_963E_E407)
    }
}

/// Both halves of a 128-bit product: every input bit reaches every output bit.
fn mix(value: u64, by: u64) -> u64 {
    let product = u128::from(value ^ by.rotate_left(23)) * u128::from(by);
    (product as u64) ^ ((product >> 64) as u64)
}

/// The key of a point in double precision; -0.0 equals 0.0.
pub(crate) fn key_of_point(point: &Point3<f64>) -> [u64; 3] {
    [point.x, point.y, point.z].map(|value| (value + 0.0).to_bits())
}

const EMPTY: u32 = u32::MAX;

/// Welds points with equal keys. The number of keys must be below `u32::MAX`.
pub(crate) fn weld<K: WeldKey>(keys: &[K]) -> Weld {
    // A closed mesh has six corners a vertex: the first size rarely needs to grow.
    let mut table = vec![EMPTY; (keys.len() / 2).next_power_of_two().max(16)];
    let mut vertex_of = Vec::with_capacity(keys.len());
    let mut first: Vec<u32> = Vec::new();
    let mut unique: Vec<K> = Vec::new();
    for (index, &key) in keys.iter().enumerate() {
        let slot = find_slot(&table, &unique, key);
        if table[slot] == EMPTY {
            table[slot] = unique.len() as u32;
            unique.push(key);
            first.push(index as u32);
            vertex_of.push(unique.len() as u32 - 1);
            if unique.len() * 2 > table.len() {
                table = grown(&unique, table.len() * 2);
            }
        } else {
            vertex_of.push(table[slot]);
        }
    }
    Weld { vertex_of, first }
}

/// The slot that holds the key, or the free one where it belongs.
fn find_slot<K: WeldKey>(table: &[u32], unique: &[K], key: K) -> usize {
    let mask = table.len() - 1;
    let mut slot = key.hash() as usize & mask;
    while table[slot] != EMPTY && unique[table[slot] as usize] != key {
        slot = (slot + 1) & mask;
    }
    slot
}

fn grown<K: WeldKey>(unique: &[K], size: usize) -> Vec<u32> {
    let mut table = vec![EMPTY; size];
    for (vertex, &key) in unique.iter().enumerate() {
        let mask = size - 1;
        let mut slot = key.hash() as usize & mask;
        while table[slot] != EMPTY {
            slot = (slot + 1) & mask;
        }
        table[slot] = vertex as u32;
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn joins_equal_points_in_order_of_appearance() {
        let points = [[1.0, 0.0, 0.0], [0.0, 0.0, 0.0], [1.0, 0.0, -0.0], [-0.0, 0.0, 0.0], [2.0, 0.0, 0.0]];
        let keys: Vec<_> = points.iter().map(|&point| key_of_point(&Point3::from(point))).collect();
        let welded = weld(&keys);
        assert_eq!(welded.vertex_of, [0, 1, 0, 1, 2]);
        assert_eq!(welded.first, [0, 1, 4]);
    }

    #[test]
    fn spreads_points_of_a_grid() {
        // Round coordinates have few bits set: a weak hash would crowd them and make welding crawl.
        let grid = (0..32_768_u32).map(|k| [k & 31, k >> 5 & 31, k >> 10].map(|step| step as f32 * 0.5));
        let mut is_taken = [vec![false; 65_536], vec![false; 65_536]];
        for point in grid {
            let single = point.map(f32::to_bits).hash();
            let double = point.map(|value| f64::from(value).to_bits()).hash();
            is_taken[0][single as usize & 65_535] = true;
            is_taken[1][double as usize & 65_535] = true;
        }
        // Chance takes 65 536 (1 - exp(-1/2)) = 25 786 slots, give or take 90.
        for table in is_taken {
            let n_taken = table.iter().filter(|&&is_taken| is_taken).count();
            assert!((25_000..26_600).contains(&n_taken), "{n_taken}");
        }
    }

    #[test]
    fn keeps_neighbouring_floats_apart_while_the_table_grows() {
        let keys: Vec<[u32; 3]> =
            (0..10_000_u32).map(|step| [1.0_f32.to_bits() + step / 2, 0, step / 2]).collect();
        let welded = weld(&keys);
        assert_eq!(welded.first.len(), 5_000);
        assert!((0..10_000).all(|index| welded.vertex_of[index] == index as u32 / 2));
    }
}
