//! Many queries at once.

use nalgebra::Point3;
use rayon::prelude::*;

use super::closest::Search;
use super::{Closest, TriangleTree, morton};

/// Queries that one task answers one after the other, each starting where the last one ended.
const CHUNK: usize = 512;

/// Queries that share the way down from the root.
const GROUP: usize = 16;

/// Fewer queries are answered as they come.
const WORTH_SORTING: usize = 64;

impl TriangleTree {
    /// [`closest`](Self::closest) for many points, in parallel, in the order of the points.
    ///
    /// Points in no particular order are first put into one in which neighbours are near each other.
    pub fn closest_many(&self, queries: &[Point3<f64>], within_mm: f64) -> Vec<Option<Closest>> {
        self.closest_map(queries, within_mm, |_, closest| closest)
    }

    /// The closest point of each query, seen through `map` while it is still at hand.
    pub(crate) fn closest_map<T: Copy + Send>(
        &self,
        queries: &[Point3<f64>],
        within_mm: f64,
        map: impl Fn(&Point3<f64>, Option<Closest>) -> T + Sync,
    ) -> Vec<T> {
        if queries.len() < WORTH_SORTING || morton::is_coherent(queries) {
            let chunks = queries.par_chunks(CHUNK).map(|chunk| self.answer(chunk, within_mm, &map));
            return chunks.collect::<Vec<_>>().concat();
        }
        let order = morton::order(queries);
        let answers: Vec<Vec<T>> = order
            .par_chunks(CHUNK)
            .map(|indices| {
                let chunk: Vec<_> = indices.iter().map(|&index| queries[index as usize]).collect();
                self.answer(&chunk, within_mm, &map)
            })
            .collect();
        let mut in_order = vec![answers[0][0]; queries.len()];
        for (&index, &answer) in order.iter().zip(answers.iter().flatten()) {
            in_order[index as usize] = answer;
        }
        in_order
    }

    fn answer<T>(
        &self,
        queries: &[Point3<f64>],
        within_mm: f64,
        map: &(impl Fn(&Point3<f64>, Option<Closest>) -> T + Sync),
    ) -> Vec<T> {
        pulp::Arch::new().dispatch(Chunk { tree: self, queries, within_mm, map })
    }
}

/// A chunk of queries, ready to be run with the processor's widest vectors.
struct Chunk<'a, F> {
    tree: &'a TriangleTree,
    queries: &'a [Point3<f64>],
    within_mm: f64,
    map: &'a F,
}

impl<T, F: Fn(&Point3<f64>, Option<Closest>) -> T> pulp::NullaryFnOnce for Chunk<'_, F> {
    type Output = Vec<T>;

    #[inline(always)]
    fn call(self) -> Vec<T> {
        let mut search = Search::new(self.tree);
        let mut answers = Vec::with_capacity(self.queries.len());
        for group in self.queries.chunks(GROUP) {
            search.closest_of_group(group, self.within_mm, |query, closest| {
                answers.push((self.map)(query, closest))
            });
        }
        answers
    }
}
