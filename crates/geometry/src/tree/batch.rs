//! Many queries at once.

use nalgebra::Point3;
use rayon::prelude::*;

use super::closest::Search;
use super::{Closest, TriangleTree, morton};

/// Queries that one task answers one after the other, each starting where the last one ended.
const CHUNK: usize = 512;

/// Queries that share the way down from the root.
const GROUP: usize = 32;

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
    pub(crate) fn closest_map<T: Copy + Default + Send + Sync>(
        &self,
        queries: &[Point3<f64>],
        within_mm: f64,
        map: impl Fn(&Point3<f64>, Option<Closest>) -> T + Sync,
    ) -> Vec<T> {
        if queries.len() < WORTH_SORTING || morton::is_coherent(queries) {
            return self.answer_all(queries, within_mm, &map);
        }
        let order = morton::order(queries);
        let sorted: Vec<_> = order.iter().map(|&index| queries[index as usize]).collect();
        let answers = self.answer_all(&sorted, within_mm, &map);
        let mut in_order = vec![T::default(); queries.len()];
        for (&index, &answer) in order.iter().zip(&answers) {
            in_order[index as usize] = answer;
        }
        in_order
    }

    fn answer_all<T: Copy + Default + Send>(
        &self,
        queries: &[Point3<f64>],
        within_mm: f64,
        map: &(impl Fn(&Point3<f64>, Option<Closest>) -> T + Sync),
    ) -> Vec<T> {
        let mut answers = vec![T::default(); queries.len()];
        let chunks = answers.par_chunks_mut(CHUNK).zip(queries.par_chunks(CHUNK));
        chunks.for_each(|(answers, queries)| {
            pulp::Arch::new().dispatch(Chunk { tree: self, queries, within_mm, map, answers });
        });
        answers
    }
}

/// A chunk of queries, ready to be run with the processor's widest vectors.
struct Chunk<'a, F, T> {
    tree: &'a TriangleTree,
    queries: &'a [Point3<f64>],
    within_mm: f64,
    map: &'a F,
    answers: &'a mut [T],
}

impl<T, F: Fn(&Point3<f64>, Option<Closest>) -> T> pulp::NullaryFnOnce for Chunk<'_, F, T> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let mut search = Search::new(self.tree);
        let mut answers = self.answers.iter_mut();
        for group in self.queries.chunks(GROUP) {
            search.closest_of_group(group, self.within_mm, |query, closest| {
                if let Some(answer) = answers.next() {
                    *answer = (self.map)(query, closest);
                }
            });
        }
    }
}
