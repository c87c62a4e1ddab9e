//! Sets of conditions: as one bit for each condition where few things are free, symbolically where many are.
//!
//! The symbolic form is a reduced ordered binary decision diagram (Bryant 1986). Both forms answer the same questions, so that what
//! is proved over them is written once. Every operation can end with 'too much': then nothing is said.

use std::cell::Cell;

use biodivine_lib_bdd::{Bdd, BddVariable, BddVariableSet, op_function};

/// How much may be spent before the answer is 'not decided'.
#[derive(Clone, Copy)]
pub struct Budget<'a> {
    /// Nodes of one symbolic set.
    pub most_nodes: usize,
    /// Operations on sets, for all wires together.
    pub most_steps: u64,
    /// Asked now and then; `false` ends the work.
    pub go_on: &'a dyn Fn() -> bool,
}

impl Default for Budget<'_> {
    fn default() -> Self {
        Self { most_nodes: 200_000, most_steps: 4_000_000, go_on: &|| true }
    }
}

impl std::fmt::Debug for Budget<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Budget").field("most_nodes", &self.most_nodes).field("most_steps", &self.most_steps).finish()
    }
}

/// What was spent of a budget.
pub(super) struct Purse<'a> {
    budget: Budget<'a>,
    steps: Cell<u64>,
}

impl<'a> Purse<'a> {
    pub(super) fn new(budget: Budget<'a>) -> Self {
        Self { budget, steps: Cell::new(0) }
    }

    /// Pays for an operation of this size; `None` when nothing is left.
    pub(super) fn pay(&self, size: usize) -> Option<()> {
        let steps = self.steps.get() + 1 + (size / 64) as u64;
        let asks = steps / 256 != self.steps.get() / 256;
        self.steps.set(steps);
        (steps <= self.budget.most_steps && (!asks || (self.budget.go_on)())).then_some(())
    }

    /// Whether work may go on at all.
    pub(super) fn is_open(&self) -> bool {
        self.steps.get() <= self.budget.most_steps && (self.budget.go_on)()
    }
}

/// Sets of conditions in one form.
pub(super) trait Sets {
    type Set: Clone + PartialEq;
    fn constant(&self, all: bool) -> Self::Set;
    fn lit(&self, var: usize, value: bool) -> Option<Self::Set>;
    fn and(&self, a: &Self::Set, b: &Self::Set) -> Option<Self::Set>;
    fn or(&self, a: &Self::Set, b: &Self::Set) -> Option<Self::Set>;
    fn and_not(&self, a: &Self::Set, b: &Self::Set) -> Option<Self::Set>;
    fn is_empty(&self, set: &Self::Set) -> bool;
    /// One condition of the set: the variables that matter.
    fn pick(&self, set: &Self::Set) -> Option<Vec<(usize, bool)>>;
    /// The conditions of the set by these variables alone, each once.
    fn shadows(&self, set: &Self::Set, vars: &[usize]) -> Option<Vec<Vec<(usize, bool)>>>;
}

/// At most this many variables are swept condition by condition.
pub(super) const MOST_SWEPT: usize = 11;

/// One bit for each condition.
pub(super) struct Table<'p, 'a> {
    /// The variables, the first one the lowest bit of a condition's number.
    pub(super) vars: Vec<usize>,
    pub(super) purse: &'p Purse<'a>,
}

const PATTERN: [u64; 6] = [
    0xAAAA_AAAA_AAAA_AAAA,
    0xCCCC_CCCC_CCCC_CCCC,
    0xF0F0_F0F0_F0F0_F0F0,
    0xFF00_FF00_FF00_FF00,
    0xFFFF_0000_FFFF_0000,
    0xFFFF_FFFF_0000_0000,
];

impl Table<'_, '_> {
    fn words(&self) -> usize {
        1 << self.vars.len().saturating_sub(6)
    }

    fn zip(&self, a: &[u64], b: &[u64], with: impl Fn(u64, u64) -> u64) -> Option<Vec<u64>> {
        self.purse.pay(a.len())?;
        Some(a.iter().zip(b).map(|(a, b)| with(*a, *b)).collect())
    }

    fn row(&self, row: usize) -> Vec<(usize, bool)> {
        self.vars.iter().enumerate().map(|(bit, &var)| (var, row >> bit & 1 == 1)).collect()
    }

    fn rows<'s>(&self, set: &'s [u64]) -> impl Iterator<Item = usize> + 's {
        let rows = 1usize << self.vars.len();
        (0..rows).filter(|row| set[row / 64] >> (row % 64) & 1 == 1)
    }
}

impl Sets for Table<'_, '_> {
    type Set = Vec<u64>;

    fn constant(&self, all: bool) -> Vec<u64> {
        vec![if all { u64::MAX } else { 0 }; self.words()]
    }

    fn lit(&self, var: usize, value: bool) -> Option<Vec<u64>> {
        let bit = self.vars.iter().position(|&own| own == var)?;
        let word = |at: usize| match PATTERN.get(bit) {
            Some(pattern) => *pattern,
            None if at >> (bit - 6) & 1 == 1 => u64::MAX,
            None => 0,
        };
        Some((0..self.words()).map(|at| if value { word(at) } else { !word(at) }).collect())
    }

    fn and(&self, a: &Vec<u64>, b: &Vec<u64>) -> Option<Vec<u64>> {
        self.zip(a, b, |a, b| a & b)
    }

    fn or(&self, a: &Vec<u64>, b: &Vec<u64>) -> Option<Vec<u64>> {
        self.zip(a, b, |a, b| a | b)
    }

    fn and_not(&self, a: &Vec<u64>, b: &Vec<u64>) -> Option<Vec<u64>> {
        self.zip(a, b, |a, b| a & !b)
    }

    fn is_empty(&self, set: &Vec<u64>) -> bool {
        set.iter().all(|word| *word == 0)
    }

    fn pick(&self, set: &Vec<u64>) -> Option<Vec<(usize, bool)>> {
        self.rows(set).next().map(|row| self.row(row))
    }

    fn shadows(&self, set: &Vec<u64>, vars: &[usize]) -> Option<Vec<Vec<(usize, bool)>>> {
        let mut all: Vec<Vec<(usize, bool)>> = self
            .rows(set)
            .map(|row| self.row(row).into_iter().filter(|(var, _)| vars.contains(var)).collect())
            .collect();
        all.sort_unstable();
        all.dedup();
        Some(all)
    }
}

/// Symbolic sets over all variables of a machine.
pub(super) struct Symbols<'p, 'a> {
    set: BddVariableSet,
    vars: Vec<BddVariable>,
    pub(super) purse: &'p Purse<'a>,
}

impl<'p, 'a> Symbols<'p, 'a> {
    /// `None` when there are more variables than can be numbered.
    pub(super) fn new(vars: usize, purse: &'p Purse<'a>) -> Option<Self> {
        let set = BddVariableSet::new_anonymous(u16::try_from(vars).ok().filter(|&vars| vars < u16::MAX - 1)?);
        let vars = set.variables();
        Some(Self { set, vars, purse })
    }

    fn two(&self, a: &Bdd, b: &Bdd, op: fn(Option<bool>, Option<bool>) -> Option<bool>) -> Option<Bdd> {
        self.purse.pay(a.size() + b.size())?;
        Bdd::binary_op_with_limit(self.purse.budget.most_nodes, a, b, op)
    }

    /// Whatever these variables are.
    pub(super) fn without(&self, set: &Bdd, vars: impl Iterator<Item = usize>) -> Option<Bdd> {
        self.purse.pay(set.size())?;
        let vars: Vec<BddVariable> = vars.filter_map(|var| self.vars.get(var).copied()).collect();
        Some(set.exists(&vars))
    }

    /// The set with a variable put to a value, and free again.
    pub(super) fn given(&self, set: &Bdd, var: usize, value: bool) -> Option<Bdd> {
        self.purse.pay(set.size())?;
        Some(set.var_restrict(*self.vars.get(var)?, value))
    }

    /// How many conditions, over all variables.
    pub(super) fn count(set: &Bdd) -> f64 {
        set.cardinality()
    }

    /// Its paths as cubes.
    pub(super) fn cubes(set: &Bdd) -> impl Iterator<Item = Vec<(usize, bool)>> {
        let of = |clause: biodivine_lib_bdd::BddPartialValuation| {
            clause.to_values().into_iter().map(|(var, value)| (var.to_index(), value)).collect()
        };
        set.sat_clauses().map(of).collect::<Vec<_>>().into_iter()
    }
}

impl Sets for Symbols<'_, '_> {
    type Set = Bdd;

    fn constant(&self, all: bool) -> Bdd {
        if all { self.set.mk_true() } else { self.set.mk_false() }
    }

    fn lit(&self, var: usize, value: bool) -> Option<Bdd> {
        Some(self.set.mk_literal(*self.vars.get(var)?, value))
    }

    fn and(&self, a: &Bdd, b: &Bdd) -> Option<Bdd> {
        self.two(a, b, op_function::and)
    }

    fn or(&self, a: &Bdd, b: &Bdd) -> Option<Bdd> {
        self.two(a, b, op_function::or)
    }

    fn and_not(&self, a: &Bdd, b: &Bdd) -> Option<Bdd> {
        self.two(a, b, op_function::and_not)
    }

    fn is_empty(&self, set: &Bdd) -> bool {
        set.is_false()
    }

    fn pick(&self, set: &Bdd) -> Option<Vec<(usize, bool)>> {
        let clause = set.most_free_clause()?;
        Some(clause.to_values().into_iter().map(|(var, value)| (var.to_index(), value)).collect())
    }

    fn shadows(&self, set: &Bdd, vars: &[usize]) -> Option<Vec<Vec<(usize, bool)>>> {
        let others = (0..self.vars.len()).filter(|var| !vars.contains(var));
        let shadow = self.without(set, others)?;
        (shadow.size() < 2_000).then(|| Self::cubes(&shadow).collect())
    }
}
