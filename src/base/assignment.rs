//! Optimal assignment: each row gets one column so that the sum of costs is least.
//!
//! The Hungarian method with potentials (Kuhn 1955, Munkres 1957, in its shortest-path form), on integers,
//! so that the result is the same on every machine. Rows and columns are a few hundred at most.

/// Costs, row by row.
#[derive(Debug, Clone)]
pub(crate) struct Costs {
    columns: usize,
    cells: Vec<i64>,
}

impl Costs {
    /// A matrix whose cell at (row, column) is `cost(row, column)`. There must be at least as many columns as
    /// rows.
    pub(crate) fn new(rows: usize, columns: usize, mut cost: impl FnMut(usize, usize) -> i64) -> Self {
        debug_assert!(rows <= columns);
        let cells = (0..rows * columns).map(|cell| cost(cell / columns, cell % columns)).collect();
        Self { columns, cells }
    }

    fn rows(&self) -> usize {
        self.cells.len().checked_div(self.columns).unwrap_or(0)
    }

    fn at(&self, row: usize, column: usize) -> i64 {
        self.cells[row * self.columns + column]
    }
}

/// The column of each row in a cheapest assignment; ties go to the lower column.
pub(crate) fn assign(costs: &Costs) -> Vec<usize> {
    let (rows, columns) = (costs.rows(), costs.columns);
    let mut row_price = vec![0i64; rows];
    let mut column_price = vec![0i64; columns];
    // Row that holds each column, if any.
    let mut holder: Vec<Option<usize>> = vec![None; columns];
    for start in 0..rows {
        extend(costs, start, &mut row_price, &mut column_price, &mut holder);
    }
    let mut result = vec![0; rows];
    for (column, row) in holder.iter().enumerate() {
        if let Some(row) = row {
            result[*row] = column;
        }
    }
    result
}

/// Gives row `start` a column along the cheapest chain of re-assignments.
fn extend(
    costs: &Costs,
    start: usize,
    row_price: &mut [i64],
    column_price: &mut [i64],
    holder: &mut [Option<usize>],
) {
    let columns = costs.columns;
    let mut least = vec![i64::MAX; columns];
    let mut came_from: Vec<Option<usize>> = vec![None; columns];
    let mut done = vec![false; columns];
    let mut row = start;
    let mut at: Option<usize> = None;
    let end = loop {
        let (mut step, mut next) = (i64::MAX, None);
        for column in 0..columns {
            if done[column] {
                continue;
            }
            let reduced = costs.at(row, column) - row_price[row] - column_price[column];
            if reduced < least[column] {
                least[column] = reduced;
                came_from[column] = at;
            }
            if least[column] < step {
                step = least[column];
                next = Some(column);
            }
        }
        let Some(next) = next else { return };
        row_price[start] += step;
        for column in 0..columns {
            if done[column] {
                column_price[column] -= step;
                if let Some(row) = holder[column] {
                    row_price[row] += step;
                }
            } else {
                least[column] -= step;
            }
        }
        done[next] = true;
        at = Some(next);
        match holder[next] {
            Some(holding) => row = holding,
            None => break next,
        }
    };
    // Walk the chain back, handing each column to the row before it.
    let mut column = end;
    while let Some(previous) = came_from[column] {
        holder[column] = holder[previous];
        column = previous;
    }
    holder[column] = Some(start);
}

#[cfg(test)]
mod tests {
    use pathfinding::kuhn_munkres::kuhn_munkres_min;
    use pathfinding::matrix::Matrix;
    use proptest::prelude::*;

    use super::*;

    fn total(costs: &Costs, columns: &[usize]) -> i64 {
        columns.iter().enumerate().map(|(row, column)| costs.at(row, *column)).sum()
    }

    #[test]
    fn the_least_sum_wins() {
        let cells = [[4, 1, 3], [2, 0, 5], [3, 2, 2]];
        let costs = Costs::new(3, 3, |r, c| cells[r][c]);
        assert_eq!(total(&costs, &assign(&costs)), 5);
    }

    #[test]
    fn nothing_is_fine() {
        assert!(assign(&Costs::new(0, 3, |_, _| 0)).is_empty());
        assert!(assign(&Costs::new(0, 0, |_, _| 0)).is_empty());
    }

    proptest! {
        /// Oracle: `kuhn_munkres_min` of the `pathfinding` crate.
        #[test]
        fn as_cheap_as_the_reference(
            rows in 1usize..9, extra in 0usize..5,
            cells in proptest::collection::vec(0i64..1000, 9 * 14),
        ) {
            let columns = rows + extra;
            let costs = Costs::new(rows, columns, |r, c| cells[r * columns + c]);
            let ours = assign(&costs);
            let mut seen = ours.clone();
            seen.sort_unstable();
            seen.dedup();
            prop_assert_eq!(seen.len(), rows);
            let matrix = Matrix::from_fn(rows, columns, |(r, c)| cells[r * columns + c]);
            prop_assert_eq!(total(&costs, &ours), kuhn_munkres_min(&matrix).0);
        }
    }
}
