//! The sparse linear systems of Newton's method: one pattern, many matrices.

use faer::dyn_stack::{MemBuffer, MemStack};
use faer::prelude::Reborrow;
use faer::sparse::linalg::SupernodalThreshold;
use faer::sparse::linalg::lu::{LuRef, LuSymbolicParams, NumericLu, SymbolicLu, factorize_symbolic_lu};
use faer::sparse::{Argsort, Pair, SparseColMat, SymbolicSparseColMat};
use faer::{Conj, Mat, Par};

/// Factors of the last matrix of a pattern. Memory is kept from one matrix to the next.
pub(crate) struct Factors {
    pattern: SymbolicSparseColMat<usize>,
    order: Argsort<usize>,
    symbolic: SymbolicLu<usize>,
    numeric: NumericLu<usize, f64>,
    memory: MemBuffer,
}

impl Factors {
    /// For matrices with entries at these places; a place may come several times, its values are added.
    pub(crate) fn new(unknowns: usize, places: &[Pair<usize, usize>]) -> Result<Self, String> {
        let failed = |error: &dyn std::fmt::Debug| format!("{error:?}");
        let (pattern, order) =
            SymbolicSparseColMat::try_new_from_indices(unknowns, unknowns, places).map_err(|error| failed(&error))?;
        // Column by column, as is chosen for few unknowns by default, takes several times longer here even on the coarsest grid.
        let blocks = LuSymbolicParams {
            supernodal_flop_ratio_threshold: SupernodalThreshold::FORCE_SUPERNODAL,
            ..LuSymbolicParams::default()
        };
        let symbolic = factorize_symbolic_lu(pattern.rb(), blocks).map_err(|error| failed(&error))?;
        let scratch = symbolic
            .factorize_numeric_lu_scratch::<f64>(Par::Seq, Default::default())
            .or(symbolic.solve_in_place_scratch::<f64>(1, Par::Seq));
        let memory = MemBuffer::try_new(scratch).map_err(|error| failed(&error))?;
        Ok(Self { pattern, order, symbolic, numeric: NumericLu::new(), memory })
    }

    /// Factors the matrix with these values, in the order of the places; whether it could be done.
    pub(crate) fn factor(&mut self, values: &[f64]) -> Result<bool, String> {
        let matrix = SparseColMat::new_from_argsort(self.pattern.clone(), &self.order, values)
            .map_err(|error| format!("{error:?}"))?;
        let stack = MemStack::new(&mut self.memory);
        let factored =
            self.symbolic.factorize_numeric_lu(&mut self.numeric, matrix.rb(), Par::Seq, stack, Default::default());
        Ok(factored.is_ok())
    }

    /// The solution for a right-hand side, by the factors of the last matrix.
    pub(crate) fn solve(&mut self, right: impl Fn(usize) -> f64) -> Mat<f64> {
        let mut solution = Mat::from_fn(self.pattern.nrows(), 1, |k, _| right(k));
        let factors = LuRef::new_unchecked(&self.symbolic, &self.numeric);
        factors.solve_in_place_with_conj(Conj::No, solution.as_mut(), Par::Seq, MemStack::new(&mut self.memory));
        solution
    }
}
