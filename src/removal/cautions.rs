//! What is said beside every verdict and at the head of every plan, in signal words.

use super::model::Model;

/// Beside every verdict.
pub(super) fn beside(model: &Model<'_>) -> Vec<String> {
    let mut all = vec![
        "WARNING: a verdict speaks of the record, not of the machine. Verify absence of voltage on each conductor before it is touched.".to_owned(),
        "NOTICE: the record does not show screens, signal lines, spare cores that are wanted, or the way a fault current takes. Local codes, the maker's instructions and a licensed person decide.".to_owned(),
    ];
    if model.contradicts {
        all.push("CAUTION: the constraints of the record contradict one another; they were left out, and every combination counts.".to_owned());
    }
    if !model.wild.is_empty() {
        all.push("CAUTION: ends of wires go out of sight with nothing said of where they may be. Until they are found no other wire with both ends landed is called dead.".to_owned());
    }
    all
}
