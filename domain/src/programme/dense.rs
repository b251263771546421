//! Linear equations whose matrix is diagonally dominant by rows, as `I - βP` is: elimination needs no exchange of rows.

/// The `x` of `matrix · x = right`.
pub(super) fn solve(mut matrix: Vec<Vec<f64>>, mut right: Vec<f64>) -> Vec<f64> {
    for pivot in 0..right.len() {
        let (above, below) = matrix.split_at_mut(pivot.saturating_add(1));
        let (solved, open) = right.split_at_mut(pivot.saturating_add(1));
        let (Some(base), Some(&known)) = (above.last(), solved.last()) else {
            continue;
        };
        let Some((&lead, tail)) = base.get(pivot..).and_then(<[f64]>::split_first) else {
            continue;
        };
        for (row, value) in below.iter_mut().zip(open) {
            let Some((head, rest)) = row.get_mut(pivot..).and_then(<[f64]>::split_first_mut) else {
                continue;
            };
            let factor = *head / lead;
            // Most ways lead to few states, so most rows have nothing to take away here.
            if factor == 0.0 {
                continue;
            }
            *head = 0.0;
            for (cell, from) in rest.iter_mut().zip(tail) {
                *cell -= factor * from;
            }
            *value -= factor * known;
        }
    }
    for (at, row) in matrix.iter().enumerate().rev() {
        let Some((&lead, tail)) = row.get(at..).and_then(<[f64]>::split_first) else {
            continue;
        };
        let (head, later) = right.split_at_mut(at.saturating_add(1));
        let known: f64 = tail.iter().zip(&*later).map(|(cell, x)| cell * x).sum();
        if let Some(value) = head.last_mut() {
            *value = (*value - known) / lead;
        }
    }
    right
}
