//! Small dense symmetric matrices: a few dozen rows.

/// A square matrix, row by row.
#[derive(Debug, Clone)]
pub(super) struct Square {
    pub(super) size: usize,
    cells: Vec<f64>,
}

impl Square {
    pub(super) fn zero(size: usize) -> Self {
        Self { size, cells: vec![0.0; size * size] }
    }

    pub(super) fn at(&self, row: usize, column: usize) -> f64 {
        self.cells[row * self.size + column]
    }

    pub(super) fn add(&mut self, row: usize, column: usize, value: f64) {
        self.cells[row * self.size + column] += value;
    }

    /// The inverse of a positive definite matrix, by Cholesky; none where it
    /// is not positive definite to working precision.
    pub(super) fn inverse(&self) -> Option<Self> {
        let n = self.size;
        // Lower factor, then its inverse, then the product.
        let mut factor = Self::zero(n);
        for i in 0..n {
            for j in 0..=i {
                let mut sum = self.at(i, j);
                for k in 0..j {
                    sum -= factor.at(i, k) * factor.at(j, k);
                }
                let value = if i == j {
                    if !sum.is_finite() || sum <= 0.0 {
                        return None;
                    }
                    sum.sqrt()
                } else {
                    sum / factor.at(j, j)
                };
                factor.cells[i * n + j] = value;
            }
        }
        let mut lower = Self::zero(n);
        for j in 0..n {
            lower.cells[j * n + j] = 1.0 / factor.at(j, j);
            for i in j + 1..n {
                let sum: f64 = (j..i).map(|k| factor.at(i, k) * lower.at(k, j)).sum();
                lower.cells[i * n + j] = -sum / factor.at(i, i);
            }
        }
        let mut inverse = Self::zero(n);
        for i in 0..n {
            for j in 0..=i {
                let value: f64 = (i..n).map(|k| lower.at(k, i) * lower.at(k, j)).sum();
                inverse.cells[i * n + j] = value;
                inverse.cells[j * n + i] = value;
            }
        }
        Some(inverse)
    }

    pub(super) fn times(&self, vector: &[f64]) -> Vec<f64> {
        self.cells
            .chunks_exact(self.size)
            .map(|row| row.iter().zip(vector).map(|(a, b)| a * b).sum())
            .collect()
    }

    /// x′ A x of a sparse x.
    pub(super) fn form(&self, sparse: &[(usize, f64)]) -> f64 {
        let row = |i: usize| sparse.iter().map(|(j, b)| self.at(i, *j) * b).sum::<f64>();
        sparse.iter().map(|(i, a)| a * row(*i)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_inverse_undoes() {
        let mut a = Square::zero(3);
        for (i, row) in [[4.0, 1.0, 0.5], [1.0, 3.0, -0.25], [0.5, -0.25, 2.0]].iter().enumerate() {
            for (j, value) in row.iter().enumerate() {
                a.add(i, j, *value);
            }
        }
        let inverse = a.inverse().unwrap();
        for unit in 0..3 {
            let mut vector = vec![0.0; 3];
            vector[unit] = 1.0;
            for (i, value) in a.times(&inverse.times(&vector)).iter().enumerate() {
                assert!((value - vector[i]).abs() < 1e-12);
            }
        }
        assert!((a.form(&[(0, 1.0), (2, 2.0)]) - (4.0 + 8.0 + 2.0)).abs() < 1e-12);
        a.add(1, 1, -5.0);
        assert!(a.inverse().is_none());
    }
}
