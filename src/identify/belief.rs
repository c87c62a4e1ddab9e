//! Weights of hypotheses, as logarithms.

/// Hypotheses with their weights.
#[derive(Debug, Clone, PartialEq)]
pub struct Belief {
    logs: Vec<f64>,
}

impl Belief {
    /// Hypotheses of these weights before any reading; only ratios count. A weight of 0 is ruled out for good.
    pub fn of(weights: impl IntoIterator<Item = f64>) -> Self {
        Self { logs: weights.into_iter().map(f64::ln).collect() }
    }

    /// Weighs each hypothesis by how likely it makes what was read.
    pub fn weigh(&mut self, likelihoods: &[f64]) {
        for (log, likelihood) in self.logs.iter_mut().zip(likelihoods) {
            *log += likelihood.ln();
        }
    }

    /// The odds of each hypothesis, together 1. All the same where nothing is possible.
    pub fn odds(&self) -> Vec<f64> {
        let most = self.logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if !most.is_finite() {
            let each = 1.0 / self.logs.len().max(1) as f64;
            return vec![each; self.logs.len()];
        }
        let weights: Vec<f64> = self.logs.iter().map(|log| (log - most).exp()).collect();
        let sum: f64 = weights.iter().sum();
        weights.into_iter().map(|weight| weight / sum).collect()
    }
}

/// What is not known yet, in bits.
pub fn entropy_bits(odds: &[f64]) -> f64 {
    odds.iter().filter(|odds| **odds > 0.0).map(|odds| -odds * odds.log2()).sum()
}

/// Odds as a person says them.
pub fn in_words(odds: f64) -> &'static str {
    match odds {
        odds if odds >= 0.99 => "as good as sure",
        odds if odds >= 0.9 => "very likely",
        odds if odds >= 0.6 => "likely",
        odds if odds >= 0.4 => "as likely as not",
        odds if odds >= 0.1 => "possible",
        odds if odds >= 0.01 => "unlikely",
        _ => "hardly",
    }
}
