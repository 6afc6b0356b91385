//! The linear assignment problem, exactly.

/// Shortest augmenting paths with potentials (Jonker & Volgenant 1987,
/// Computing 38:325–340), for no more rows than columns. Its room is kept and
/// used again.
#[derive(Debug, Clone, Default)]
pub(super) struct Assignment {
    /// Potentials of rows and columns; a free column's is zero.
    pub rows: Vec<i64>,
    pub columns: Vec<i64>,
    /// For each column its row.
    row_of: Vec<usize>,
    least: Vec<i64>,
    from: Vec<usize>,
    done: Vec<bool>,
}

const NONE: usize = usize::MAX;

impl Assignment {
    /// The least sum of `costs` (rows × columns, row by row) with a column of
    /// its own for each row. The potentials then say by how much at least the
    /// sum grows where row i takes column k: cost − row − column ≥ 0.
    pub fn solve(&mut self, costs: &[i64], rows: usize, columns: usize) -> i64 {
        debug_assert!(rows <= columns && costs.len() == rows * columns);
        self.rows.clear();
        self.rows.resize(rows, 0);
        self.columns.clear();
        self.columns.resize(columns, 0);
        self.row_of.clear();
        self.row_of.resize(columns, NONE);
        for row in 0..rows {
            self.augment(costs, columns, row);
        }
        let taken = self.row_of.iter().enumerate().filter(|(_, row)| **row != NONE);
        taken.map(|(column, row)| costs[row * columns + column]).sum()
    }

    fn augment(&mut self, costs: &[i64], columns: usize, start: usize) {
        self.least.clear();
        self.least.resize(columns, i64::MAX);
        self.from.clear();
        self.from.resize(columns, NONE);
        self.done.clear();
        self.done.resize(columns, false);
        let (mut row, mut last) = (start, NONE);
        // Columns reached, in order; the last is free.
        let end = loop {
            let own = &costs[row * columns..][..columns];
            let (mut step, mut next) = (i64::MAX, NONE);
            for (column, cost) in own.iter().enumerate().filter(|(column, _)| !self.done[*column]) {
                let reduced = cost - self.rows[row] - self.columns[column];
                if reduced < self.least[column] {
                    (self.least[column], self.from[column]) = (reduced, last);
                }
                if self.least[column] < step {
                    (step, next) = (self.least[column], column);
                }
            }
            self.rows[start] += step;
            for column in 0..columns {
                if self.done[column] {
                    self.rows[self.row_of[column]] += step;
                    self.columns[column] -= step;
                } else {
                    self.least[column] = self.least[column].saturating_sub(step);
                }
            }
            self.done[next] = true;
            if self.row_of[next] == NONE {
                break next;
            }
            (row, last) = (self.row_of[next], next);
        };
        let mut column = end;
        while column != NONE {
            let before = self.from[column];
            self.row_of[column] = if before == NONE { start } else { self.row_of[before] };
            column = before;
        }
    }

    /// For each row its column, after [`Assignment::solve`].
    pub fn columns_of(&self) -> Vec<usize> {
        let mut columns = vec![NONE; self.rows.len()];
        for (column, row) in self.row_of.iter().enumerate().filter(|(_, row)| **row != NONE) {
            columns[*row] = column;
        }
        columns
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn by_trying(costs: &[i64], columns: usize, row: usize, taken: &mut Vec<bool>) -> i64 {
        if row * columns == costs.len() {
            return 0;
        }
        let mut least = i64::MAX;
        for column in 0..columns {
            if !taken[column] {
                taken[column] = true;
                let rest = by_trying(costs, columns, row + 1, taken);
                taken[column] = false;
                least = least.min(costs[row * columns + column] + rest);
            }
        }
        least
    }

    proptest! {
        #[test]
        fn it_is_the_least_and_its_potentials_prove_it(
            (rows, columns, costs) in (1_usize..5, 0_usize..3).prop_flat_map(|(rows, more)| {
                let columns = rows + more;
                let costs = proptest::collection::vec(-50_i64..50, rows * columns);
                (Just(rows), Just(columns), costs)
            })
        ) {
            let mut assignment = Assignment::default();
            let least = assignment.solve(&costs, rows, columns);
            prop_assert_eq!(least, by_trying(&costs, columns, 0, &mut vec![false; columns]));
            let chosen = assignment.columns_of();
            let sum: i64 =
                chosen.iter().enumerate().map(|(row, column)| costs[row * columns + column]).sum();
            prop_assert_eq!(sum, least);
            for row in 0..rows {
                for column in 0..columns {
                    let reduced = costs[row * columns + column]
                        - assignment.rows[row] - assignment.columns[column];
                    prop_assert!(reduced >= 0 && (reduced == 0 || chosen[row] != column));
                }
            }
            let potentials: i64 =
                assignment.rows.iter().chain(&assignment.columns).sum();
            prop_assert_eq!(potentials, least, "a free column's potential is zero");
        }
    }
}
