//! L D L^T of a symmetric matrix whose pattern never changes.
//!
//! Own code, because the pattern is known once and the numbers change thousands of times: the places that each elimination
//! step writes to are listed beforehand, so that the numeric part is three plain loops without a search or an allocation.

use super::ordering::minimum_degree;

/// The pattern, the list of places and the numbers.
#[derive(Debug, Clone)]
pub(super) struct Factor {
    /// Place in the order of elimination, by unknown.
    place: Vec<usize>,
    /// Where each column's entries below the diagonal begin, and one end more.
    start: Vec<usize>,
    /// Row of each entry below the diagonal.
    row: Vec<usize>,
    /// Where the product of each pair of a column's entries is taken off: an index below the diagonal, or a row of it.
    target: Vec<usize>,
    /// The matrix before, the factor D after [`Factor::decompose`].
    diagonal: Vec<f64>,
    /// The matrix before, the factor L after [`Factor::decompose`].
    below: Vec<f64>,
    /// Right-hand side in the order of elimination.
    work: Vec<f64>,
}

/// Where a link's conductance stands in the matrix.
#[derive(Debug, Clone, Copy)]
pub(super) enum Slot {
    /// Between two unknowns: both diagonals and one entry below.
    Pair([usize; 2], usize),
    /// Between an unknown and a known pressure.
    Single(usize),
    /// Between two known pressures.
    None,
}

impl Factor {
    /// The pattern of `unknowns` nodes with these pairs of neighbours; repeated pairs do no harm.
    pub(super) fn new(unknowns: usize, pairs: impl Iterator<Item = [usize; 2]>) -> Self {
        let mut adjacent = vec![Vec::new(); unknowns];
        for [one, other] in pairs.filter(|[one, other]| one != other) {
            adjacent[one].push(other);
            adjacent[other].push(one);
        }
        for list in &mut adjacent {
            list.sort_unstable();
            list.dedup();
        }
        let (order, patterns) = minimum_degree(adjacent);
        let mut place = vec![0; unknowns];
        for (at, &node) in order.iter().enumerate() {
            place[node] = at;
        }
        let mut start = vec![0];
        let mut row = Vec::new();
        for pattern in patterns {
            let mut rows: Vec<_> = pattern.into_iter().map(|node| place[node]).collect();
            rows.sort_unstable();
            row.extend(rows);
            start.push(row.len());
        }
        let (diagonal, below, work) = (vec![0.0; unknowns], vec![0.0; row.len()], vec![0.0; unknowns]);
        let mut factor = Self { place, start, row, target: Vec::new(), diagonal, below, work };
        factor.target = factor.targets();
        factor
    }

    fn targets(&self) -> Vec<usize> {
        let mut targets = Vec::new();
        for rows in self.start.windows(2).map(|ends| &self.row[ends[0]..ends[1]]) {
            for (at, &column) in rows.iter().enumerate() {
                targets.extend(rows[at + 1..].iter().map(|&row| self.entry(column, row)));
            }
        }
        targets
    }

    /// Index below the diagonal; every pair that is asked for is in the pattern.
    fn entry(&self, column: usize, row: usize) -> usize {
        let rows = &self.row[self.start[column]..self.start[column + 1]];
        self.start[column] + rows.partition_point(|&other| other < row)
    }

    /// Where a link between two nodes stands; a known pressure has no unknown.
    pub(super) fn slot(&self, ends: [Option<usize>; 2]) -> Slot {
        match ends.map(|end| end.map(|unknown| self.place[unknown])) {
            [Some(one), Some(other)] if one != other => {
                Slot::Pair([one, other], self.entry(one.min(other), one.max(other)))
            }
            [Some(one), None] | [None, Some(one)] => Slot::Single(one),
            _ => Slot::None,
        }
    }

    pub(super) fn clear(&mut self) {
        self.diagonal.fill(0.0);
        self.below.fill(0.0);
    }

    pub(super) fn add(&mut self, slot: Slot, conductance: f64) {
        match slot {
            Slot::Pair([one, other], entry) => {
                self.diagonal[one] += conductance;
                self.diagonal[other] += conductance;
                self.below[entry] -= conductance;
            }
            Slot::Single(one) => self.diagonal[one] += conductance,
            Slot::None => {}
        }
    }

    /// Turns the matrix into its factors; false when it is not positive definite.
    pub(super) fn decompose(&mut self) -> bool {
        let mut target = self.target.iter();
        for column in 0..self.diagonal.len() {
            let pivot = self.diagonal[column];
            // Also true for a NaN.
            if !(pivot > 0.0 && pivot.is_finite()) {
                return false;
            }
            let end = self.start[column + 1];
            for at in self.start[column]..end {
                let whole = self.below[at];
                let share = whole / pivot;
                self.diagonal[self.row[at]] -= whole * share;
                for later in at + 1..end {
                    if let Some(&place) = target.next() {
                        self.below[place] -= self.below[later] * share;
                    }
                }
                self.below[at] = share;
            }
        }
        true
    }

    /// Solves for a right-hand side by unknown; the solution takes its place.
    pub(super) fn solve(&mut self, side: &mut [f64]) {
        for (value, &place) in side.iter().zip(&self.place) {
            self.work[place] = *value;
        }
        for column in 0..self.work.len() {
            let value = self.work[column];
            for at in self.start[column]..self.start[column + 1] {
                self.work[self.row[at]] -= self.below[at] * value;
            }
        }
        for column in (0..self.work.len()).rev() {
            let mut value = self.work[column] / self.diagonal[column];
            for at in self.start[column]..self.start[column + 1] {
                value -= self.below[at] * self.work[self.row[at]];
            }
            self.work[column] = value;
        }
        for (value, &place) in side.iter_mut().zip(&self.place) {
            *value = self.work[place];
        }
    }
}
