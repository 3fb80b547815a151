//! Which triangles meet at which edge.

/// A side of a triangle: `3 * triangle + k` runs from corner `k` to corner `(k + 1) % 3`.
pub(crate) type HalfEdge = u32;

/// The half-edges of a mesh, those on the same two vertices side by side.
pub(crate) struct Edges<'a> {
    triangles: &'a [[u32; 3]],
    /// The higher vertex in the upper half, the half-edge in the lower, sorted within each lower vertex.
    entries: Vec<u64>,
    /// Where the entries of each lower vertex end.
    ends: Vec<u32>,
}

/// All half-edges between two vertices.
pub(crate) struct Edge<'a> {
    /// The vertices, the lower number first.
    pub vertices: [u32; 2],
    entries: &'a [u64],
}

impl Edge<'_> {
    /// Half-edges here: one on a rim, two inside a surface.
    pub fn len(&self) -> usize {
        self.entries.len()
    }

    /// The half-edges, rising.
    pub fn half_edges(&self) -> impl Iterator<Item = HalfEdge> {
        self.entries.iter().map(|&entry| entry as HalfEdge)
    }
}

/// The vertices a half-edge runs between.
pub(crate) fn ends_of(triangles: &[[u32; 3]], half_edge: HalfEdge) -> [u32; 2] {
    let triangle = triangles[(half_edge / 3) as usize];
    let k = (half_edge % 3) as usize;
    [triangle[k], triangle[(k + 1) % 3]]
}

impl<'a> Edges<'a> {
    /// Sorts the half-edges of triangles whose corners are below `n_vertices`.
    pub fn new(triangles: &'a [[u32; 3]], n_vertices: usize) -> Self {
        let sides = || triangles.iter().flat_map(|&[a, b, c]| [[a, b], [b, c], [c, a]]);
        // Counting by lower vertex first leaves only a handful to sort around each.
        let mut ends = vec![0_u32; n_vertices + 1];
        sides().for_each(|[from, to]| ends[from.min(to) as usize + 1] += 1);
        for vertex in 0..n_vertices {
            ends[vertex + 1] += ends[vertex];
        }
        let mut entries = vec![0_u64; 3 * triangles.len()];
        for (half_edge, [from, to]) in sides().enumerate() {
            let place = &mut ends[from.min(to) as usize];
            entries[*place as usize] = (u64::from(from.max(to)) << 32) | half_edge as u64;
            *place += 1;
        }
        ends.truncate(n_vertices);
        let mut start = 0;
        for &end in &ends {
            entries[start..end as usize].sort_unstable();
            start = end as usize;
        }
        Self { triangles, entries, ends }
    }

    /// Calls `visit` for every edge, sorted by its vertices.
    pub fn each(&self, mut visit: impl FnMut(Edge<'_>)) {
        let mut start = 0;
        for (low, &end) in self.ends.iter().enumerate() {
            for entries in self.entries[start..end as usize].chunk_by(|a, b| a >> 32 == b >> 32) {
                visit(Edge { vertices: [low as u32, (entries[0] >> 32) as u32], entries });
            }
            start = end as usize;
        }
    }

    /// Triangles at this edge that lie on the same three vertices as another one here.
    ///
    /// Only the edge between their two lowest vertices counts them, so that a sum over all edges is right.
    pub fn count_coincident(&self, edge: &Edge<'_>) -> usize {
        let apex = |half_edge: HalfEdge| {
            let [triangle, k] = [half_edge / 3, half_edge % 3].map(|part| part as usize);
            self.triangles[triangle][(k + 2) % 3]
        };
        let mut half_edges = edge.half_edges().map(apex).filter(|&apex| apex > edge.vertices[1]);
        if edge.len() <= 2 {
            return usize::from(half_edges.next().is_some_and(|apex| half_edges.next() == Some(apex)));
        }
        let mut apexes: Vec<u32> = half_edges.collect();
        apexes.sort_unstable();
        apexes.windows(2).filter(|pair| pair[0] == pair[1]).count()
    }

    /// Whether an edge of two triangles is run the same way by both.
    pub fn is_inconsistent(&self, edge: &Edge<'_>) -> bool {
        let mut starts = edge.half_edges().map(|half_edge| ends_of(self.triangles, half_edge)[0]);
        edge.len() == 2 && starts.next() == starts.next()
    }
}

/// Sets of things that grow together.
pub(crate) struct Sets {
    parent: Vec<u32>,
}

impl Sets {
    pub fn new(n: usize) -> Self {
        Self { parent: (0..n as u32).collect() }
    }

    /// The lowest member of the set.
    pub fn root(&mut self, mut member: u32) -> u32 {
        while self.parent[member as usize] != member {
            let above = self.parent[self.parent[member as usize] as usize];
            self.parent[member as usize] = above;
            member = above;
        }
        member
    }

    pub fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        self.parent[a.max(b) as usize] = a.min(b);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gathers_the_half_edges_of_each_edge() {
        let triangles = [[0, 1, 2], [2, 1, 3], [1, 2, 4], [0, 1, 5]];
        let edges = Edges::new(&triangles, 6);
        let mut seen = Vec::new();
        edges.each(|edge| {
            seen.push((edge.vertices, edge.half_edges().collect::<Vec<_>>(), edges.is_inconsistent(&edge)))
        });
        assert_eq!(seen.len(), 9);
        assert!(seen.contains(&([0, 1], vec![0, 9], true)));
        assert!(seen.contains(&([1, 2], vec![1, 3, 6], false)));
        assert!(seen.contains(&([2, 4], vec![7], false)));
        assert!(seen.is_sorted());
    }
}
