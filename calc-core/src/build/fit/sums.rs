//! Counting pairs of gasket and head whose volumes add up to no more than something, for gaskets of a range of thicknesses.

use std::ops::Range;

/// Most entries of the table: ten megabytes.
const MOST_ENTRIES: usize = 2_500_000;

/// The sums of gasket and chamber volumes in order, and for every rank how many of the smaller sums belong to which gaskets.
#[derive(Debug)]
pub(super) struct Sums {
    sums: Vec<f64>,
    /// A row for each rank: entry `g` counts the smaller sums whose gasket comes before `g`.
    rows: Vec<u32>,
    width: usize,
    index: Index,
}

impl Sums {
    /// None when the table would be too large.
    pub(super) fn of(gaskets: &[f64], chambers: &[f64]) -> Option<Self> {
        let (width, pairs) = (gaskets.len() + 1, gaskets.len().checked_mul(chambers.len())?);
        if (pairs + 1).checked_mul(width)? > MOST_ENTRIES {
            return None;
        }
        let pair = |(place, gasket): (usize, &f64)| {
            let gasket = *gasket;
            chambers.iter().map(move |chamber| (gasket + chamber, place))
        };
        let mut pairs: Vec<(f64, usize)> = gaskets.iter().enumerate().flat_map(pair).collect();
        pairs.sort_unstable_by(|one, other| one.0.total_cmp(&other.0));
        let mut rows = vec![0; (pairs.len() + 1) * width];
        for (rank, (_, place)) in pairs.iter().enumerate() {
            let (before, after) = rows.split_at_mut((rank + 1) * width);
            after[..width].copy_from_slice(&before[rank * width..]);
            after[place + 1..width].iter_mut().for_each(|count| *count += 1);
        }
        let sums: Vec<f64> = pairs.into_iter().map(|(sum, _)| sum).collect();
        Some(Self { index: Index::of(&sums), sums, rows, width })
    }

    /// How many sums are less than `value`.
    pub(super) fn below(&self, value: f64) -> usize {
        self.index.rank(&self.sums, |sum| sum < value, value)
    }

    /// How many sums are `value` or less.
    pub(super) fn up_to(&self, value: f64) -> usize {
        self.index.rank(&self.sums, |sum| sum <= value, value)
    }

    /// How many of the first sums belong to gaskets of a range.
    pub(super) fn count(&self, gaskets: &Range<usize>, rank: usize) -> u64 {
        let row = &self.rows[rank * self.width..][..self.width];
        u64::from(row[gaskets.end]) - u64::from(row[gaskets.start])
    }

    /// The sums on both sides of a rank.
    pub(super) fn beside(&self, rank: usize) -> [Option<f64>; 2] {
        [rank.checked_sub(1).and_then(|before| self.sums.get(before)).copied(), self.sums.get(rank).copied()]
    }
}

/// Where to begin looking in sorted values: for equal steps of the value, the rank of the first that is not less.
#[derive(Debug)]
struct Index {
    first: f64,
    per_unit: f64,
    starts: Vec<u32>,
}

impl Index {
    fn of(values: &[f64]) -> Self {
        let (first, last) = (values.first().copied().unwrap_or(0.0), values.last().copied().unwrap_or(0.0));
        let buckets = (4 * values.len()).max(1);
        let per_unit = if last > first { buckets as f64 / (last - first) } else { 0.0 };
        let mut index = Self { first, per_unit, starts: Vec::new() };
        let mut rank = 0;
        index.starts = (0..=buckets + 1)
            .map(|bucket| {
                while rank < values.len() && index.bucket(values[rank]) < bucket {
                    rank += 1;
                }
                rank as u32
            })
            .collect();
        index
    }

    fn bucket(&self, value: f64) -> usize {
        // A conversion of a float to an integer saturates.
        ((value - self.first) * self.per_unit) as usize
    }

    /// How many of the sorted values come before the first for which `before` does not hold.
    fn rank(&self, values: &[f64], before: impl Fn(f64) -> bool, value: f64) -> usize {
        let bucket = self.bucket(value).min(self.starts.len() - 2);
        let (start, end) = (self.starts[bucket] as usize, self.starts[bucket + 1] as usize);
        // The bucket of a value does not decrease with it, so all before the bucket come before, and none after it.
        start + values[start..end].partition_point(|sum| before(*sum))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn the_table_counts_as_counting_does(
            gaskets in prop::collection::vec(0_u8..20, 1..7), chambers in prop::collection::vec(0_u8..20, 1..7),
            value in -2.0_f64..45.0, ends in (0_usize..7, 0_usize..7),
        ) {
            let numbers = |list: &[u8]| list.iter().map(|number| f64::from(*number)).collect::<Vec<_>>();
            let (gaskets, chambers) = (numbers(&gaskets), numbers(&chambers));
            let sums = Sums::of(&gaskets, &chambers).unwrap();
            let range = ends.0.min(ends.1).min(gaskets.len())..ends.0.max(ends.1).min(gaskets.len());
            for value in [value, value.round(), f64::INFINITY, f64::NEG_INFINITY] {
                let by_hand = |within: &dyn Fn(f64) -> bool| {
                    let pairs = gaskets[range.clone()].iter().flat_map(|one| chambers.iter().map(move |other| one + other));
                    pairs.filter(|sum| within(*sum)).count() as u64
                };
                prop_assert_eq!(sums.count(&range, sums.below(value)), by_hand(&|sum| sum < value));
                prop_assert_eq!(sums.count(&range, sums.up_to(value)), by_hand(&|sum| sum <= value));
            }
        }
    }
}
